"""What a crew asks of evenness, on every field of the two examples that have trays."""

from __future__ import annotations

import functools
import math
from dataclasses import replace

import pytest
from made_fields import rectangle
from made_folders import EXAMPLES

from duskline.answers.evenness import EvennessAnswer, LeverKey, evenness_answer
from duskline.core.errors import DusklineError
from duskline.core.evenness import ripples
from duskline.core.farm import Farm
from duskline.core.trays import Way
from duskline.exchange.farmfolder import read_farm
from duskline.words.evenness import (
    evenness_headline,
    lever_table,
    lines,
    map_sentences,
    table_notes,
)

NAMES = ("rye-after-soybeans", "oats-and-radish")
FARMS = {name: read_farm(EXAMPLES / name) for name in NAMES}
RYE = FARMS["rye-after-soybeans"]
EVERY_FIELD = [(name, field.name) for name, farm in FARMS.items() for field in farm.fields]
ANGLES = (
    LeverKey.ANGLE_0,
    LeverKey.ANGLE_5,
    LeverKey.ANGLE_10,
    LeverKey.ANGLE_20,
    LeverKey.ANGLE_30,
)
POINT = 0.01


@functools.cache
def answered(example: str, name: str) -> EvennessAnswer:
    """Return the answer of a field as its example has it, worked out once."""
    return evenness_answer(FARMS[example], name)


@pytest.mark.parametrize(("example", "name"), EVERY_FIELD)
def test_every_field_gets_one_sentence_and_a_table(example: str, name: str) -> None:
    """No field is refused; the present way stands on top and is its own measure."""
    answer, system = answered(example, name), FARMS[example].system
    assert evenness_headline(answer, system)
    assert len(lever_table(answer, system)) == 2 + len(answer.levers)
    present = answer.present
    assert present.key is LeverKey.PRESENT
    assert present.extra_s == present.area_lost_m2 == 0.0
    assert len({row.key for row in answer.levers}) == len(answer.levers) == len(LeverKey)


@pytest.mark.parametrize(("example", "name"), EVERY_FIELD)
def test_does_the_slight_angle_blend_heavy_and_thin_strips(example: str, name: str) -> None:
    """It does not: under a fifth of a point from along the passes to 30 degrees, on any field."""
    answer = answered(example, name)
    for key in ANGLES:
        assert abs(answer.row(key).cv - answer.present.cv) < 0.2 * POINT
        assert answer.row(key).verdict == "equal"
    assert answer.advice.key not in ANGLES
    assert answer.angle is not None
    # What it does: ridges under about a metre, and skips off one strip on the way.
    assert 0.3 < answer.angle.eased_m < 1.0
    assert answer.angle.row_kept < answer.angle.row_kept_along - POINT
    assert answer.angle.bands_crossed > 1.0


@pytest.mark.parametrize(("example", "name"), EVERY_FIELD)
def test_is_the_field_really_as_the_table_says(example: str, name: str) -> None:
    """Driven out with both machines straying; a last pass that laps makes a heavy strip more.

    Between rows driven the same way the ground is that of driving round and round; a plan that
    does so by halves has the two mixed.
    """
    answer = answered(example, name)
    drawn, width_m = answer.map, answer.driving_width_m
    assert drawn is not None
    opposite = answer.opposite_fraction
    alike = ripples(answer.ruling.pattern, driving_width_m=width_m, way=Way.ROUND_AND_ROUND)
    expected = math.sqrt(opposite * answer.before_cv**2 + (1.0 - opposite) * alike.cv_fraction**2)
    assert drawn.before_cv > expected - 0.5 * POINT
    if abs(drawn.density.mean_before - 1.0) < 0.004:
        assert drawn.before_cv == pytest.approx(expected, abs=0.7 * POINT)
    # Covering takes next to nothing away, and the edges of the tool give a little back.
    assert -0.1 * POINT < drawn.after_cv - drawn.before_cv < 0.4 * POINT
    assert drawn.below_half_fraction == pytest.approx(
        answer.present.below_half_fraction, abs=0.1 * POINT
    )
    # Judged without the headland, and still most of the field.
    assert 0.5 * answer.plan.outline.area_m2 < drawn.density.judged_m2
    assert drawn.density.judged_m2 < answer.plan.outline.area_m2


def test_is_the_last_pass_that_laps_told() -> None:
    """Four percent more seed than planned in the small field, and nothing said in the large one."""
    small, large = (answered("rye-after-soybeans", name).map for name in ("A9", "A1"))
    assert small is not None
    assert large is not None
    assert any("4 % more seed" in line for line in map_sentences(small, "us"))
    assert not any("more seed on" in line for line in map_sentences(large, "us"))


def test_does_the_table_say_where_it_does_not_speak_for_the_field() -> None:
    """A strip 20 m wide is rounds; the small A9, whose last pass laps, is told; A1 is not."""
    outline = rectangle(600.0, 20.0)
    field = replace(
        RYE.fields[0], outline=outline, drive_outline=None, area_m2=outline.area_m2, gates_m=()
    )
    strip = evenness_answer(replace(RYE, fields=(field,)), field.name)
    assert "rounds" in strip.not_straight
    assert strip.map is not None
    assert strip.map.between_headlands_fraction < 0.1
    small, large = (answered("rye-after-soybeans", name) for name in ("A9", "A1"))
    assert small.not_straight == ("uneven",)
    assert small.map is not None
    assert small.map.after_cv - small.present.cv_high >= small.limits.gain
    assert evenness_headline(small, "us").startswith("In straight passes: ")
    assert large.not_straight == ()


def test_do_finer_cells_change_the_answer() -> None:
    """Halving the cells twice moves plots of a metre by less than 0.3 points, as the page says."""
    found = [evenness_answer(RYE, "A9", cell_m=cell_m).map for cell_m in (0.5, 0.25, 0.125)]
    cvs = [one.after_cv for one in found if one is not None]
    assert len(cvs) == 3
    assert max(cvs) - min(cvs) < 0.3 * POINT


def test_what_would_help_a_spreader_that_leans() -> None:
    """Setting it straight beats spreading twice at half the rate, and costs nothing."""
    answer = answered("rye-after-soybeans", "A1")
    centre, twice = answer.row(LeverKey.CENTRE), answer.row(LeverKey.HALF_RATE_TWICE)
    assert answer.advice.key is LeverKey.CENTRE
    assert centre.cv < twice.cv < answer.present.cv
    assert centre.extra_s == 0.0
    assert twice.extra_s > 3600.0


def test_is_covering_twice_worth_it() -> None:
    """It takes hours and burns fuel, and the stripes stay: called equal."""
    answer = answered("rye-after-soybeans", "A1")
    row = answer.row(LeverKey.TWO_COVERS)
    assert row.verdict == "equal"
    assert abs(row.cv - answer.present.cv) < 0.1 * POINT
    assert row.extra_s > 4 * 3600.0
    assert row.area_lost_m2 > 0.5 * answer.field.area_m2


def test_which_seed_of_the_mix_sets_the_width() -> None:
    """The radish flies least far: what it asks of the width is what the mix gets."""
    answer = answered("oats-and-radish", "B1")
    assert answer.ruled_by == "Radish"
    text = " ".join(lines(answer, "metric"))
    assert "Radish lies least evenly of the mix and rules" in text
    assert answer.row(LeverKey.BEST_WIDTH).driving_width_m == pytest.approx(7.0)
    assert answer.row(LeverKey.BEST_WIDTH).extra_s > 0.0


def test_are_equal_levers_called_equal() -> None:
    """No lever is better whose range still holds the present evenness, and none is named."""
    for example, name in EVERY_FIELD:
        answer = answered(example, name)
        for row in answer.levers:
            if row.cv_low <= answer.present.cv <= row.cv_high:
                gained = answer.present.below_half_fraction - row.below_half_fraction
                assert row.verdict == "equal" or abs(gained) >= answer.limits.thin_gain
        if answer.advice.key is not None:
            assert answer.row(answer.advice.key).verdict == "better"


def test_is_the_rule_of_the_advice_told() -> None:
    """Points to gain, thin ground, and whose judgement that is stand under the table."""
    notes = " ".join(table_notes(answered("rye-after-soybeans", "A1"), "us"))
    assert "gains 3 points" in notes
    assert "1 % of the ground" in notes
    assert "our judgement" in notes


def with_defaults(farm: Farm, **rows: float) -> Farm:
    """Return the farm with some of its defaults replaced."""
    table = {
        key: replace(given, value=rows[key], low=rows[key], high=rows[key])
        if key in rows
        else given
        for key, given in farm.defaults.items()
    }
    return replace(farm, defaults=table)


def test_a_driver_who_strays_more_leaves_more_thin_ground() -> None:
    """With little overlap and an edge that wanders half a metre, overlap becomes the lever."""
    first, *others = RYE.cultivators
    machine = replace(first, overlap_m=0.1, width_m=6.0)
    wandering = with_defaults(replace(RYE, cultivators=(machine, *others)), edge_sd_by_eye=0.5)
    steady = with_defaults(replace(RYE, cultivators=(machine, *others)), edge_sd_by_eye=0.15)
    poor, good = evenness_answer(wandering, "A3"), evenness_answer(steady, "A3")
    assert poor.present.below_half_fraction > good.present.below_half_fraction
    assert poor.row(LeverKey.MORE_OVERLAP).verdict == "better"
    assert poor.map is not None
    assert good.map is not None
    assert poor.map.missed_fraction > good.map.missed_fraction
    # The closed form of the table and the field driven out speak of the same strips.
    assert poor.map.missed_fraction == pytest.approx(poor.present.missed_fraction, rel=0.35)


def test_every_assumption_of_the_table_stands_in_the_defaults_with_its_source() -> None:
    """Ours are marked as ours; where a source gave the figure it is named."""
    for key in (
        "lever_gain",
        "lever_thin_gain",
        "tray_repeat",
        "slower_by_eye",
        "unevenness_loss",
        "unevenness_curve",
        "unevenness_plateau",
        "displacement_lateral",
    ):
        given = RYE.defaults[key]
        assert "our judgement" in given.source
        assert given.low is not None
        assert given.high is not None
        assert given.low <= given.value <= given.high
    assert "our judgement" not in RYE.defaults["displacement_along"].source
    shown = {
        figure.name
        for step in answered("rye-after-soybeans", "A1").working
        for figure in step.inputs
    }
    assert shown >= {
        "scatter along the covering travel",
        "scatter across it",
        "range of tray runs",
        "least gain",
        "even enough at",
        "live seed, worked in, that becomes a plant",
        "live seed left bare that becomes a plant",
    }


def test_a_field_too_small_for_the_machines_is_refused_in_words() -> None:
    """A patch narrower than the spreader has no passes to be even."""
    patch = next(one for one in RYE.fields if one.name == "A9")
    assert patch.outline is not None
    shrunk = replace(patch.outline, exterior_m=patch.outline.exterior_m * 0.02)
    farm = replace(RYE, fields=(replace(patch, outline=shrunk, drive_outline=None),))
    assert math.isclose(shrunk.area_m2, patch.outline.area_m2 * 4e-4, rel_tol=1e-6)
    with pytest.raises(DusklineError):
        evenness_answer(farm, "A9")

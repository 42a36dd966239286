"""How wide may we drive: the whole answer on tests invented for it."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import Any

import pytest

from duskline.answers.trays import (
    CONVENTION,
    SpreadingWork,
    TrayAnswer,
    answer_trays,
    mixed_lots,
)
from duskline.core.errors import OutOfRange
from duskline.core.trays import TrayTest, WidthInterval

FOOT_M = 0.3048
HECTARES_PER_HOUR = 3600 / 1e4
RYE = (0, 2, 5, 9, 13, 16, 17, 18, 17, 17, 15, 12, 8, 4, 2)
OATS = (0, 1, 3, 6, 10, 14, 16, 17, 17, 18, 17, 16, 15, 14, 11, 7, 4, 1, 0)
RADISH = (0, 0, 0, 1, 4, 8, 12, 15, 17, 18, 17, 15, 12, 8, 4, 1, 0, 0, 0)
# A flat pattern with steep shoulders: even at 18 to 20 m, and again from 10 m down.
FLAT = (0, 0, 2, 3, 5, 7, 8, 10, 10, 9, 8, 8, 8, 7, 8, 8, 8, 9, 10, 10, 8, 7, 5, 3, 2, 0, 0)
WORK = SpreadingWork(speed_mps=12 / 3.6, efficiency_fraction=0.75)


def caught(*runs: tuple[float, ...], spacing_m: float = 1.0, name: str = "rye") -> TrayTest:
    """Trays about a line in the middle, grams."""
    middle = (len(runs[0]) - 1) / 2
    return TrayTest(
        name=name,
        positions_m=tuple((index - middle) * spacing_m for index in range(len(runs[0]))),
        masses_kg=tuple(tuple(1e-3 * grams for grams in run) for run in runs),
    )


def answered(test: TrayTest, **changed: Any) -> TrayAnswer:
    """The answer with limits of 15 and 25 %, from half the throw on."""
    given: dict[str, Any] = {
        "good_limit_fraction": 0.15,
        "usable_limit_fraction": 0.25,
        "narrowest_share_of_throw_fraction": 0.5,
        "edge_share_limit_fraction": 0.05,
        "limit_source": "EN 13739",
    }
    return answer_trays(test, **(given | changed))


def percent(answer: TrayAnswer, width_m: float) -> tuple[float, float]:
    """Evenness at a width, back and forth and round and round."""
    (row,) = [row for row in answer.widths if abs(row.driving_width_m - width_m) < 1e-6]
    return 100 * row.cv_back_and_forth, 100 * row.cv_round


def test_rye_is_good_to_45_feet() -> None:
    """40 ft 11 %, 45 ft 11 %, 50 ft 15.5 %, 60 ft 34 %; round 6.8, 2.4, 10.9, 33 %.

    So 45 ft at most back and forth; round and round is the other way of driving and takes 50.
    """
    answer = answered(caught(RYE, RYE, spacing_m=5 * FOOT_M))
    for feet, forth, about in ((40, 11, 6.8), (45, 11, 2.4), (50, 15.5, 10.9), (60, 34, 33)):
        found = percent(answer, feet * FOOT_M)
        assert found[0] == pytest.approx(forth, abs=0.05 if forth == 15.5 else 0.5)
        assert found[1] == pytest.approx(about, abs=0.5 if about == 33 else 0.05)
    assert answer.good_to_back_and_forth_m == pytest.approx(45 * FOOT_M)
    assert answer.good_to_round_m == pytest.approx(50 * FOOT_M)
    assert answer.usable_to_back_and_forth_m == pytest.approx(55 * FOOT_M)
    assert not any(row.interpolated for row in answer.widths)


def test_the_row_of_the_answer_has_the_names_the_machine_reads() -> None:
    """The JSON keys are the field names."""
    answer = answered(caught(RYE))
    assert list(asdict(answer.widths[0])) == [
        "driving_width_m", "cv_back_and_forth", "cv_round", "interpolated",
    ]  # fmt: skip
    assert answer.convention == CONVENTION
    assert [row.driving_width_m for row in answer.widths] == pytest.approx(range(1, 17))


def test_oats_and_radish_go_out_at_nine_metres_and_it_costs_a_quarter() -> None:
    """Oats 12 m, radish 9 m: one trip at 9 m, 8.1 and not 10.8 ha/h; two trips would do 4.63.

    By hand: 1 / (1 / 10.8 + 1 / 8.1) = 4.63.
    """
    oats, radish = answered(caught(OATS)), answered(caught(RADISH))
    assert oats.good_to_back_and_forth_m is not None
    assert radish.good_to_back_and_forth_m is not None
    mixed = mixed_lots(
        {"oats": oats.good_to_back_and_forth_m, "radish": radish.good_to_back_and_forth_m},
        work=WORK,
    )
    assert mixed.driving_width_m == pytest.approx(9.0)
    assert mixed.ruled_by == ("radish",)
    assert mixed.one_trip is not None
    assert mixed.one_trip.rate_m2_per_s * HECTARES_PER_HOUR == pytest.approx(8.10)
    assert mixed.one_trip.share_fraction == pytest.approx(0.75)
    alone = {name: cost.rate_m2_per_s * HECTARES_PER_HOUR for name, cost in mixed.each_alone}
    assert alone == pytest.approx({"oats": 10.8, "radish": 8.1})
    assert mixed.separate_trips_m2_per_s is not None
    assert mixed.separate_trips_m2_per_s * HECTARES_PER_HOUR == pytest.approx(4.63, abs=0.005)


def test_a_mixture_without_work_still_has_its_width() -> None:
    """And a mixture of nothing has none."""
    mixed = mixed_lots({"oats": 9.0, "peas": 9.0, "rye": 12.0})
    assert mixed.ruled_by == ("oats", "peas")
    assert mixed.one_trip is None
    assert mixed.separate_trips_m2_per_s is None
    with pytest.raises(OutOfRange):
        mixed_lots({})


def test_what_each_width_spreads_with_loading() -> None:
    """20.5 ha loads and 25 min: 9 m does 6.95 ha/h, 12 m does 8.84, so 79 % and not 75.

    By hand: 20.5 / (20.5 / 10.8 + 25 / 60) = 8.857; 6.955 / 8.857 = 0.785.
    """
    work = replace(WORK, area_per_load_m2=20.5e4, refill_s=1500)
    answer = answered(caught(OATS), work=work)
    costs = {round(cost.driving_width_m): cost for cost in answer.costs}
    assert answer.cost_reference_m == pytest.approx(12.0)
    assert costs[9].rate_m2_per_s * HECTARES_PER_HOUR == pytest.approx(6.955, abs=0.0005)
    assert costs[9].moving_rate_m2_per_s * HECTARES_PER_HOUR == pytest.approx(8.10)
    assert costs[9].share_fraction == pytest.approx(0.785, abs=0.0005)
    assert costs[12].share_fraction == 1.0
    assert answered(caught(OATS)).costs == ()


def test_a_flat_pattern_is_driven_at_its_proper_width_not_at_half_of_it() -> None:
    """Good from 1 to 10 m and from 18 to 20 m: the sensible interval decides, the gap is said."""
    answer = answered(caught(FLAT))
    assert answer.back_and_forth.good == (
        WidthInterval(narrowest_m=1.0, widest_m=10.0),
        WidthInterval(narrowest_m=18.0, widest_m=20.0),
    )
    assert answer.good_to_back_and_forth_m == pytest.approx(20.0)
    assert answer.back_and_forth.is_broken_below
    assert any("Narrower is not always more even" in note for note in answer.notes)
    assert answer.back_and_forth.islands == ()


def test_an_island_beyond_the_good_widths_is_said_and_not_planned_on() -> None:
    """The same trays for someone who drives as narrow as 8 m: 10 m is good, 18 to 20 an island."""
    answer = answered(
        caught(FLAT), narrowest_share_of_throw_fraction=0.35, asked_widths_m=(9, 14, 19, 22)
    )
    assert answer.good_to_back_and_forth_m == pytest.approx(10.0)
    assert answer.back_and_forth.islands == (WidthInterval(narrowest_m=18.0, widest_m=20.0),)
    assert any("a width between fails" in note for note in answer.notes)
    verdicts = {asked.driving_width_m: asked.back_and_forth for asked in answer.asked}
    assert verdicts[9] == "good"
    assert verdicts[14] == "too uneven"
    assert verdicts[19] == "island"
    assert verdicts[22] == "too uneven"


def test_a_width_asked_between_trays_is_answered_and_marked() -> None:
    """42 ft of rye stands between 40 and 45 ft; 48 lies above what is good, so only usable."""
    asked = (42 * FOOT_M, 48 * FOOT_M, 60 * FOOT_M)
    answer = answered(caught(RYE, spacing_m=5 * FOOT_M), asked_widths_m=asked)
    marked = [row for row in answer.widths if row.interpolated]
    assert [row.driving_width_m for row in marked] == pytest.approx(asked[:2])
    assert [each.back_and_forth for each in answer.asked] == ["good", "usable", "too uneven"]
    assert 100 * marked[0].cv_back_and_forth == pytest.approx(11.2, abs=0.5)


def test_no_width_is_good_when_one_side_is_blocked() -> None:
    """All but a trickle to the right: bare strips back and forth at any sensible width."""
    blocked = (1, 0, 0, 0, 0, 0, 0, 0, 8, 16, 24, 32, 24, 12, 0)
    answer = answered(caught(blocked))
    assert answer.good_to_back_and_forth_m is None
    assert answer.usable_to_back_and_forth_m is None
    assert answer.thinnest_fraction is None
    assert answer.back_and_forth.islands == ()
    assert any("mend the spreader" in note for note in answer.notes)
    assert answer.skew.right_fraction > 0.95


def test_counting_noise_is_set_beside_and_not_in_place() -> None:
    """Rye in 5 ft steps, 45 ft: mean catch 155 / 9 = 17.2 g of 24 mg seed, 718 seeds a run.

    Two runs: 1,435 seeds, floor 2.64 %. 10.87 % as seen leaves 10.55 %. One run is enough for
    5 %, since 400 / 718 is below one.
    """
    test = caught(RYE, RYE, spacing_m=5 * FOOT_M)
    answer = answered(test, kernel_mass_kg=24e-6, counting_floor_goal_fraction=0.05)
    (row,) = [row for row in answer.noise if abs(row.driving_width_m - 45 * FOOT_M) < 1e-6]
    assert row.seeds_per_tray == pytest.approx(2 * 155 / 9 / 0.024)
    assert row.floor == pytest.approx(0.0264, abs=0.00005)
    assert row.cv_back_and_forth_less_chance == pytest.approx(0.1055, abs=0.00005)
    assert row.passes_needed == 1
    assert percent(answer, 45 * FOOT_M)[0] == pytest.approx(10.87, abs=0.005)
    assert answered(test).noise == ()


def test_counted_seeds_need_no_kernel_mass() -> None:
    """155 seeds in the row at 9 spacings: 17.2 a tray, floor 24.1 %, all of it chance.

    For 5 %: 400 / 17.2 = 23.2, so 24 runs.
    """
    test = caught(RYE)
    counted = replace(test, masses_kg=(), seeds_count=(tuple(float(n) for n in RYE),))
    answer = answered(counted, counting_floor_goal_fraction=0.05)
    row = answer.noise[8]
    assert row.driving_width_m == pytest.approx(9.0)
    assert row.seeds_per_tray == pytest.approx(155 / 9)
    assert row.floor == pytest.approx(0.241, abs=0.0005)
    assert row.cv_back_and_forth_less_chance == 0.0
    assert row.passes_needed == 24


def test_a_lean_is_measured_and_moving_the_line_pays_back_and_forth() -> None:
    """A symmetric pattern seen 1 m right of the line: centred, it is what it was."""
    true = (0, 2, 6, 11, 15, 17, 18, 17, 15, 11, 6, 2, 0)
    test = caught(true)
    leaning = replace(test, positions_m=tuple(place + 1.0 for place in test.positions_m))
    answer = answered(leaning)
    assert answer.skew.offset_m == pytest.approx(1.0)
    for row, straight in zip(answer.centring, answered(test).widths, strict=True):
        assert row.cv_centred == pytest.approx(straight.cv_back_and_forth, abs=1e-6)
    (at_eight,) = [row for row in answer.centring if row.driving_width_m == 8.0]
    assert at_eight.cv_now > at_eight.cv_centred + 0.05
    assert any("both directions" in note for note in answer.notes)


def test_runs_are_shown_one_by_one() -> None:
    """Two runs that disagree: the spread of their totals and the width each would give."""
    answer = answered(caught(OATS, RADISH))
    assert [run.good_to_back_and_forth_m for run in answer.runs] == pytest.approx([12.0, 9.0])
    assert [run.total for run in answer.runs] == pytest.approx([0.187, 0.132])
    assert answer.run_spread_fraction == pytest.approx(0.0389 / 0.1595, abs=0.0005)
    assert not any("One run only" in note for note in answer.notes)
    assert any("One run only" in note for note in answered(caught(OATS)).notes)


def test_the_thinnest_and_heaviest_strip_at_the_good_width() -> None:
    """Oats at 12 m back and forth: between 0.8 and 1.2 of the mean, and on both sides of it."""
    answer = answered(caught(OATS))
    assert answer.thinnest_fraction is not None
    assert answer.heaviest_fraction is not None
    assert 0.7 < answer.thinnest_fraction < 1.0 < answer.heaviest_fraction < 1.3


def test_a_row_too_short_or_a_line_assumed_is_said() -> None:
    """End trays with seed in them, the line taken as the middle, the line off the trays."""
    short = answered(caught(OATS[4:15]))
    assert any("end tray still caught seed" in note for note in short.notes)
    assert not any("end tray" in note for note in answered(caught(OATS)).notes)
    assumed = answered(replace(caught(OATS), path_assumed_in_middle=True))
    assert any("middle of the row" in note for note in assumed.notes)
    test = caught(OATS)
    off = answered(replace(test, positions_m=tuple(place + 0.3 for place in test.positions_m)))
    assert any("read between trays" in note for note in off.notes)
    assert all(row.interpolated for row in off.widths)


def test_the_working_holds_both_conventions_and_the_rules_of_thumb() -> None:
    """Both n and n - 1 stand in the working: 14.7 % and 15.2 % for radish at 9 m."""
    answer = answered(caught(RADISH))
    figures = {step.result.name: step.result.value for step in reversed(answer.working)}
    assert figures["CV (n)"] == pytest.approx(0.147, abs=0.0005)
    assert figures["CV (n - 1)"] == pytest.approx(0.152, abs=0.0005)
    assert figures["good to"] == pytest.approx(9.0)
    sources = {step.result.source for step in answer.working}
    assert any("Ohio" in source for source in sources)
    assert any("Alberta" in source for source in sources)
    assert any(figure.source == "EN 13739" for step in answer.working for figure in step.inputs)


def test_the_answer_keeps_to_words_people_use() -> None:
    """CV stands in the working only; the notes say evenness, width, drive, wind."""
    answer = answered(caught(FLAT), narrowest_share_of_throw_fraction=0.35)
    said = " ".join(answer.notes)
    for word in ("CV", "coefficient", "optim", "algorithm", "polygon"):
        assert word not in said


@pytest.mark.parametrize(
    "changed",
    [
        {"good_limit_fraction": 0.3},
        {"good_limit_fraction": 0.0},
        {"asked_widths_m": (0.5,)},
        {"kernel_mass_kg": 0.0},
        {"work": SpreadingWork(speed_mps=0.0, efficiency_fraction=0.7)},
    ],
)
def test_impossible_questions_are_refused(changed: dict[str, Any]) -> None:
    """Limits the wrong way round, a width finer than the trays, weightless seed, no speed."""
    with pytest.raises(OutOfRange):
        answered(caught(OATS), **changed)

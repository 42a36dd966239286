"""Evenness in words: what a crew reads of it, without a word it would have to look up."""

from __future__ import annotations

import functools
import math
import re
from dataclasses import replace

import pytest
from made_folders import EXAMPLES

from duskline.answers.evenness import (
    Advice,
    EvennessAnswer,
    LeverKey,
    evenness_answer,
)
from duskline.exchange.farmfolder import read_farm
from duskline.units import System
from duskline.words.evenness import (
    advice_sentence,
    angle_lines,
    evenness_headline,
    evenness_working_lines,
    lever_name,
    lever_table,
    lines,
    loss_sentence,
    map_sentences,
    points_text,
    rests_on,
    share_text,
    table_notes,
)

RYE = read_farm(EXAMPLES / "rye-after-soybeans")
OATS = read_farm(EXAMPLES / "oats-and-radish")
ASKED = {"A1": RYE, "B1": OATS}
NEVER = re.compile(
    r"optimi[sz]|polygon|algorithm|\bsync|dashboard|coefficient|variation|\bCV\b|standard dev",
    re.IGNORECASE,
)
METRIC = re.compile(r"\d (m|cm|mm|km/h|ha|L)\b|per m2|\bhectares?\b", re.IGNORECASE)


@functools.cache
def answered(field: str) -> EvennessAnswer:
    """Return the answer of a field of the examples, worked out once."""
    return evenness_answer(ASKED[field], field)


def everything(answer: EvennessAnswer, system: System) -> list[str]:
    """Return every line a reader sees but the working."""
    assert answer.angle is not None
    assert answer.map is not None
    return [
        evenness_headline(answer, system),
        *lines(answer, system),
        *lever_table(answer, system),
        *table_notes(answer, system),
        *angle_lines(answer.angle, system),
        *map_sentences(answer.map, system),
        loss_sentence(answer.loss),
        *(rests_on(row.key) for row in answer.levers),
    ]


@pytest.mark.parametrize("field", ASKED)
def test_nobody_has_to_look_up_a_word(field: str) -> None:
    """No statistics by name and none of the words that users never meet."""
    text = "\n".join(everything(answered(field), ASKED[field].system))
    assert NEVER.search(text) is None
    assert "evenness" in text
    assert "thinnest tenth" in text
    assert "under half the wanted stand" in text.lower()


def test_each_reader_sees_one_system_of_units() -> None:
    """No metre for the Iowan; no foot, acre or inch for the New Zealander."""
    ours = "\n".join(everything(answered("A1"), "us"))
    theirs = "\n".join(everything(answered("B1"), "metric"))
    assert METRIC.search(ours) is None
    assert re.search(r"\d (ft|in|mph)\b|per ft2|acre", theirs, re.IGNORECASE) is None
    assert re.search(r"\d ft\b", ours)
    assert re.search(r"\d m\b", theirs)


@pytest.mark.parametrize("field", ASKED)
def test_the_table_fits_the_screen_and_holds_every_lever(field: str) -> None:
    """Eighty columns, all rows alike wide, minutes to five, ranges round their figure."""
    answer, system = answered(field), ASKED[field].system
    table = lever_table(answer, system)
    assert len(table) == 2 + len(answer.levers)
    assert {len(line) for line in table} == {80}
    for row, line in zip(answer.levers, table[2:], strict=True):
        assert line.strip().startswith(lever_name(answer, row, system))
        found = re.search(r"(\d+) % \((\d+)-(\d+)\) ([ +=-]) ", line)
        assert found is not None
        cv, low, high = (int(found[at]) for at in (1, 2, 3))
        assert low <= cv <= high
        assert cv == round(row.cv * 100)
        mark = {"better": "+", "equal": "=", "worse": "-"}[row.verdict]
        assert found[4] == (" " if row.key is LeverKey.PRESENT else mark)
        minutes = int(line.split("%")[-1].split()[0])
        assert minutes % 5 == 0
        assert abs(minutes - row.extra_minutes) <= 2.5 + 1e-9


def test_a_single_seed_is_told_in_plants_and_a_mix_in_shares() -> None:
    """Plants of two seeds cannot stand in one column."""
    assert "per ft2" in lever_table(answered("A1"), "us")[1]
    mix = lever_table(answered("B1"), "metric")
    assert "per m2" not in mix[1]
    assert "82 %" in mix[2]


def test_the_fifteen_percent_line_is_named_for_what_it_is() -> None:
    """A limit of spreading tests, spelt as the reader does; for a cover crop the plants count."""
    for field, farm in ASKED.items():
        text = " ".join(lines(answered(field), farm.system))
        spelt = "fertilizer" if farm.system == "us" else "fertiliser"
        assert f"15 % is a limit of {spelt} and field tests" in text
        assert "The plants and the thin ground are what counts" in text


def test_the_advice_says_what_to_do_and_what_it_takes() -> None:
    """A free lever; one only if wanted; one worth its minutes; none at all."""
    answer = answered("A1")
    assert evenness_headline(answer, "us") == "Center the spreader"
    assert advice_sentence(answer, "us").startswith(
        "Center the spreader: that brings evenness from 11 % to 6 %, though the thinnest tenth "
        "hardly gains (15.5 per ft2 to 15.7 per ft2)"
    )
    assert advice_sentence(answer, "us").endswith("takes no time in the field.")
    mix = answered("B1")
    assert evenness_headline(mix, "metric") == "Present way is even enough"
    assert advice_sentence(mix, "metric") == (
        "Present way is even enough: the seed strays 14 % from its mean. "
        '"Drive 7 m instead" would bring evenness from 14 % to 7 %, for 25 min more in this field '
        "and about NZ$25; only if you want it."
    )
    pulled = replace(mix, advice=Advice(kind="pull", key=LeverKey.BEST_WIDTH))
    assert evenness_headline(pulled, "metric") == "Drive 7 m instead"
    assert "for 25 min more in this field and about NZ$25." in advice_sentence(pulled, "metric")
    none = replace(mix, advice=Advice(kind="none"))
    assert evenness_headline(none, "metric") == "Uneven, and no lever helps by much"
    assert "new tray test" in advice_sentence(none, "metric")
    even = replace(mix, advice=Advice(kind="even enough"))
    assert "no lever helps by more than could be told" in advice_sentence(even, "metric")


def test_a_lever_that_only_takes_missed_strips_away_says_so() -> None:
    """Where the evenness stays, the thin ground is what is gained."""
    answer = answered("A1")
    thin = tuple(
        replace(row, below_half_fraction=0.03 if row.key is LeverKey.PRESENT else 0.001)
        for row in answer.levers
    )
    poor = replace(answer, levers=thin, advice=Advice(kind="pull", key=LeverKey.MORE_OVERLAP))
    text = advice_sentence(poor, "us")
    assert "the ground under half the wanted stand from 3.0 % to 0.1 %" in text
    assert "Lap 4 ft in all" in text


def test_the_angle_is_told_with_what_it_does_not_do() -> None:
    """Ridges and skips it helps; the spreader's stripes it leaves, with both figures."""
    effect = answered("A1").angle
    assert effect is not None
    text = " ".join(angle_lines(effect, "us"))
    assert "What 5° does: it eases ridges and old rows up to 23 in apart" in text
    assert "Of ridges 30 in apart 58 % is left, 61 % without the angle" in text
    assert "crosses 5 spread passes" in text
    assert "What no angle does: even out stripes" in text
    assert "11.1 % as spread, 11.1 % covered along the passes, 11.1 % covered your way" in text
    along = " ".join(angle_lines(replace(effect, angle_rad=0.0), "metric"))
    assert "a missed strip lies in one stripe all the way" in along
    assert "76 cm" in along


def test_what_could_not_be_told_is_said() -> None:
    """No seed count, no trays for a part, no price, a plan not driven beside itself."""
    answer = answered("B1")
    ruling = replace(answer.ruling, plants=None, live_per_m2=None)
    bare = replace(
        answer,
        seedings=tuple(ruling if one.lot == ruling.lot else one for one in answer.seedings),
        without_trays=("Vetch",),
        not_priced=("fuel", "labour"),
    )
    text = " ".join([*lines(bare, "metric"), *table_notes(bare, "metric")])
    assert "Count the seeds in a small sample" in text
    assert "No tray test for Vetch" in text
    assert "Money leaves out fuel, your time: no price is given" in text
    assert "Not every pass of your plan is driven opposite" in text
    assert 'With "Drive 7 m instead", "Half rate, twice" it is Oats' in text


def test_a_row_in_which_evenness_and_plants_disagree_is_marked() -> None:
    """An exclamation mark in the table, and below it whom to trust."""
    answer = answered("A1")
    odd = replace(answer, levers=(answer.levers[0], replace(answer.levers[1], disagrees=True)))
    assert "15.5!" in lever_table(odd, "us")[3]
    assert any("trust the plants" in line for line in table_notes(odd, "us"))
    assert not any("trust the plants" in line for line in table_notes(answer, "us"))


def test_the_cost_is_never_a_yield() -> None:
    """Share of cover with its range, ours, and nothing of yield."""
    text = loss_sentence(answered("A1").loss)
    assert text.startswith("Unevenness takes about 0.6 % of the cover of an even stand (0.1 % to")
    assert "our judgement" in text
    assert "nothing of yield" in text


def test_the_map_says_what_laps_take_back_and_how_fine_it_is() -> None:
    """Plots, misses, thin ground; heaps along laps only where they show."""
    drawn = answered("A1").map
    assert drawn is not None
    found = map_sentences(drawn, "us")
    assert "in plots 3.3 ft square" in found[0]
    assert "less than 0.3 points" in found[0]
    # A1's heaps are smaller than what the size of the cells could have made of them.
    assert len(found) == 1
    heaped = replace(drawn, after_cv=drawn.before_cv + 0.01)
    assert "heap a little seed" in map_sentences(heaped, "us")[1]


def test_short_lengths_of_the_working_read_in_inches_or_centimetres() -> None:
    """A straying of 8 cm is no "0.1 m"; widths stay in feet and metres."""
    ours = "\n".join(evenness_working_lines(answered("A1").working, "us"))
    theirs = "\n".join(evenness_working_lines(answered("B1").working, "metric"))
    assert "how the spreader strays: 3.1 in (1.2 in to 5.9 in)" in ours
    assert "how the spreader strays: 8 cm (3 cm to 15 cm)" in theirs
    assert "driving width: 40.0 ft" in ours
    assert "driving width: 9.0 m" in theirs


def test_small_shares_are_not_rounded_to_nothing() -> None:
    """Next to none, a tenth of a percent, whole percents; an evenness in whole points."""
    assert share_text(0.0) == share_text(4e-4) == "next to none"
    assert share_text(0.004) == "0.4 %"
    assert share_text(0.126) == "13 %"
    assert points_text(0.1149) == "11 %"


def test_every_lever_has_a_name_and_says_what_it_rests_on() -> None:
    """All of them, in both tables; the angles share one reason."""
    for field, farm in ASKED.items():
        answer = answered(field)
        names = [lever_name(answer, row, farm.system) for row in answer.levers]
        assert len(set(names)) == len(names)
        assert all(len(name) <= 22 for name in names)
        assert all(rests_on(row.key).endswith(".") for row in answer.levers)
    assert rests_on(LeverKey.ANGLE_0) == rests_on(LeverKey.ANGLE_30) != rests_on(LeverKey.CENTRE)
    assert math.isclose(answered("A1").row(LeverKey.ANGLE_30).angle_rad or 0.0, math.pi / 6.0)


def test_a_field_that_straight_passes_do_not_speak_for_says_so_on_top() -> None:
    """Each reason in the headline and in the lines; the field driven out is told beside it."""
    answer = answered("A1")
    assert answer.not_straight == ()
    assert not any("reckoned for straight passes" in line for line in lines(answer, "us"))
    drawn = answer.map
    assert drawn is not None
    ragged = replace(
        answer,
        not_straight=("uneven", "missed"),
        map=replace(drawn, after_cv=0.25, missed_fraction=0.04),
    )
    assert evenness_headline(ragged, "us") == (
        "In straight passes: center the spreader. This field: 25 %, not 11 %"
    )
    text = " ".join(lines(ragged, "us"))
    assert "its evenness is 25 % and not 11 %; covering misses 4 % of the ground" in text
    rounds = replace(answer, not_straight=("rounds",), map=None)
    assert evenness_headline(rounds, "us").endswith("Rounds do most of this field")
    assert "rounds do most of this field" in " ".join(lines(rounds, "us"))
    missed = replace(ragged, not_straight=("missed",))
    assert evenness_headline(missed, "us").endswith("This field: 4 % missed")
    seed = replace(answer, not_straight=("seed",))
    assert evenness_headline(seed, "us").endswith("seed than planned")


def test_a_very_large_field_keeps_its_table_to_eighty_columns() -> None:
    """Five thousand acres: hours instead of minutes, thousands parted, columns still in line."""
    answer = answered("A1")
    huge = tuple(
        replace(
            row,
            extra_s=60.0 * row.extra_s,
            extra_fuel_m3=60.0 * row.extra_fuel_m3,
            extra_cost=None if row.extra_cost is None else 60.0 * row.extra_cost,
            area_lost_m2=60.0 * row.area_lost_m2,
        )
        for row in answer.levers
    )
    table = lever_table(replace(answer, levers=huge), "us")
    assert max(map(len, table)) <= 80
    assert len({len(line) for line in table}) == 1
    assert " h " in table[1]
    assert any("+19,9" in line or "+20,0" in line for line in table)
    assert all(len(line) == 80 for line in lever_table(answer, "us"))

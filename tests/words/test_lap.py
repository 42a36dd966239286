"""Overlap and covering angle in words."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest

from duskline.answers.lap import LapAnswer
from duskline.core.angle import Angle, AnglePrice, Counted, Joints, angle_price, near_whole_multiple
from duskline.core.lap import DayLap, FieldLap, Overlap, more_lap_in_a_day
from duskline.words.aim import lap_text
from duskline.words.lap import (
    advised_sentence,
    angle_sentences,
    joints_sentence,
    lap_headline,
    lap_state,
    minutes_text,
    more_lap_sentences,
    now_sentence,
    skip_sentence,
)

FOOT_M = 0.3048
ACRE_M2 = 4046.8564224
GALLON_M3 = 0.003785411784
DAY = more_lap_in_a_day(
    width_m=21 * FOOT_M,
    overlap_m=FOOT_M,
    more_m=FOOT_M,
    area_m2=160 * ACRE_M2,
    work_s=36_000.0,
    fuel_m3_per_m2=0.4 * GALLON_M3 / ACRE_M2,
    fuel_price_per_m3=4.0 / GALLON_M3,
    labour_price_per_s=20.0 / 3600.0,
)
BY_EYE = Overlap(low_m=0.15, best_m=0.25, high_m=0.45)
ANGLE = Angle(
    low_rad=math.radians(3.0),
    best_rad=math.radians(4.6),
    high_rad=math.radians(6.9),
    served_fraction=0.7,
    run_length_m=400.0,
)


@pytest.mark.parametrize(
    ("minutes", "words"),
    [(1.0, "under 5 min"), (7.6, "10 min"), (68.0, "1 h 10 min"), (-12, "10 min")],
)
def test_minutes_are_told_to_five(minutes: float, words: str) -> None:
    """Nobody knows a field to the minute."""
    assert minutes_text(60.0 * minutes) == words


def test_one_more_foot_costs_acres_or_half_an_hour_and_money() -> None:
    """21 ft tool, 1 ft lapped, one more: 8 of 160 ac, or 31.6 min, 3.4 gal and $24."""
    assert more_lap_sentences(DAY, more_m=FOOT_M, system="us") == [
        "One foot more overlap: 8.0 ac less covered today, or 30 min more for the same ground; "
        "3.4 gal more fuel; about $24 in all."
    ]


def test_a_metric_farm_reads_no_feet_and_no_gallons() -> None:
    """The same day in hectares, centimetres and litres."""
    text = " ".join(more_lap_sentences(DAY, more_m=0.3, system="metric", currency="NZD"))
    assert text.startswith("30 cm more overlap: 3.2 ha less")
    assert "13 L" in text
    assert "NZ$24" in text
    assert re.search(r"\b(ft|ac|gal|foot)\b", text) is None


def test_money_and_fuel_nobody_knows_are_not_mentioned() -> None:
    """No price, no dollar sign; no use, no gallons."""
    bare = replace(DAY, more_fuel_m3=None, more_money=None)
    assert isinstance(bare, DayLap)
    text = " ".join(more_lap_sentences(bare, more_m=FOOT_M, system="us"))
    assert "$" not in text
    assert "gal" not in text


def test_in_one_field_passes_are_whole() -> None:
    """Two passes more and 11 minutes; or none at all, and it is said."""
    two = FieldLap(passes_count=48, more_passes_count=2, more_work_s=680.0, more_driven_m=1600.0)
    none = FieldLap(passes_count=48, more_passes_count=0, more_work_s=0.0, more_driven_m=0.0)
    found = more_lap_sentences(DAY, more_m=FOOT_M, system="us", field=two)
    assert found[1] == "In this field: 50 passes instead of 48, 10 min more."
    found = more_lap_sentences(DAY, more_m=FOOT_M, system="us", field=none)
    assert found[1] == "In this field it makes no pass more: 48 either way."


def test_the_lap_to_aim_for_is_a_range_with_a_verdict() -> None:
    """0.5 to 1.5 ft: 2.2 ft is more than needed, 0.3 ft leaves strips, 1 ft is left alone."""
    text = advised_sentence(BY_EYE, now_m=2.2 * FOOT_M, system="us")
    assert text == (
        "Lap 0.5 ft to 1.5 ft; near 0.8 ft is best, and in between costs much the same. "
        "You lap 2.2 ft: more than you need."
    )
    assert advised_sentence(BY_EYE, now_m=0.1, system="us").endswith("0.3 ft: strips will be left.")
    assert advised_sentence(BY_EYE, now_m=0.3, system="us").endswith("1.0 ft: leave it.")
    assert "15 cm to 45 cm" in advised_sentence(BY_EYE, now_m=0.3, system="metric")
    assert lap_text(0.775, "metric") == "80 cm"


def test_the_share_left_is_a_range_and_never_nothing() -> None:
    """A covered field is never promised: the least that is said is next to nothing."""
    text = skip_sentence(0.0029, low_fraction=0.0001, high_fraction=0.0093)
    assert text == "Left between passes: about 0.3 % (next to nothing to 0.9 %)."
    assert skip_sentence(0.0, low_fraction=0.0, high_fraction=0.0) == (
        "Left between passes: next to nothing."
    )


def test_the_angle_says_what_it_is_for_and_what_it_costs() -> None:
    """5 degrees on quarter-mile runs: not evener stripes, but no skip along one thin stripe."""
    plain = Counted(passes_count=50, work_s=9_000.0)
    price = angle_price(
        plain=plain, turned=Counted(passes_count=54, work_s=9_500.0), noise_fraction=0.02
    )
    found = angle_sentences(ANGLE, driven_rad=math.radians(5.0), price=price, system="us")
    assert found[0].startswith("Cover at 5° (3° to 7°) to the spread passes: on 1,312 ft runs")
    assert "does not even out the stripes" in found[0]
    assert found[1] == "5° costs 4 passes more and 10 min more."
    cheap = angle_price(
        plain=plain, turned=Counted(passes_count=51, work_s=9_100.0), noise_fraction=0.02
    )
    found = angle_sentences(ANGLE, driven_rad=math.radians(5.0), price=cheap, system="metric")
    assert found[1] == "5° costs 1 pass more; the minutes are too few to tell."
    assert "400 m runs" in found[0]


def test_short_runs_are_told_that_no_angle_helps() -> None:
    """Where most runs are too short to cross two bands, the sentence says so."""
    short = replace(ANGLE, served_fraction=0.2)
    found = angle_sentences(short, driven_rad=0.1, price=None, system="us")
    assert found[1].startswith("Most runs are too short")


def _joints(spread_m: float, cover_m: float, degrees: float) -> Joints:
    return near_whole_multiple(
        spread_driving_width_m=spread_m,
        cover_spacing_m=cover_m,
        across_m=573.0,
        run_length_m=805.0,
        angle_rad=math.radians(degrees),
        limit_fraction=0.10,
    )


@pytest.mark.parametrize(
    ("spread_m", "cover_m", "degrees", "starts", "ends"),
    [
        (18.0, 9.0, 0.0, "18.0 m is close to 2 times 9.0 m:", "lap a little differently."),
        (18.0, 9.0, 3.0, "18.0 m is close to 2 times 9.0 m:", "Your angle avoids it."),
        (9.0, 9.0, 0.0, "9.0 m between covering passes is close to the 9.0 m", "differently."),
        (13.5, 9.0, 0.0, "13.5 m between spread passes and 9.0 m", "differently."),
    ],
)
def test_widths_that_keep_step_are_warned_of(
    spread_m: float, cover_m: float, degrees: float, starts: str, ends: str
) -> None:
    """18 over 9 m keeps step; an angle of three degrees is told to have it covered."""
    text = joints_sentence(
        _joints(spread_m, cover_m, degrees),
        spread_driving_width_m=spread_m,
        cover_spacing_m=cover_m,
        system="metric",
    )
    assert text is not None
    assert text.startswith(starts)
    assert text.endswith(ends)


def test_widths_that_do_not_keep_step_are_not_warned_of() -> None:
    """16 over 8.7 m spreads its joints by itself."""
    text = joints_sentence(
        _joints(16.0, 8.7, 0.0), spread_driving_width_m=16.0, cover_spacing_m=8.7, system="us"
    )
    assert text is None


def test_no_angle_has_no_price_and_no_lap_no_minus_sign() -> None:
    """0 degrees costs nothing to tell; a lap below none is ground left open."""
    angle = Angle(
        low_rad=0.05, best_rad=0.05, high_rad=0.05, served_fraction=1.0, run_length_m=400.0
    )
    price = AnglePrice(
        more_passes_count=0, more_passes_fraction=0.0, more_work_s=0.0, more_work_fraction=0.0,
        is_noise=True,
    )  # fmt: skip
    told = angle_sentences(angle, driven_rad=0.0, price=price, system="us")
    assert not any("costs" in line for line in told)
    turned = angle_sentences(angle, driven_rad=0.1, price=price, system="us")
    assert len(turned) == len(told) + 1
    advised = Overlap(low_m=0.1, best_m=0.2, high_m=0.3)
    text = advised_sentence(advised, now_m=-0.5, system="us")
    assert text.endswith("You leave 1.6 ft open between passes.")
    assert "-" not in text


@pytest.mark.parametrize(
    ("now_m", "state"),
    [(-0.2, "open"), (-0.01, "less"), (0.0, "less"), (0.14, "enough"), (0.3, "enough"),
     (0.46, "enough"), (0.6, "more")],
)  # fmt: skip
def test_an_overlap_is_judged_as_far_as_a_driver_could_see_it(now_m: float, state: str) -> None:
    """15 to 45 cm are advised: 1 cm off either end nobody sees from the seat."""
    assert lap_state(BY_EYE, now_m=now_m, system="metric") == state


def test_the_overlap_to_drive_is_one_line() -> None:
    """A range where there is one; the lap of now is a sentence of its own."""
    lap = LapAnswer(
        machine="Tines", by_eye=True, overlap_m=0.6, skip_fraction=0.0, skip_low_fraction=0.0,
        skip_high_fraction=0.0, advised=BY_EYE,
    )  # fmt: skip
    assert lap_headline(lap, "metric") == "Tines: lap 15 cm to 45 cm"
    narrow = replace(lap, advised=Overlap(low_m=0.25, best_m=0.25, high_m=0.26))
    assert lap_headline(narrow, "metric") == "Tines: lap 25 cm"
    told = now_sentence(BY_EYE, now_m=0.6, system="metric")
    assert told == "You lap 60 cm: more than you need."
    assert advised_sentence(BY_EYE, now_m=0.6, system="metric").endswith(told)


def test_the_spanish_overlap_has_the_same_figures() -> None:
    """Every number of the English sentence, in the same order."""
    for now_m in (-0.2, 0.0, 0.3, 0.6):
        english, spanish = (
            advised_sentence(BY_EYE, now_m=now_m, system="us", language=language)
            for language in ("en", "es")
        )
        assert sorted(re.findall(r"[\d.]+ ft", english)) == sorted(
            re.findall(r"[\d.]+ ft", spanish)
        )
    text = skip_sentence(0.002, low_fraction=0.0, high_fraction=0.01, language="es")
    assert text == "Queda entre pasadas: más o menos 0.2 % (casi nada a 1.0 %)."
    assert minutes_text(60.0, "es") == "menos de 5 min"


def test_next_to_nothing_is_not_about_anything() -> None:
    """A share too small for a figure is told with the most it may be, in both languages."""
    text = skip_sentence(0.0001, low_fraction=0.0, high_fraction=0.004)
    assert text == "Left between passes: next to nothing, at most 0.4 %."
    assert skip_sentence(0.0001, low_fraction=0.0, high_fraction=0.004, language="es") == (
        "Queda entre pasadas: casi nada, cuando mucho 0.4 %."
    )

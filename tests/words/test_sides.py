"""Edges, slope and wind in words."""

from __future__ import annotations

import re

import pytest

from duskline.core.lie import HeadingKept, Reason
from duskline.core.sides import SHUT_KINDS, EdgeDose, edge_dose, first_pass_from_edge_m
from duskline.core.trays import TrayPattern, Way
from duskline.units import System
from duskline.words.aim import Language
from duskline.words.sides import KINDS, edge_sentences, heading_reasons, not_found_sentence

FOOT_M = 0.3048
LB_PER_AC = 0.45359237 / 4046.8564224
TRIANGLE = TrayPattern(
    first_tray_m=-12.0, spacing_m=3.0, catch=(0.0, 1.0, 2.0, 3.0, 4.0, 3.0, 2.0, 1.0, 0.0)
)


def _dose(first_m: float) -> EdgeDose:
    return edge_dose(
        TRIANGLE,
        driving_width_m=12.0,
        first_pass_m=first_m,
        way=Way.BACK_AND_FORTH,
        thin_below_fraction=0.8,
    )


def _say(
    kind: str | None,
    system: System = "us",
    language: Language = "en",
    *,
    off_m: float = 3.0,
    first_m: float | None = None,
    rate: float | None = 61 * LB_PER_AC,
) -> list[str]:
    first = first_pass_from_edge_m(
        throw_m=12.0, kind=kind, off_m=off_m if kind else 0.0, driving_width_m=12.0
    )
    return edge_sentences(
        first,
        side=None if kind is None else "east",
        kind=kind,
        dose=_dose(first.from_edge_m if first_m is None else first_m),
        thin_below_fraction=0.8,
        system=system,
        rate_kg_per_m2=rate,
        language=language,
    )


def test_beside_the_organic_field_nothing_flies_over() -> None:
    """12 m of throw and a 3 m strip: 15 m is 49.2 ft, told as 50; thin for 12.6 m, 40 ft."""
    assert _say("organic") == [
        "East side (organic field): middle of the first pass 50 ft in.",
        "No seed on the 10 ft along it.",
        "By the trays no seed reaches the edge.",
        "The first 40 ft stay thin, under 80 % of the rate.",
    ]


def test_an_ordinary_side_loses_some_seed_to_the_neighbour() -> None:
    """6 m off, a triangle of 12 m throws an eighth of a pass 6 m over.

    By hand: 1.5 m at the full 61 lb/ac along 100 ft is 150 x 3.281 / 43,560 x 61 = 0.69 lb; the
    thin strip of 3.6 m is 12 ft.
    """
    assert _say(None) == [
        "Other sides: middle of the first pass 20 ft in.",
        "Seed flies up to 20 ft over it, less than 1 lb for every 100 ft.",
        "The first 12 ft stay thin, under 80 % of the rate.",
    ]
    heavy = _say(None, rate=610 * LB_PER_AC)
    assert "7 lb for every 100 ft" in heavy[1]
    assert "12 % of what one pass throws" in _say(None, rate=None)[1]


def test_seed_over_a_shut_edge_is_shouted() -> None:
    """Driven nearer than the throw allows, the card says so in capitals."""
    text = " ".join(_say("water", first_m=9.0))
    assert "SEED WOULD FLY UP TO 10 FT OVER IT" in text.upper()
    assert "no seed reaches" not in text


@pytest.mark.parametrize("kind", SHUT_KINDS)
@pytest.mark.parametrize("system", ["us", "metric"])
def test_the_distance_told_is_never_nearer_than_allowed(kind: str, system: System) -> None:
    """Rounded up beside a shut edge: the told distance keeps the throw and the strip."""
    for off_m in (0.0, 0.3, 1.1, 2.6):
        text = _say(kind, system, off_m=off_m)[0]
        found = re.search(r"([\d.]+) (ft|m) in", text)
        assert found is not None, text
        told_m = float(found[1]) * (FOOT_M if found[2] == "ft" else 1.0)
        assert told_m >= 12.0 + off_m - 1e-6
        assert told_m <= 12.0 + off_m + 0.51


@pytest.mark.parametrize("kind", [*SHUT_KINDS, None])
def test_both_languages_hold_back_the_same_feet(kind: str | None) -> None:
    """Every kind has a Spanish word; numbers and units do not change with the language."""
    assert set(KINDS["en"]) == set(KINDS["es"]) == set(SHUT_KINDS)
    for system in ("us", "metric"):
        english, spanish = (" ".join(_say(kind, system, language)) for language in ("en", "es"))
        for pattern in (r"\d+(?:\.\d+)?",):
            assert sorted(re.findall(pattern, english)) == sorted(re.findall(pattern, spanish))
        assert english != spanish


def test_one_system_a_card() -> None:
    """No metres on a US card, no feet or pounds on a metric one."""
    assert re.search(r"\d m\b|\bkg\b", " ".join(_say(None))) is None
    assert re.search(r"\bft\b|\blb\b", " ".join(_say("road", "metric"))) is None


def test_a_wind_towards_the_neighbour_is_told_beside_that_edge_alone() -> None:
    """The organic side waits for another wind; the others do not."""
    for kind, told in (("organic", True), (None, False)):
        first = first_pass_from_edge_m(throw_m=12.0, kind=kind, off_m=0.0, driving_width_m=12.0)
        found = edge_sentences(
            first,
            side="east",
            kind=kind,
            dose=None,
            thin_below_fraction=0.8,
            system="us",
            wind_towards=True,
        )
        assert ("Wind towards that side: drive it when the wind has turned." in found) is told


def test_an_edge_that_no_side_was_found_for_is_never_passed_over() -> None:
    """What was written is repeated, and what it means is said: nothing was held back."""
    text = not_found_sentence(word="along the creek", kind="water", understood=False)
    assert '"along the creek" (water)' in text
    assert "no side was held back" in text
    text = not_found_sentence(word="north", kind="home", understood=True)
    assert "faces north" in text
    assert "nothing was held back" in text


def _kept(*reasons: Reason, minutes: float = 0.0) -> HeadingKept:
    return HeadingKept(
        index=0, fastest_index=1, reasons=reasons, given_up_s=60.0 * minutes, grade_fraction=None
    )


def test_reasons_for_a_heading_come_with_their_minutes() -> None:
    """The contour costs 20 min, and both are said; without a reason nothing is."""
    assert heading_reasons(_kept(Reason.CONTOUR, minutes=21.0)) == [
        "Driven across the slope, because this ground washes.",
        "It costs 20 min more than the fastest heading.",
    ]
    assert heading_reasons(_kept()) == []
    for reason in Reason:
        assert heading_reasons(_kept(reason))


def test_the_contour_is_not_claimed_where_no_heading_runs_on_it() -> None:
    """The most level heading is called that, and no more."""
    found = heading_reasons(_kept(Reason.CONTOUR, Reason.NO_LEVEL_HEADING))
    assert len(found) == 1
    assert "not the contour" in found[0]


def test_a_row_of_trays_that_was_too_short_is_not_trusted_in_silence() -> None:
    """Seed in the end trays: the card says that it may fly farther."""
    first = first_pass_from_edge_m(throw_m=12.0, kind="road", off_m=0.0, driving_width_m=12.0)
    for short in (True, False):
        found = edge_sentences(
            first,
            side="east",
            kind="road",
            dose=_dose(12.0),
            thin_below_fraction=0.8,
            system="us",
            row_too_short=short,
        )
        assert any("seed may fly farther" in text for text in found) is short

"""The log in sentences: every kind of event, every kind of conflict, in both systems of units."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from duskline.core.log import (
    KINDS,
    Conflict,
    ConflictKind,
    Event,
    FieldFacts,
    FieldState,
    TellingRules,
    settle,
)
from duskline.words.log import (
    Language,
    clash_line,
    conflict_line,
    conflict_lines,
    event_line,
    field_line,
    what_text,
)

CHICAGO = ZoneInfo("America/Chicago")
AT = datetime(2026, 10, 18, 18, 0, tzinfo=UTC)
ACRE_M2 = 4046.8564224
RULES = TellingRules(
    twice_within_s=900.0, twice_share_fraction=0.1, over_share_fraction=0.02, clock_off_s=120.0
)


def test_an_event_is_one_line_by_the_farms_clock() -> None:
    """When, who, where, what, how long, what was said, by whom."""
    event = Event(
        at=AT, what="covered", machine="Cultivator 1", field="A1", area_m2=39 * ACRE_M2,
        took_s=9000.0, note="dusty", person="Helper",
    )  # fmt: skip
    assert event_line(event, "us", CHICAGO) == (
        "1:00 pm, Cultivator 1, A1: covered 39.0 ac; took 2 h 30 min; dusty; told by Helper"
    )
    assert event_line(event, "metric", CHICAGO).startswith(
        "13:00, Cultivator 1, A1: covered 15.8 ha"
    )


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_event_has_its_words(kind: str) -> None:
    """None falls through, with or without its figures."""
    bare = Event(at=AT, what=kind, note="so")  # type: ignore[arg-type]
    full = Event(
        at=AT, what=kind, area_m2=1e4, mass_kg=100.0, note="so", stop_at=AT,  # type: ignore[arg-type]
        chance_fraction=0.95,
    )  # fmt: skip
    for event in (bare, full):
        text = what_text(event, "us", CHICAGO)
        assert text == text.strip()
        assert len(text) > 1
        assert "None" not in text


def test_a_published_plan_says_its_stop_time_and_its_chance() -> None:
    """As the evening line needs it."""
    plan = Event(at=AT, what="plan", stop_at=AT + timedelta(hours=2), chance_fraction=0.95)
    assert what_text(plan, "us", CHICAGO) == (
        "a plan handed out: stop at 3:00 pm, 19 in 20 times covered"
    )


def test_a_field_says_what_lies_open_in_it() -> None:
    """Open first; what was left out only where something was."""
    state = FieldState(spread_m2=60 * ACRE_M2, covered_m2=39 * ACRE_M2)
    assert field_line("A1", state, "us") == "A1: 21.0 ac open (60.0 ac spread, 39.0 ac covered)"
    wet = FieldState(spread_m2=0.0, covered_m2=0.0, left_out_m2=ACRE_M2)
    assert field_line("A1", wet, "us").endswith("1.0 ac left out)")


def test_two_tellings_of_the_same_work_are_shown_with_what_to_say() -> None:
    """Two phones tell 39 acres covered within five minutes."""
    tellings = [
        Event(
            at=AT + timedelta(minutes=5 * number), what="covered", machine="Cultivator 1",
            field="A1", area_m2=39 * ACRE_M2, device=device, id=device,
        )
        for number, device in enumerate(("radio", "phone"))
    ]  # fmt: skip
    spread = Event(at=AT, what="spread", field="A1", area_m2=60 * ACRE_M2, id="s")
    found = settle([*tellings, spread], {"A1": FieldFacts(area_m2=80 * ACRE_M2)}, RULES)
    assert conflict_lines(found, "us", CHICAGO) == [
        "Perhaps told twice: 1:00 pm, Cultivator 1, A1: covered 39.0 ac / 1:05 pm, Cultivator 1, "
        "A1: covered 39.0 ac; only the first counts. If both are right, say both phone; if not, "
        "undo one."
    ]


@pytest.mark.parametrize("kind", list(ConflictKind))
@pytest.mark.parametrize("system", ["us", "metric"])
def test_every_kind_of_conflict_is_a_sentence_in_the_readers_units(
    kind: ConflictKind, system: str
) -> None:
    """With its figures, what to do, and no foreign unit."""
    conflict = Conflict(
        kind=kind, ids=("a", "b"), field="A1", machine="covered", value=9e4, limit=8e4
    )
    told = {"a": Event(at=AT, what="covered", area_m2=9e4, id="a")}
    line = conflict_line(conflict, told, system, CHICAGO)  # type: ignore[arg-type]
    assert line.endswith(".")
    assert "None" not in line
    assert re.search(r"\d ha\b" if system == "us" else r"\d ac\b", line) is None


def test_letters_that_a_screen_acts_on_are_left_out() -> None:
    """In every text that somebody else wrote."""
    event = Event(at=AT, what="note", note="a\x1b[2J", person="b\nc", machine="d\u202e")
    assert event_line(event, "us", CHICAGO).isprintable()


@pytest.mark.parametrize("kind", list(ConflictKind))
@pytest.mark.parametrize("language", ["en", "es"])
def test_a_page_says_a_conflict_without_ids_and_commands(
    kind: ConflictKind, language: Language
) -> None:
    """Pages used to show "say both 439dded7-..."; their buttons stand beside the sentence."""
    conflict = Conflict(
        kind=kind, ids=("439dded7", "87aa90bc"), field="A1", machine="covered", value=9e4,
        limit=8e4,
    )  # fmt: skip
    told = {
        name: Event(at=AT, what="covered", machine="Cultivator 1", field="A1", area_m2=9e4, id=name)
        for name in conflict.ids
    }
    line = clash_line(conflict, told, "us", CHICAGO, language=language)
    assert line.endswith(".")
    for word in ("439dded7", "87aa90bc", "None", "farm folder", "say both", "undo one"):
        assert word not in line
    assert line != clash_line(
        conflict, told, "us", CHICAGO, language="es" if language == "en" else "en"
    )
    if kind is ConflictKind.TOLD_TWICE and language == "en":
        assert line == (
            "Perhaps told twice: 1:00 pm, Cultivator 1, A1: worked in 22.2 ac / 1:00 pm, "
            "Cultivator 1, A1: worked in 22.2 ac. Only the first counts until you say."
        )

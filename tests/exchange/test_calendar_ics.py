"""The season as a calendar file: strict form, stable names, changes that count up."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from icalendar import Calendar

from duskline.core.errors import OutOfRange
from duskline.exchange.calendar_ics import (
    DayPlan,
    DayTwice,
    FieldVisit,
    SownBetween,
    season_calendar,
    write_season_calendar,
)
from duskline.exchange.problems import FolderProblem
from duskline.units import ACRE_M2

ZONE = ZoneInfo("America/Chicago")
Event = dict[str, str]


def at(day: int, hour: int, minute: int = 0) -> datetime:
    """A moment of October 2026, by the farm's clock."""
    return datetime(2026, 10, day, hour, minute, tzinfo=ZONE)


def visit(name: str, day: int, hour: int = 10, customer: str = "") -> FieldVisit:
    """40 acres of rye, reached between the hour and half past."""
    return FieldVisit(
        name=name, customer=customer, lot="rye", area_m2=40.0 * ACRE_M2,
        about_from_at=at(day, hour), about_to_at=at(day, hour, 30),
    )  # fmt: skip


def day(on: int, *names: str, crew: str = "Home", stop: datetime | None = None,
        off: str = "") -> DayPlan:  # fmt: skip
    """A day from 9:30 to 18:15, stop at 15:07."""
    return DayPlan(
        on=date(2026, 10, on), crew=crew, opens_at=at(on, 9, 30), stop_at=stop or at(on, 15, 7),
        closes_at=at(on, 18, 15), fields=tuple(visit(name, on) for name in names), called_off=off,
    )  # fmt: skip


def written(*days: DayPlan, previous: bytes | None = None, hour: int = 12, on: int = 17) -> bytes:
    """The calendar written on the 17th at noon, unless told otherwise."""
    return season_calendar(
        days, farm="Duskline farm", now_at=at(on, hour), system="us", previous=previous
    )


# --- a reader of our own, stricter than most: RFC 5545 sections 3.1, 3.2, 3.6.1 ---------------

ONCE = ("UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "DESCRIPTION", "STATUS", "SEQUENCE",
        "LAST-MODIFIED", "TRANSP")  # fmt: skip
UTC_FORM = re.compile(r"\d{8}T\d{6}Z")


def unfolded(content: bytes) -> Iterator[str]:
    """The lines as they were before folding; refuses bare line ends and lines over 75 octets."""
    assert content.endswith(b"\r\n")
    assert b"\n" not in content.replace(b"\r\n", b"")
    assert b"\r" not in content.replace(b"\r\n", b"")
    physical = content.split(b"\r\n")[:-1]
    for one in physical:
        assert 0 < len(one) <= 75
        one.decode("utf-8")  # no letter is cut in two
    yield from content.decode("utf-8").replace("\r\n ", "").split("\r\n")[:-1]


def unescaped(value: str) -> str:
    """A TEXT value as it was; refuses what should have been escaped."""
    assert not re.search(r"(?<!\\)(?:\\\\)*[;,]", value), value
    assert not re.search(r"[\x00-\x08\x0a-\x1f\x7f]", value)
    pairs = {"\\n": "\n", "\\N": "\n", "\\,": ",", "\\;": ";", "\\\\": "\\"}
    return re.sub(r"\\(.)", lambda found: pairs[found.group(0)], value)


def strict(content: bytes) -> dict[str, Event]:
    """The events by name, each property once and of the right form."""
    lines = list(unfolded(content))
    assert lines[0] == "BEGIN:VCALENDAR"
    assert lines[-1] == "END:VCALENDAR"
    head = lines[1 : lines.index("BEGIN:VEVENT") if "BEGIN:VEVENT" in lines else -1]
    assert sum(one.startswith("PRODID:") for one in head) == 1
    assert head.count("VERSION:2.0") == 1
    assert not any(one.startswith("METHOD") for one in head)
    events: dict[str, Event] = {}
    inside: Event | None = None
    for one in lines[1 + len(head) : -1]:
        if one == "BEGIN:VEVENT":
            assert inside is None
            inside = {}
        elif one == "END:VEVENT":
            assert inside is not None
            assert set(inside) == set(ONCE)
            assert inside["UID"] not in events
            events[inside["UID"]], inside = inside, None
        else:
            key, _, value = one.partition(":")
            assert inside is not None
            assert key not in inside
            inside[key] = unescaped(value) if key in {"SUMMARY", "DESCRIPTION"} else value
    assert inside is None
    for event in events.values():
        for key in ("DTSTAMP", "DTSTART", "DTEND", "LAST-MODIFIED"):
            assert UTC_FORM.fullmatch(event[key])
        assert event["DTSTART"] < event["DTEND"]
        assert event["STATUS"] in {"CONFIRMED", "CANCELLED"}
        assert event["SEQUENCE"].isdigit()
    return events


# --- form ------------------------------------------------------------------------------------


def test_the_day_reads_in_the_farmers_words() -> None:
    """Fields and the stop in the title, rounded down; acres and times in the text; UTC hours."""
    (event,) = strict(written(day(18, "A1", "A6"))).values()
    assert event["SUMMARY"] == "Spread A1, A6; stop 3:05 pm"
    assert event["DESCRIPTION"].splitlines() == [
        "Crew: Home",
        "Start 9:30 am, stop spreading 3:05 pm, all worked in by 6:15 pm",
        "1. A1: 40.0 ac, rye; there between 10:00 am and 10:30 am",
        "2. A6: 40.0 ac, rye; there between 10:00 am and 10:30 am",
        "In all 80.0 ac",
    ]
    # Chicago is five hours behind UTC until the first of November.
    assert (event["DTSTART"], event["DTEND"]) == ("20261018T143000Z", "20261018T231500Z")


def test_text_and_event_have_the_same_times() -> None:
    """9:33 to 18:14 and a field reached at 10:48: 9:30, 6:10 and 10:45 to 10:50 in both."""
    plan = day(18, "A1")
    odd = replace(
        plan,
        opens_at=at(18, 9, 33),
        closes_at=at(18, 18, 14),
        fields=(replace(plan.fields[0], about_from_at=at(18, 10, 48), about_to_at=at(18, 10, 48)),),
    )
    (event,) = strict(written(odd)).values()
    assert event["DTSTART"] == "20261018T143000Z"
    assert event["DTEND"] == "20261018T231000Z"
    lines = event["DESCRIPTION"].splitlines()
    assert lines[1] == "Start 9:30 am, stop spreading 3:05 pm, all worked in by 6:10 pm"
    assert lines[2].endswith("there between 10:45 am and 10:50 am")


def test_a_day_of_a_few_minutes_is_still_an_event_with_a_length() -> None:
    """9:31 to 9:33: the end may not be the start."""
    short = replace(
        day(18, "A1"), opens_at=at(18, 9, 31), stop_at=at(18, 9, 32), closes_at=at(18, 9, 33)
    )
    (event,) = strict(written(short)).values()
    assert (event["DTSTART"], event["DTEND"]) == ("20261018T143000Z", "20261018T143500Z")


def test_a_day_beyond_the_forecast_says_that_it_may_move() -> None:
    """Only where no forecast tells the hours."""
    plan = day(18, "A1")
    days = SownBetween(early_on=date(2026, 10, 18), late_on=None, last_on=date(2026, 10, 28))
    far = replace(plan, fields=(replace(plan.fields[0], between=days),))
    said = "A usual day, beyond the forecast: it may move"
    for one, there in ((plan, False), (far, True)):
        (event,) = strict(written(one)).values()
        assert (said in event["DESCRIPTION"].splitlines()) is there


def test_the_hour_is_right_on_both_sides_of_the_change_of_clocks() -> None:
    """9:30 is 14:30 UTC on October 31 and 15:30 UTC on November 2."""
    starts = []
    for on in (date(2026, 10, 31), date(2026, 11, 2)):
        opens = datetime(on.year, on.month, on.day, 9, 30, tzinfo=ZONE)
        plan = DayPlan(on=on, crew="Home", opens_at=opens, stop_at=opens + timedelta(hours=5),
                       closes_at=opens + timedelta(hours=8), fields=(visit("A1", 18),))  # fmt: skip
        (event,) = strict(written(plan)).values()
        starts.append(event["DTSTART"][9:13])
    assert starts == ["1430", "1530"]


def test_metric_readers_get_hectares_and_the_long_clock() -> None:
    """16.2 ha and 15:05; no acre, no pm."""
    content = season_calendar([day(18, "A1")], farm="F", now_at=at(17, 12), system="metric")
    (event,) = strict(content).values()
    assert event["SUMMARY"] == "Spread A1; stop 15:05"
    assert "16.2 ha" in event["DESCRIPTION"]
    assert " ac" not in event["DESCRIPTION"]


def test_a_long_day_names_four_fields_and_counts_the_rest() -> None:
    """Seven fields: four names and 3 more; five are all named, as "1 more" saves nothing."""
    (event,) = strict(written(day(18, *"ABCDEFG"))).values()
    assert event["SUMMARY"] == "Spread A, B, C, D and 3 more; stop 3:05 pm"
    (event,) = strict(written(day(18, *"ABCDE"))).values()
    assert event["SUMMARY"].startswith("Spread A, B, C, D, E;")


def test_several_crews_are_told_apart_in_the_title() -> None:
    """Two crews on one date are two events, each under its crew's name."""
    events = strict(written(day(18, "A1", crew="East"), day(18, "A2", crew="West")))
    assert sorted(one["SUMMARY"] for one in events.values()) == [
        "East: Spread A1; stop 3:05 pm", "West: Spread A2; stop 3:05 pm",
    ]  # fmt: skip


@settings(max_examples=60)
@given(st.text(max_size=120), st.text(max_size=40), st.text(max_size=40))
def test_any_name_survives_escaping_and_folding(name: str, crew: str, off: str) -> None:
    """What our reader and the library read back is the name, on one line, and no new property."""
    plans = [day(18, name, crew=crew), day(19, name, crew=crew, off=f"rain {off}")]
    content = written(*plans)
    ours = strict(content)
    theirs = Calendar.from_ical(content)
    assert len(ours) == len(theirs.events) == 2
    for event in theirs.events:
        assert event.errors == []
        assert str(event["SUMMARY"]) == ours[str(event["UID"])]["SUMMARY"]
        assert str(event["DESCRIPTION"]) == ours[str(event["UID"])]["DESCRIPTION"]
    assert written(*plans, previous=content, hour=15) == content


def test_a_name_cannot_smuggle_in_an_event() -> None:
    """Line ends in a field's name become blanks."""
    (event,) = strict(written(day(18, "A1\r\nEND:VEVENT\r\nBEGIN:VEVENT"))).values()
    assert event["SUMMARY"] == "Spread A1 END:VEVENT BEGIN:VEVENT; stop 3:05 pm"


# --- following up ------------------------------------------------------------------------------


def test_names_hang_on_farm_crew_and_date_alone() -> None:
    """Other fields, another stop: the same event. Another crew, date or farm: another."""
    (name,) = strict(written(day(18, "A1")))
    assert list(strict(written(day(18, "A2", stop=at(18, 13)), hour=14))) == [name]
    others = {
        *strict(written(day(18, "A1", crew="Away"))),
        *strict(written(day(19, "A1"))),
        *strict(season_calendar([day(18, "A1")], farm="F", now_at=at(17, 12), system="us")),
    }
    assert len(others | {name}) == 4


def test_an_unchanged_plan_gives_the_same_bytes() -> None:
    """Written again hours later: no stamp moves, so nothing pops up on a phone."""
    first = written(day(18, "A1"), day(19, "A2"))
    assert written(day(18, "A1"), day(19, "A2"), previous=first, hour=15) == first


def test_a_plan_moved_by_seconds_is_the_same_event() -> None:
    """Opening 9:30:40 in place of 9:30 stays within the five minutes shown."""
    first = written(day(18, "A1"))
    moved = DayPlan(on=date(2026, 10, 18), crew="Home", stop_at=at(18, 15, 8),
                    opens_at=at(18, 9, 30) + timedelta(seconds=40), closes_at=at(18, 18, 15),
                    fields=(visit("A1", 18),))  # fmt: skip
    assert written(moved, previous=first, hour=15) == first


def test_only_the_changed_day_counts_up() -> None:
    """The 19th gets another field: its number goes to 1 and then 2, the 18th stays at 0."""
    first = written(day(18, "A1"), day(19, "A2"))
    second = written(day(18, "A1"), day(19, "A3"), previous=first, hour=13)
    third = written(day(18, "A1"), day(19, "A4"), previous=second, hour=14)
    for content, count, hour in ((first, "0", "17"), (second, "1", "18"), (third, "2", "19")):
        quiet, changed = sorted(strict(content).values(), key=lambda one: one["DTSTART"])
        assert (quiet["SEQUENCE"], quiet["LAST-MODIFIED"]) == ("0", "20261017T170000Z")
        assert changed["SEQUENCE"] == count
        assert changed["LAST-MODIFIED"] == changed["DTSTAMP"] == f"20261017T{hour}0000Z"


def test_a_day_lost_from_the_plan_is_called_off_once() -> None:
    """The 19th falls out: cancelled with its count up; again without change; back when planned."""
    first = written(day(18, "A1"), day(19, "A2"))
    second = written(day(18, "A1"), previous=first, hour=13)
    lost = max(strict(second).values(), key=lambda one: one["DTSTART"])
    assert (lost["STATUS"], lost["SEQUENCE"], lost["TRANSP"]) == ("CANCELLED", "1", "TRANSPARENT")
    assert lost["SUMMARY"] == "Called off: Spread A2; stop 3:05 pm"
    assert written(day(18, "A1"), previous=second, hour=14) == second
    third = written(day(18, "A1"), day(19, "A2"), previous=second, hour=15)
    back = max(strict(third).values(), key=lambda one: one["DTSTART"])
    assert (back["STATUS"], back["SEQUENCE"]) == ("CONFIRMED", "2")


def test_a_day_that_is_over_stays_as_it_was() -> None:
    """On the 20th the 18th is no longer in the plan, and was not called off for it."""
    first = written(day(18, "A1"), day(21, "A2"))
    later = written(day(21, "A2"), previous=first, on=20)
    assert later == first


def test_a_wet_day_stands_as_called_off_with_its_reason() -> None:
    """Rain takes the day: same event, cancelled, and the reason is in the title."""
    first = written(day(18, "A1"))
    (event,) = strict(written(day(18, "A1", off="rain"), previous=first, hour=13)).values()
    assert (event["STATUS"], event["SEQUENCE"]) == ("CANCELLED", "1")
    assert event["SUMMARY"] == "No spreading, rain"


def test_a_day_without_fields_has_no_event() -> None:
    """Nothing planned, nothing called off, nothing in the calendar."""
    assert strict(written(day(18))) == {}


# --- refusals ------------------------------------------------------------------------------------


def test_a_crew_has_one_plan_a_day() -> None:
    """Two plans for one crew and date would be one event twice."""
    with pytest.raises(DayTwice):
        written(day(18, "A1"), day(18, "A2"))


def test_moments_need_their_order_and_their_zone() -> None:
    """A stop before the opening and a bare clock time are refused."""
    with pytest.raises(OutOfRange):
        day(18, "A1", stop=at(18, 8))
    with pytest.raises(ValueError, match="time zone"):
        day(18, "A1", stop=at(18, 15).replace(tzinfo=None))


@pytest.mark.parametrize(
    "content",
    [
        b"", b"\xff\xfe", b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n", b"BEGIN:VEVENT\r\n",
        b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//Other//EN\r\nEND:VCALENDAR\r\n",
        b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//Duskline//Season//EN\r\nBEGIN:VEVENT\r\n"
        b"UID:a\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n",
        b"x" * 4_000_001,
    ],
)  # fmt: skip
def test_another_file_is_never_written_over(tmp_path: Path, content: bytes) -> None:
    """A private calendar of that name, or a broken one, is left as it is, and named."""
    path = tmp_path / "season.ics"
    path.write_bytes(content)
    with pytest.raises(FolderProblem, match=r"season\.ics: read"):
        write_season_calendar(path, [day(18, "A1")], farm="F", now_at=at(17, 12), system="us")
    assert path.read_bytes() == content
    assert [one.name for one in tmp_path.iterdir()] == ["season.ics"]


def test_writing_twice_follows_up(tmp_path: Path) -> None:
    """The file is read before it is written again."""
    path = tmp_path / "season.ics"
    for name, hour in (("A1", 12), ("A2", 13), ("A2", 14)):
        write_season_calendar(path, [day(18, name)], farm="F", now_at=at(17, hour), system="us")
    (event,) = strict(path.read_bytes()).values()
    assert (event["SEQUENCE"], event["DTSTAMP"]) == ("1", "20261017T180000Z")


@settings(max_examples=40)
@given(st.lists(st.dictionaries(st.integers(18, 22), st.sampled_from(["A1", "A2", "B"])),
                min_size=2, max_size=6))  # fmt: skip
def test_re_imports_always_win(plans: list[dict[int, str]]) -> None:
    """Through any edits a changed event has a higher count and a later stamp, and none is lost."""
    content = None
    for place, plan in enumerate(plans):
        before: dict[str, Event] = strict(content) if content is not None else {}
        content = season_calendar(
            [day(on, name) for on, name in plan.items()], farm="F",
            now_at=datetime(2026, 10, 17, 6 + place, tzinfo=UTC), system="us", previous=content,
        )  # fmt: skip
        after = strict(content)
        assert set(before) <= set(after)
        going = [one for one in after.values() if one["STATUS"] == "CONFIRMED"]
        assert len(going) == len(plan)
        for name, event in before.items():
            if after[name] != event:
                assert int(after[name]["SEQUENCE"]) == int(event["SEQUENCE"]) + 1
                assert after[name]["DTSTAMP"] > event["DTSTAMP"]

"""The live answer as it is said: was and now, what lies open, loads, seed, the day's last line."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache

import pytest
from made_days import RYE, farm_of
from made_live import ACRE_M2, POUND_KG, at, begin, covered, rye_day_one, spread, story_22

from duskline.answers.live import LiveAnswer, live_answer
from duskline.core.log import Event, identified
from duskline.words import live as words
from duskline.words.clock import no_later

DAYS = 1000
SAID = Event(at=at(9), what="plan", stop_at=at(15, 29), area_m2=165 * ACRE_M2)


def live(events: Iterable[Event], now: datetime, *, shrink: bool = True) -> LiveAnswer:
    """The live answer of the rye farm on few drawn days."""
    return live_answer(
        farm_of(RYE), now, events=identified(events), shrink=shrink, replications=DAYS
    )


@cache
def slow() -> LiveAnswer:
    """Story 22 as it was shown, the morning having said 15:29."""
    return live((SAID, *story_22()), at(13), shrink=False)


def everything(answer: LiveAnswer) -> list[str]:
    """Every line the module has for an answer."""
    return [
        words.headline(answer, "us"),
        words.closed_line(answer),
        words.sure_line(answer, "us"),
        words.change_line(answer, "us"),
        words.kept_line(answer, "us"),
        words.open_line(answer, "us"),
        *words.causes_lines(answer, "us"),
        *words.pace_lines(answer, "us"),
        *words.load_lines(answer, "us"),
        *words.seed_lines(answer, "us"),
        *words.leave_lines(answer, "us"),
        *words.standing_lines(answer, "us"),
        *words.not_heard_lines(answer),
        *words.quiet_lines(answer, "us"),
        *words.order_lines(answer, "us"),
        *words.lost_lines(answer, "us"),
        words.tap_line(answer, "us"),
        words.end_line(answer, "us"),
        *words.crew_lines(answer, "us"),
        *words.crew_lines(answer, "us", language="es"),
    ]


def test_was_now_because() -> None:
    """The sentence of story 22, with the stop that was said and the one that holds."""
    line = words.change_line(slow(), "us")
    assert line.startswith("Was 3:25 pm, now 2:")
    assert line.endswith("because covering runs 12.3 ac/h (plan 15.3).")


def test_the_change_names_the_hour_of_the_headline() -> None:
    """Headline and change say the same time: "now 2:10 pm" and "STOP SPREADING AT 2:10 PM"."""
    stop = words.headline(slow(), "us").removeprefix("Stop spreading at ")
    assert f"now {stop}," in words.change_line(slow(), "us")


def test_nothing_changed_is_said_so() -> None:
    """Within five minutes of what was published: as before."""
    first = live(story_22(covered_acres=48.4), at(13))
    assert first.day is not None
    same = replace(SAID, stop_at=first.day.stop_at)
    again = live((same, *story_22(covered_acres=48.4)), at(13))
    assert words.change_line(again, "us").startswith("As before: ")


def test_each_cause_says_what_it_cost_by_itself() -> None:
    """Minutes and the way, and the pace beside the plan's."""
    line = words.causes_lines(slow(), "us")[0]
    assert re.fullmatch(
        r"Covering runs 12\.3 ac/h \(plan 15\.3\): \d+ min earlier for that alone\.", line
    )


def test_keeping_to_the_morning_has_its_price() -> None:
    """The chance left if the spreader goes on to 3:25 pm."""
    line = words.kept_line(slow(), "us")
    assert re.fullmatch(
        r"Keeping to 3:25 pm: everything is worked in (less than 1|\d+) in 20 times\.", line
    )


def test_open_acres_are_told_and_carried_on() -> None:
    """Both figures where they differ, one where they do not, and a word for nothing."""
    assert words.open_line(slow(), "us") == "58 ac lie open as told."
    later = live((spread(60.0, at(12)), covered(30.0, at(12))), at(12, 30))
    assert re.fullmatch(
        r"30 ac lie open as told; about 3\d ac by now, work since then counted on\.",
        words.open_line(later, "us"),
    )
    assert words.open_line(live((), at(9)), "us") == "Nothing lies open."


def test_a_pace_is_told_with_what_is_reckoned() -> None:
    """Shown, planned, and the learned one between; none where the shown one is taken."""
    learned = live(story_22(), at(13))
    line = next(x for x in words.pace_lines(learned, "us") if x.startswith("Cultivator 1"))
    assert re.fullmatch(
        r"Cultivator 1: 12\.3 ac/h so far, plan 15\.3 ac/h; reckoned with 1[34]\.\d ac/h\.", line
    )
    plain = next(x for x in words.pace_lines(slow(), "us") if x.startswith("Cultivator 1"))
    assert "reckoned" not in plain


def test_a_pace_hard_to_believe_asks_to_look() -> None:
    """Four acres in three hours: likelier that a telling is missing."""
    found = live((spread(80.0, at(13)), covered(4.0, at(13))), at(13))
    line = next(x for x in words.pace_lines(found, "us") if x.startswith("Cultivator 1"))
    assert line.endswith("look whether a telling is wrong or missing.")


def test_story_11_says_how_heavy_and_what_to_do() -> None:
    """10.5 % heavy, gate to 0.905 of the flow, and where seed runs out."""
    load = Event(
        at=at(12, 30), what="load", machine="Spreader", field="A1",
        mass_kg=6000 * POUND_KG, area_m2=76.0 * ACRE_M2,
    )  # fmt: skip
    found = live((load,), at(12, 30))
    check, advice = words.load_lines(found, "us")
    assert check == "Spreader, load 1: 6,000 lb did 76.0 ac, plan 84.0 ac: 10.5% heavy."
    assert advice == "Set the gate to 0.905 of the flow."
    seed = words.seed_lines(found, "us")[0]
    assert seed.startswith("Bin rye: 20,501 lb left: it runs out in A")
    assert seed.endswith("it does 286.9 ac once the gate is right, 259.7 ac if not.")


def test_a_load_within_the_scales_leaves_the_gate() -> None:
    """82 ac of 84 is within what a weight and acres can be out."""
    load = Event(
        at=at(12, 30), what="load", machine="Spreader", field="A1",
        mass_kg=6000 * POUND_KG, area_m2=82.0 * ACRE_M2,
    )  # fmt: skip
    assert words.load_lines(live((load,), at(12, 30)), "us")[1].endswith("leave the gate.")


def test_seed_that_reaches_says_so() -> None:
    """The whole bin and nothing spread: 26,501 lb, 25,923 lb to spread."""
    assert words.seed_lines(live((), at(9)), "us") == [
        "Bin rye: 26,501 lb left, 25,923 lb still to spread: it reaches."
    ]


def test_a_standing_machine_and_one_not_heard_of_are_named() -> None:
    """With the moment it is reckoned back, and that nothing is counted."""
    down = Event(at=at(12, 30), what="down", machine="Cultivator 1")
    found = live((spread(60.0, at(12)), covered(30.0, at(12)), down), at(12, 30))
    assert words.standing_lines(found, "us")[0].startswith(
        "Cultivator 1 stands; reckoned to run again about 1:10 pm"
    )
    quiet = live((spread(60.0, at(12)),), at(12))
    assert words.not_heard_lines(quiet) == [
        "Nothing told of Cultivator 1 today: it is counted as not begun."
    ]


def test_the_day_ends_with_said_and_did() -> None:
    """Said 2:50 pm and 138 ac, did 2:40 pm and 138 ac; and what lies open as told."""
    over = live(rye_day_one(), at(18, 30))
    line = words.end_line(over, "us")
    assert line == "Said 2:50 pm and 138 ac, did 2:40 pm and 138 ac; 2.8 ac lie open."
    assert words.headline(over, "us") == "2.8 ac lie open as told"
    assert words.closed_line(over) == "Nothing to plan: the day is over."
    during = live([e for e in rye_day_one() if e.at <= at(13)], at(13))
    assert words.end_line(during, "us") == ""


def test_nobody_is_told_that_all_is_done_before_somebody_told_it() -> None:
    """2.8 ac not told as covered, though the machines had the time: the crew sees 2.8 ac."""
    late = live(rye_day_one(), at(18, 0))
    assert late.open_m2 < 400.0 < late.told_open_m2
    assert "2.8 ac spread and not yet worked in." in words.crew_lines(late, "us")


def test_a_stopped_spreader_changes_the_headline() -> None:
    """Spreading is done; and about when the rest is worked in."""
    found = live((*story_22(), Event(at=at(13), what="stop", machine="Spreader")), at(13))
    assert words.headline(found, "us") == "Spreading is done: cover"
    assert "At average rates it is done about" in words.sure_line(found, "us")
    assert words.change_line(found, "us") == ""


def test_english_and_spanish_crew_lines_carry_the_same_figures() -> None:
    """Line by line the same numbers, clock times and names."""
    down = Event(at=at(13, 1), what="down", machine="Cultivator 1")
    rain = Event(at=at(17), what="rain", clock_at=at(13))
    for answer in (slow(), live((SAID, *story_22(), down, rain), at(13, 2)), live((), at(20))):
        english = words.crew_lines(answer, "us")
        spanish = words.crew_lines(answer, "us", language="es")
        assert len(english) == len(spanish)
        for one, other in zip(english, spanish, strict=True):
            figures = r"\d+(?:[.:,]\d+)*(?: [ap]m)?"
            assert re.findall(figures, one) == re.findall(figures, other)
            assert one != other


@pytest.mark.parametrize("hour", [7, 10, 13, 15, 18, 20])
def test_every_line_is_plain_through_the_day(hour: int) -> None:
    """No line is half empty, has a double space, a Python word or a metric unit on a US farm."""
    now = at(hour)
    for line in everything(live([e for e in rye_day_one() if e.at <= now], now)):
        assert not re.search(r"None|nan|inf\b|  |\{|\}|\bha\b|\bkg\b", line), line


def test_a_late_start_and_open_ground_are_said_as_causes() -> None:
    """An hour late by their own word, 20 ac open since yesterday."""
    told = (
        spread(20.0, at(16, day=17), "A9"),
        begin("Spreader", at(10, 30)),
        begin("Cultivator 1", at(10, 50)),
        spread(20.0, at(11, 10)),
        covered(5.1, at(11, 10)),
    )
    lines = " ".join(words.causes_lines(live(told, at(11, 10)), "us"))
    assert "Spreader and Cultivator 1 began 1 h 00 min late" in lines
    assert "20 ac lay open in the morning" in lines


def test_a_halt_says_whether_it_is_over() -> None:
    """Stands now; stands till a told time; stood."""
    told = (spread(60.0, at(12)), covered(30.0, at(12)))
    stands = live((*told, Event(at=at(12, 5), what="down", machine="Cultivator 1")), at(12, 6))
    till = live(
        (*told, Event(at=at(12, 5), what="down", machine="Cultivator 1", took_s=7200.0)), at(12, 6)
    )
    stood = live(
        (*told, Event(at=at(11), what="down", machine="Cultivator 1", took_s=1800.0)),
        at(12) + timedelta(minutes=1),
    )
    said = [" ".join(words.causes_lines(one, "us")) for one in (stands, till, stood)]
    assert "Cultivator 1 stands: " in said[0]
    assert "Cultivator 1 stands till 2:05 pm: " in said[1]
    assert "Cultivator 1 stood 30 min: " in said[2]


# --------------------------------------------------------------------------- mended


def in_spanish(answer: LiveAnswer) -> list[tuple[str, str]]:
    """Every line the crew may read, in English and in Spanish."""
    pairs = []
    for make in (words.headline, words.sure_line, words.change_line, words.tap_line,
                 words.kept_line, words.open_line, words.end_line):  # fmt: skip
        pairs.append((make(answer, "us"), make(answer, "us", language="es")))
    pairs.append((words.closed_line(answer), words.closed_line(answer, language="es")))
    for lines in (words.causes_lines, words.pace_lines, words.load_lines, words.seed_lines,
                  words.leave_lines, words.standing_lines, words.quiet_lines, words.order_lines,
                  words.lost_lines):  # fmt: skip
        pairs += zip(lines(answer, "us"), lines(answer, "us", language="es"), strict=True)
    pairs += zip(
        words.not_heard_lines(answer), words.not_heard_lines(answer, language="es"), strict=True
    )
    pairs += [
        (words.doubt_line(one, answer, "us"), words.doubt_line(one, answer, "us", language="es"))
        for one in answer.doubted
    ]
    return [pair for pair in pairs if pair != ("", "")]


def test_clock_times_are_the_farms_though_the_store_keeps_utc() -> None:
    """Rain called for 4:30 pm, a machine down till 3:00 pm: said so, not five hours off."""
    told = (
        *story_22(covered_acres=48.4),
        Event(at=at(16, 30), what="rain", clock_at=at(13)),
        Event(at=at(13), what="down", machine="Cultivator 1", took_s=7200.0),
    )
    kept = tuple(replace(one, at=one.at.astimezone(UTC)) for one in identified(told))
    found = live_answer(farm_of(RYE), at(13, 1), events=kept, replications=DAYS, tap_too=True)
    text = " ".join(
        [*words.crew_lines(found, "us"), *words.causes_lines(found, "us"),
         words.change_line(found, "us")]
    )  # fmt: skip
    assert "Rain is called for 4:30 pm." in text
    assert "because rain is called for 4:30 pm" in text
    assert "Cultivator 1 stands till 3:00 pm" in text
    assert "9:30 pm" not in text
    assert "8:00 pm" not in text


def test_the_evening_quotes_the_plan_as_the_morning_said_it() -> None:
    """14:48 was said as 2:45 pm: the evening says 2:45 pm too, not 2:50."""
    said = replace(SAID, stop_at=at(14, 48))
    events = [e for e in rye_day_one() if e.what != "plan"]
    assert words.end_line(live((said, *events), at(18, 30)), "us").startswith("Said 2:45 pm and")


def test_as_before_is_the_same_hour_to_read() -> None:
    """A minute across the five: another hour is read, so it is not "as before"."""
    first = live(story_22(covered_acres=48.4), at(13))
    assert first.day is not None
    assert first.was is not None
    stop = no_later(first.day.stop_at, "us")
    later = first.day.stop_at.replace(second=0) + timedelta(minutes=5)
    other = replace(first, was=replace(first.was, stop_at=later))
    assert words.change_line(other, "us").startswith(f"Was {no_later(later, 'us')}, now")
    same = replace(first, was=replace(first.was, stop_at=first.day.stop_at))
    assert words.change_line(same, "us") == f"As before: {stop}."
    assert words.kept_line(same, "us") == ""


def test_the_reason_after_a_tap_is_the_tap() -> None:
    """The breakdown moved it since the last telling, whatever moved it since the morning."""
    told = (*story_22(covered_acres=44.0), Event(at=at(13, 1), what="down", machine="Cultivator 1"))
    found = live_answer(
        farm_of(RYE), at(13, 2), events=identified(told), replications=DAYS, tap_too=True
    )
    line = words.tap_line(found, "us")
    assert re.fullmatch(
        r"Before the last telling the stop was 2:4[05] pm; now 2:\d\d pm, because "
        r"Cultivator 1 stands\.",
        line,
    )
    assert words.tap_line(replace(found, tap=None), "us") == ""


def test_what_a_pace_is_reckoned_with_stands_beside_its_minutes() -> None:
    """The minutes come from the reckoned pace: it is told with the shown and the planned one."""
    found = live(story_22(), at(13))
    line = next(x for x in words.causes_lines(found, "us") if x.startswith("Covering"))
    assert re.fullmatch(
        r"Covering runs 12\.3 ac/h \(plan 15\.3, reckoned with 1[34]\.\d\): \d+ min earlier "
        r"for that alone\.",
        line,
    )


def test_a_pace_that_reads_as_planned_is_no_reason() -> None:
    """15.3 for 15.3: nobody is told that it moved the stop."""
    found = slow()
    cause = found.causes[0]
    same = replace(cause, now_value=(cause.planned_value or 0.0) * 1.0001)
    assert words.causes_lines(replace(found, causes=(same,)), "us") == []
    assert "because" not in words.change_line(replace(found, causes=(same,)), "us")


def test_a_quiet_machine_is_asked_for_what_it_has_done() -> None:
    """Last heard of at eleven, asked at ten past twelve."""
    found = live((spread(30.0, at(11)), covered(10.0, at(11))), at(12, 10))
    assert words.quiet_lines(found, "us")[1] == (
        "Cultivator 1: nothing told since 11:00 am; tell what it has done."
    )


def test_seed_not_told_before_the_stop_says_why_more_lies_open_than_told() -> None:
    """Told at 14:30, stopped at 15:00: half an hour nobody told of."""
    told = (
        spread(60.0, at(14, 30)),
        covered(60.0, at(14, 40)),
        Event(at=at(15), what="stop", machine="Spreader"),
    )
    line = words.open_line(live(told, at(15)), "us")
    assert line.startswith("Nothing lies open as told; about ")
    assert line.endswith("Spreader told nothing from 2:30 pm to its stop at 3:00 pm.")


def test_lost_seed_is_said_once_and_in_acres() -> None:
    """0.4 ac left out after they were spread."""
    told = (
        Event(at=at(12), what="spread", machine="Spreader", field="A9", whole=True),
        Event(at=at(12, 30), what="wet", field="A9", area_m2=0.4 * ACRE_M2),
    )
    assert words.lost_lines(live(told, at(13)), "us") == [
        "0.4 ac left out after they were spread: their seed is lost, there is nothing to work in."
    ]
    assert words.lost_lines(slow(), "us") == []


def test_a_doubted_telling_says_what_it_would_be() -> None:
    """66 ac told after 68 min: 67 ac/h, plan 15.3."""
    told = (
        begin("Cultivator 1", at(9, 52)), spread(79.0, at(11)), covered(66.0, at(11)),
    )  # fmt: skip
    found = live(told, at(11))
    assert words.doubt_line(found.doubted[0], found, "us") == (
        "Cultivator 1, A1: 66.0 ac told at 11:00 am would be 58.2 ac/h, plan 15.3 ac/h. Not "
        "counted until you say that it is right."
    )


def test_the_crew_reads_what_the_farmer_reads() -> None:
    """Both open areas, as told and by now, and the chance: in both languages; no headline twice."""
    found = live((spread(60.0, at(12)), covered(30.0, at(12))), at(12, 30))
    for language in ("en", "es"):
        lines = " ".join(words.crew_lines(found, "us", language=language))
        for figure in ("30 ac", "36 ac", "19 ", "6:15 pm"):
            assert figure in lines
    whole = words.crew_lines(found, "us", language="es")
    assert words.crew_lines(found, "us", language="es", stop_too=False) == whole[1:]


@pytest.mark.parametrize("minutes", [0, 60, 130, 200, 310, 420, 480])
def test_every_line_is_there_in_spanish_with_the_same_figures(minutes: int) -> None:
    """Through the rye day with a slip, a breakdown, rain and a hole: no English line, no other."""
    now = at(11) + timedelta(minutes=minutes)
    told = [
        *rye_day_one(),
        covered(60.0, at(10, 40), "A6", "Cultivator 2"),
        Event(at=at(12, 59), what="down", machine="Cultivator 1"),
        Event(at=at(17), what="rain", clock_at=at(14, 20)),
        Event(at=at(14, 21), what="wet", field="A1", area_m2=0.5 * ACRE_M2),
    ]
    found = live_answer(
        farm_of(RYE),
        now,
        events=identified(e for e in told if (e.clock_at or e.at) <= now),
        replications=DAYS,
        tap_too=True,
    )
    pairs = in_spanish(found)
    assert len(pairs) > 5
    figures = r"\d+(?:[.:,]\d+)*%?(?: [ap]m)?"
    for english, spanish in pairs:
        assert english != spanish
        assert re.findall(figures, english) == re.findall(figures, spanish), (english, spanish)
        assert not re.search(r"\b(the|told|plan's|stands|open|left|and|with)\b", spanish), spanish


def test_too_little_told_is_asked_for_and_said_once() -> None:
    """The box asks; the pace beside it does not ask again."""
    told = (begin("Spreader", at(9, 30)), spread(4.0, at(12)))
    found = live(told, at(12, 1))
    assert words.doubt_line(found.doubted[0], found, "us") == (
        "Spreader: what is told up to 12:00 pm is 1.6 ac/h, plan 31.0 ac/h. Tell what is missing; "
        "until you say that it is right, it is reckoned at the planned pace."
    )
    assert "hard to believe" not in " ".join(words.pace_lines(found, "us"))


def test_a_day_whose_last_spreading_was_not_told_is_not_said_to_be_worked_in() -> None:
    """A1's 60 ac are told spread at 12 and covered at 17; the spreader ran on to its stop at 14."""
    told = (spread(60.0, at(12)), covered(60.0, at(17)))
    stop = Event(at=at(14), what="stop", machine="Spreader", id="stop-at-two")
    found = live((*told, stop), at(18, 30))
    assert found.day is None
    assert words.headline(found, "us").endswith("ac may lie open: tell what was spread last")
    assert "all that was told is worked in" in words.end_line(found, "us")
    assert words.leave_lines(found, "us") == []
    assert "Spreader told nothing from 12:00 pm to its stop at 2:00 pm" in words.open_line(
        found, "us"
    )
    plain = live(told, at(18, 30))
    assert words.headline(plain, "us") == "All that was spread is worked in"
    assert "all worked in" in words.end_line(plain, "us")

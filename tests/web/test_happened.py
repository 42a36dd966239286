"""Telling what happened: each kind by form and by a program, each refusal, nothing twice."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, get_args

import httpx
import pytest
from aside import aside
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from made_folders import ACRE_M2, copy_of

from duskline.core.log import Event, What
from duskline.web.app import create_app
from duskline.web.desk import Desk

NOON = datetime.fromisoformat("2026-10-18T13:00:00-05:00")
HECTARE_M2 = 1e4
HOSTILE = '"><script>alert(1)</script><img src=x onerror=alert(1)>{{ 7 * 7 }}\u202e'


class Phone:
    """Somebody who tells a farm's server what happened."""

    def __init__(self, folder: Path, *, pretends: bool = True, **cookies: str) -> None:
        self.now_at = NOON
        self.desk = Desk(folder, clock=lambda: self.now_at, pretends=pretends)
        self.app = create_app(self.desk)
        self.cookies = cookies

    def ask(self, method: str, path: str, **sent: Any) -> httpx.Response:
        """Return the answer; an error of the server's own is raised here."""

        async def request() -> httpx.Response:
            async with httpx.AsyncClient(
                transport=httpx.ASGITransport(app=self.app),
                base_url="http://farm",
                cookies=self.cookies,
            ) as client:
                return await client.request(method, path, **sent)

        return aside(request())

    def form(self, *, accept: str = "application/json", **told: str) -> httpx.Response:
        """Send a form, as the page's own script does."""
        return self.ask("POST", "/log", data=told, headers={"accept": accept})

    def program(self, *events: object) -> httpx.Response:
        """Send events as a program does."""
        return self.ask("POST", "/api/events", json=list(events))

    def told(self) -> tuple[Event, ...]:
        """Return the log as it stands."""
        return self.desk.farm().told

    def taken(self, **form: str) -> Event:
        """Send a form that must be taken in; returns its event."""
        answer = self.form(**form)
        assert answer.status_code == 200, answer.text
        found = {one.id: one for one in self.told()}
        return found[answer.json()["id"]]

    def refused(self, **form: str) -> str:
        """Send a form that must not be; returns the sentence."""
        before = len(self.told())
        answer = self.form(**form)
        assert answer.status_code == 422, answer.text
        assert len(self.told()) == before
        (sentence,) = answer.json()["problems"]
        assert isinstance(sentence, str)
        return sentence


Made = Callable[..., Phone]


@pytest.fixture
def phone(tmp_path: Path) -> Iterator[Made]:
    """Makes a phone on a rye farm of its own; it takes cookies."""
    made: list[Phone] = []

    def make(**more: Any) -> Phone:
        made.append(Phone(copy_of("rye-after-soybeans", tmp_path), **more))
        return made[-1]

    yield make
    for one in made:
        one.desk.close()


# --- each kind, by form --------------------------------------------------------------------

BEGUN = {"what": "spread", "machine": "Spreader", "field": "A1", "amount": "40"}


@pytest.mark.parametrize(
    ("form", "expected"),
    [
        ({"what": "begin", "machine": "Cultivator 1", "field": "A1"}, {}),
        (BEGUN, {"area_m2": 40 * ACRE_M2, "told": "40"}),
        ({**BEGUN, "amount": "12,5"}, {"area_m2": 12.5 * ACRE_M2, "told": "12,5"}),
        ({**BEGUN, "amount": "8 ha"}, {"area_m2": 8 * HECTARE_M2, "told": "8 ha"}),
        ({**BEGUN, "how": "all", "amount": ""}, {"whole": True, "told": "all", "area_m2": None}),
        ({**BEGUN, "how": "half", "amount": ""}, {"told": "half"}),
        ({"what": "load", "field": "A1"}, {"machine": "Spreader"}),
        ({"what": "stop", "machine": "Spreader"}, {}),
        ({"what": "stuck", "machine": "Cultivator 1", "field": "A1", "note": "to the hubs"},
         {"note": "to the hubs"}),
        ({"what": "wet", "field": "A1", "amount": "0.4"}, {"area_m2": 0.4 * ACRE_M2}),
        ({"what": "down", "machine": "Cultivator 1", "took": "30"}, {"took_s": 1800.0}),
        ({"what": "down", "machine": "Cultivator 1", "took": "1.5 h"}, {"took_s": 5400.0}),
        ({"what": "down", "machine": "Cultivator 1"}, {"took_s": None}),
        ({"what": "up", "machine": "Cultivator 1"}, {}),
        ({"what": "rain", "at": "16:30"}, {"at": NOON.replace(hour=16, minute=30)}),
        ({"what": "note", "note": "dust  on\nthe seed"}, {"note": "dust on the seed"}),
        ({"what": "note", "note": "x", "ago": "20"}, {"at": NOON - timedelta(minutes=20)}),
        ({"what": "note", "note": "x", "at": "9:05"}, {"at": NOON.replace(hour=9, minute=5)}),
    ],
)  # fmt: skip
def test_each_kind_is_told_by_a_form(
    phone: Made, form: dict[str, str], expected: dict[str, Any]
) -> None:
    """As the driver knows it; now, unless another time is told."""
    told = phone().taken(**form)
    whole: dict[str, Any] = {"at": NOON, **form, **expected}
    for apart in ("how", "amount", "took", "ago"):
        whole.pop(apart, None)
    for name, value in whole.items():
        got = getattr(told, name)
        assert got == (pytest.approx(value) if isinstance(value, float) else value), name
    assert told.id
    assert told.server_at == NOON


def test_a_load_weighs_what_the_spreader_holds(phone: Made) -> None:
    """One load, in the mass of the farm's own lot."""
    mass_kg = phone().taken(what="load", field="A1").mass_kg
    assert mass_kg is not None
    assert 1000.0 < mass_kg < 5000.0


@pytest.mark.parametrize(
    ("how", "amount", "acres"),
    [("area", "12", 12.0), ("open", "", 40.0), ("half", "", 20.0), ("passes", "12", None),
     ("rounds", "2", None)],
)  # fmt: skip
def test_worked_in_is_told_by_passes_rounds_shares_or_acres(
    phone: Made, how: str, amount: str, acres: float | None
) -> None:
    """40 acres lie open: half of them is 20; passes and rounds are some of them."""
    one = phone()
    one.taken(**BEGUN)
    told = one.taken(what="covered", field="A1", machine="Cultivator 1", how=how, amount=amount)
    assert told.area_m2 is not None
    if acres is None:
        assert 0.5 < told.area_m2 / ACRE_M2 < 40.0
        assert told.told == f"{amount} {how}"
    else:
        assert told.area_m2 / ACRE_M2 == pytest.approx(acres)


def counted(one: Phone, what: What) -> int:
    """How many tellings of a kind count."""
    return [event.what for event in one.desk.farm().log].count(what)


def test_undo_takes_an_event_back(phone: Made) -> None:
    """By another event that refers to it; the first stays in the log, and counts no more."""
    one = phone()
    first = one.taken(**BEGUN)
    assert counted(one, "spread") == 1
    undone = one.taken(what="undo", refers=first.id)
    assert (undone.refers, undone.area_m2) == (first.id, None)
    assert counted(one, "spread") == 0
    assert len(one.told()) == 2


def test_both_lets_two_equal_tellings_stand(phone: Made) -> None:
    """The driver and the one at the radio tell of 20 acres each: once, until one says both."""
    one = phone(device="aaaaaaaa")
    one.taken(**BEGUN)
    covered = {"what": "covered", "machine": "Cultivator 1", "field": "A1", "amount": "20"}
    one.taken(**covered)
    one.cookies = {"device": "bbbbbbbb"}
    second = one.taken(**covered)
    assert counted(one, "covered") == 1
    assert "Both are right" in one.ask("GET", "/").text
    one.taken(what="both", refers=second.id)
    assert counted(one, "covered") == 2
    assert "Both are right" not in one.ask("GET", "/").text


def test_who_and_which_device_stand_with_the_event(phone: Made) -> None:
    """From the page's own cookies; a name that is none of the farm's people is left out."""
    one = phone(device="1a2b3c4d", person="Helper")
    told = one.taken(what="note", note="x")
    assert (told.device, told.person) == ("1a2b3c4d", "Helper")
    one.cookies = {"device": "d" * 200, "person": "Stranger"}
    told = one.taken(what="note", note="y")
    assert (told.device, told.person) == ("", "")


def test_without_a_script_the_form_goes_back_to_the_page(phone: Made) -> None:
    """The browser is sent on to Today, which names the event."""
    one = phone()
    answer = one.form(accept="text/html", what="note", note="by hand")
    assert answer.status_code == 303
    (told,) = one.told()
    assert answer.headers["location"] == f"/?did={told.id}"
    page = one.ask("GET", answer.headers["location"])
    assert page.status_code == 200
    assert "Recorded: note: by hand." in page.text


def test_without_a_script_a_refusal_is_a_page(phone: Made) -> None:
    """With the sentence on it."""
    answer = phone().form(accept="text/html", what="covered", field="A1")
    assert answer.status_code == 422
    assert "Choose the machine: Cultivator 1, Cultivator 2." in answer.text
    assert answer.headers["content-type"].startswith("text/html")


# --- refusals ------------------------------------------------------------------------------

COVERED = {"what": "covered", "machine": "Cultivator 1", "field": "A1"}


@pytest.mark.parametrize(
    ("form", "sentence"),
    [
        ({"what": "harvest"}, "There is no event 'harvest'."),
        ({"what": "plan"}, "There is no event 'plan'."),
        ({**BEGUN, "machine": "Cultivator 1"}, "Choose the machine: Spreader."),
        ({**COVERED, "machine": "Spreader"}, "Choose the machine: Cultivator 1, Cultivator 2."),
        ({**COVERED, "machine": ""}, "Choose the machine: Cultivator 1, Cultivator 2."),
        ({"what": "stuck"},
         "Choose the machine: Spreader, Cultivator 1, Cultivator 2, Seed truck."),
        ({**BEGUN, "field": "Z9"}, "Choose the field: "),
        ({"what": "load", "field": ""}, "Choose the field: "),
        ({**BEGUN, "amount": ""}, "Read ''; expected "),
        ({**BEGUN, "amount": "many"}, "Read 'many'; expected "),
        ({**BEGUN, "amount": "0"}, "Read '0'; expected an area above nothing, such as \"12 ac\"."),
        ({**BEGUN, "amount": "-3 ac"}, "Read '-3 ac'; expected "),
        ({**BEGUN, "amount": "12 lb"}, "Read '12 lb'; expected "),
        ({**BEGUN, "amount": "9000"}, "A1 has "),
        ({**BEGUN, "amount": "nan"}, "Read 'nan'; expected "),
        ({**BEGUN, "amount": "1e309 ac"}, "Read '1e309 ac'; expected "),
        ({**COVERED, "how": "passes", "amount": "0"},
         "Read '0'; expected how many passes, such as 12."),
        ({**COVERED, "how": "rounds", "amount": "1000"},
         "Read '1000'; expected how many rounds, such as 12."),
        ({"what": "note", "at": "25:00"}, "Read '25:00'; expected a clock time such as 13:05."),
        ({"what": "note", "at": "23:59"},
         "23:59 has not come yet. Tell what happened once it has."),
        ({"what": "note", "ago": "soon"}, "Read 'soon'; expected minutes, such as 20."),
        ({"what": "note", "ago": "9999"}, "Read '9999'; expected minutes, such as 20."),
        ({"what": "note", "ago": "²"}, "Read '²'; expected minutes, such as 20."),
        ({"what": "down", "machine": "Spreader", "took": "a while"},
         "Read 'a while'; expected "),
        ({"what": "down", "machine": "Spreader", "took": "-30 min"},
         "Read '-30 min'; expected "),
        ({"what": "down", "machine": "Spreader", "took": "9999999"},
         "Read '9999999'; expected "),
        ({"what": "undo", "refers": "nothing-there"},
         "That event is not in the log; look at the log again."),
        ({"what": "undo"}, "That event is not in the log; look at the log again."),
        ({"what": "note", "note": "x" * 301}, "note: String should have at most 300 characters"),
        ({}, "what: Field required"),
    ],
)  # fmt: skip
def test_each_refusal_says_what_to_change(phone: Made, form: dict[str, str], sentence: str) -> None:
    """One sentence, and nothing is written."""
    assert phone().refused(**form).startswith(sentence)


def test_nothing_open_is_not_written_down_as_work_done(phone: Made) -> None:
    """It used to be recorded as 0.0 ac worked in, and moved the stop."""
    one = phone()
    one.taken(**BEGUN)
    one.taken(**COVERED, how="open")
    for how in ("open", "half"):
        assert one.refused(**COVERED, how=how).startswith("Nothing lies open in A1. "), how
    assert one.refused(**{**COVERED, "field": "A4", "how": "open"}).startswith(
        "Nothing lies open in A4. "
    )
    one.now_at += timedelta(hours=1)
    one.taken(**COVERED, how="all")
    assert one.refused(**COVERED, how="all").startswith("Nothing is left of A1: ")


@pytest.mark.parametrize("what", ["spread", "covered"])
def test_more_passes_than_the_field_has_are_a_slip(phone: Made, what: str) -> None:
    """60 passes of a field that has 22 used to be taken for the whole field."""
    one = phone()
    machine = "Spreader" if what == "spread" else "Cultivator 1"
    form = {"what": what, "machine": machine, "field": "A8", "how": "passes"}
    sentence = one.refused(**form, amount="60")
    found = re.match(r"A8 has (\d+) passes for (.+), not 60\. ", sentence)
    assert found, sentence
    assert found[2] == machine
    count = int(found[1])
    # All of them and one more may be a strip driven twice; half as many again is a slip.
    assert one.refused(**form, amount=str(round(1.5 * count))).startswith(f"A8 has {count} ")
    told = one.taken(**form, amount=str(count))
    # The rounds along the edges are the rest of it.
    assert told.area_m2 is not None
    assert 0.5 < told.area_m2 / field_m2(one, "A8") <= 1.0


def test_more_rounds_than_the_field_has_are_a_slip(phone: Made) -> None:
    """Nobody drives 60 rounds in 40 acres with 30 feet: it would be the field many times."""
    sentence = phone().refused(**{**COVERED, "field": "A8"}, how="rounds", amount="60")
    assert re.match(r"60 rounds of Cultivator 1 would be \d+ ac, and A8 has ", sentence), sentence


def test_passes_told_since_the_morning_instead_of_since_the_last_telling(phone: Made) -> None:
    """Told again from the first pass on, they come to more than is left: that is said."""
    one = phone()
    form = {"what": "spread", "machine": "Spreader", "field": "A8", "how": "passes"}
    count = int(one.refused(**form, amount="99").split(" ")[2])
    one.taken(**form, amount=str(count - 4))
    one.now_at += timedelta(hours=1)
    sentence = one.refused(**form, amount=str(count))
    assert sentence.startswith(f"{count} passes are "), sentence
    assert "of A8 are left to spread." in sentence
    assert one.taken(**form, amount="3").area_m2 is not None


@pytest.mark.parametrize(("at", "past"), [("12:59", "12:59 pm"), ("1:30", "1:30 am")])
def test_rain_is_not_called_for_a_time_that_is_past(phone: Made, at: str, past: str) -> None:
    """It used to end the day at once; the present minute is rain that falls already."""
    one = phone()
    sentence = one.refused(what="rain", at=at)
    assert sentence.startswith(f"{past} is past, ")
    assert sentence.endswith("if it rains now, 1:00 pm.")
    assert one.refused(what="rain", ago="20").startswith("12:40 pm is past, ")
    assert one.taken(what="rain", at="13:00").at == NOON


def field_m2(one: Phone, name: str) -> float:
    """The ground of a field."""
    return next(f.record_area_m2 for f in one.desk.farm().fields if f.name == name)


# --- told again ----------------------------------------------------------------------------


def test_a_form_sent_again_under_its_id_is_told_once(phone: Made) -> None:
    """The answer was lost; four seconds and another phone's event later it comes again.

    It used to be kept twice, its moment being another, and shown as told differently.
    """
    one = phone()
    form = {**BEGUN, "id": "11111111-2222-3333"}
    first = one.taken(**form)
    one.now_at += timedelta(seconds=4)
    one.taken(what="note", note="between")
    assert one.taken(**form) == first
    assert [event.what for event in one.told()].count("spread") == 1


def test_all_open_sent_again_is_not_refused_for_being_done(phone: Made) -> None:
    """Nothing lies open the second time, since it was taken in the first."""
    one = phone()
    one.taken(**BEGUN)
    form = {**COVERED, "how": "open", "id": "44444444-2222-3333"}
    first = one.taken(**form)
    assert first.area_m2 == pytest.approx(40 * ACRE_M2)
    assert one.taken(**form) == first
    assert len(one.told()) == 2


def test_what_was_taken_in_is_not_refused_when_it_comes_again(phone: Made) -> None:
    """The machine was given another name in the farm's file meanwhile."""
    one = phone()
    form = {**BEGUN, "id": "77777777-2222-3333"}
    first = one.taken(**form)
    path = one.desk.folder / "farm.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('"Spreader"', '"Red one"'), encoding="utf-8")
    assert one.refused(**BEGUN).startswith("Choose the machine: Red one")
    assert one.taken(**form) == first


def test_an_odd_id_is_not_taken_over(phone: Made) -> None:
    """Too short, or with letters that are none of an id: the server gives its own."""
    one = phone()
    for odd in ("", "short", "<b>not an id</b>", "spaces in it"):
        assert one.taken(what="note", note="x", id=odd).id != odd
    assert len(one.told()) == 4


def test_a_program_may_send_everything_again(phone: Made) -> None:
    """Also within one message; what it is told is when each was first taken in."""
    one = phone()
    first = one.program(event(), event(id="other-00001"), event())
    assert first.status_code == 200
    one.now_at += timedelta(hours=1)
    again = one.program(event(id="other-00001"), event())
    assert len(one.told()) == 2
    assert [row["id"] for row in first.json()["taken"]] == [
        "event-0001",
        "other-00001",
        "event-0001",
    ]
    assert {row["server_at"] for row in again.json()["taken"]} == {"2026-10-18T18:00:00+00:00"}


# --- programs ------------------------------------------------------------------------------


def event(**more: object) -> dict[str, object]:
    """Return an event as a program tells it."""
    return {
        "id": "event-0001",
        "at": "2026-10-18T12:30:00-05:00",
        "what": "covered",
        "machine": "Cultivator 1",
        "field": "A1",
        "area_m2": 4000.0,
        **more,
    }


@pytest.mark.parametrize("what", get_args(What))
def test_each_kind_is_told_by_a_program_and_given_back(phone: Made, what: str) -> None:
    """What goes in comes out, and every page of the day still opens."""
    one = phone()
    sent = event(what=what, refers="event-0000" if what in ("undo", "both") else "", note="so")
    assert one.program(event(id="event-0000", what="note"), sent).status_code == 200
    found = {row["id"]: row for row in one.ask("GET", "/api/events").json()}["event-0001"]
    for name, value in sent.items():
        if name == "at":
            assert datetime.fromisoformat(found["at"]) == NOON - timedelta(minutes=30)
        else:
            assert found[name] == value
    assert one.ask("GET", "/today/live").status_code == 200


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"id": "short"}, "0.id: "),
        ({"at": "2026-10-18T12:30:00"}, "0.at: "),
        ({"at": "noon"}, "0.at: "),
        ({"at": "0001-01-01T00:00:00+14:00"}, "0.at: "),
        ({"at": "9999-12-31T23:59:59-12:00"}, "0.at: "),
        ({"clock_at": "0001-01-01T00:00:00+14:00"}, "0.clock_at: "),
        ({"clock_at": "9999-12-31T23:59:59-12:00"}, "0.clock_at: "),
        ({"what": "harvest"}, "0.what: "),
        ({"area_m2": -1}, "0.area_m2: "),
        ({"area_m2": 1e12}, "0.area_m2: "),
        ({"area_m2": "NaN"}, "0.area_m2: "),
        ({"took_s": 1e9}, "0.took_s: "),
        ({"note": "x" * 301}, "0.note: "),
        ({"price": 3}, "0.price: "),
        ({"server_at": "2026-10-18T12:30:00-05:00"}, "0.server_at: "),
        ({"note": "a\x00b"}, "The note holds a letter that is none."),
    ],
)
def test_a_programs_slip_is_refused_with_its_place(
    phone: Made, wrong: dict[str, object], sentence: str
) -> None:
    """And the sound events sent with it are not taken in either: all or none."""
    one = phone()
    answer = one.program({**event(), **wrong}, event(id="event-0002"))
    assert answer.status_code == 422
    assert answer.json()["problems"][0].startswith(sentence)
    assert one.told() == ()


def test_no_more_than_five_hundred_at_once(phone: Made) -> None:
    """The rest is sent in the next message."""
    one = phone()
    many = [event(id=f"event-{number:04d}") for number in range(501)]
    assert one.program(*many).status_code == 422
    assert one.program(*many[:500]).status_code == 200
    assert len(one.told()) == 500


@pytest.mark.parametrize(
    "body",
    [b"", b"{", b"null", b"{}", b"[null]", b"[[]]", b"\xff\xfe", b'[{"\\ud800": 1}]',
     b"[" * 100_000, b'[{"area_m2": ' + b"9" * 5000 + b"}]", b'{"a": 1e400}'],
    ids=range(11),
)  # fmt: skip
def test_a_message_that_is_none_is_refused(phone: Made, body: bytes) -> None:
    """Never a fault of the server's."""
    one = phone()
    answer = one.ask(
        "POST", "/api/events", content=body, headers={"content-type": "application/json"}
    )
    assert 400 <= answer.status_code < 500
    assert answer.json()["problems"]


# --- whatever a stranger sends -------------------------------------------------------------

ANY_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner),
    max_leaves=6,
)
MOMENTS = st.datetimes(timezones=st.just(UTC)).map(datetime.isoformat) | st.sampled_from(
    ["0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-12:00", "2026-10-18T12:00:00-05:00",
     "2026-11-01T01:30:00-06:00"]
)  # fmt: skip
FIGURES = st.none() | st.floats(0.0, 1e8) | st.sampled_from([0.0, 5e-324, 4000.0, 1e6])
WORDS = st.text(max_size=30) | st.sampled_from(
    ["", "A1", "A4", "Spreader", "Cultivator 1", HOSTILE]
)
NEARLY = st.fixed_dictionaries(
    {
        "id": st.sampled_from([f"event-{number:04d}" for number in range(6)])
        | st.text(max_size=10),
        "at": MOMENTS,
        "what": st.sampled_from(get_args(What)),
    },
    optional={
        "machine": WORDS,
        "field": WORDS,
        "area_m2": FIGURES,
        "mass_kg": FIGURES,
        "took_s": FIGURES,
        "note": WORDS,
        "whole": st.booleans(),
        "told": WORDS,
        "device": WORDS,
        "person": WORDS,
        "clock_at": st.none() | MOMENTS,
        "refers": st.sampled_from([f"event-{number:04d}" for number in range(6)]) | WORDS,
    },
)


@pytest.fixture(scope="module")
def open_to_all(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Phone]:
    """One server that a stranger sends everything to; its log grows through the whole test."""
    one = Phone(copy_of("rye-after-soybeans", tmp_path_factory.mktemp("farm")))
    yield one
    one.desk.close()


@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(message=st.lists(NEARLY | ANY_JSON, max_size=4) | ANY_JSON)
def test_no_message_is_a_fault_of_the_server(open_to_all: Phone, message: Any) -> None:
    """Taken in or refused in a sentence; the log can be read and Today opens all the same."""
    body = json.dumps(message).encode()
    answer = open_to_all.ask(
        "POST", "/api/events", content=body, headers={"content-type": "application/json"}
    )
    assert answer.status_code in {200, 400, 422}
    if answer.status_code == 200:
        assert open_to_all.ask("GET", "/api/events").status_code == 200
        assert open_to_all.ask("GET", "/today/live").status_code == 200
    else:
        assert all(isinstance(one, str) and one for one in answer.json()["problems"])


@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
@given(
    form=st.dictionaries(
        st.sampled_from(
            ["what", "machine", "field", "how", "amount", "ago", "at", "took", "note", "refers",
             "id", "clock_at"]
        ),
        WORDS
        | st.sampled_from(
            [*get_args(What), "all", "open", "half", "passes", "12", "0.4", "²", "13:05", "9e99 ac",
             "1/0", "12 ac ** 9", "0001-01-01T00:00:00+14:00"]
        ),
    )
)  # fmt: skip
def test_no_form_is_a_fault_of_the_server(open_to_all: Phone, form: dict[str, str]) -> None:
    """Taken in or refused in a sentence."""
    answer = open_to_all.form(**form)
    assert answer.status_code in {200, 422}
    if answer.status_code == 422:
        assert all(isinstance(one, str) and one for one in answer.json()["problems"])


# --- hostile text --------------------------------------------------------------------------


def test_hostile_text_is_shown_as_text(phone: Made) -> None:
    """In a note by form, and in every text a program may send; also in a refusal."""
    one = phone()
    one.taken(what="note", note=HOSTILE)
    texts = dict.fromkeys(("machine", "field", "note", "person", "device"), HOSTILE)
    assert one.program(event(what="stuck", **texts)).status_code == 200
    wet = event(id="event-0002", what="wet", field=HOSTILE[:40], told=HOSTILE[:60])
    assert one.program(wet).status_code == 200
    for path in ("/", "/today/live", "/today/paper", "/today/followed", "/drives"):
        page = one.ask("GET", path)
        assert page.status_code == 200
        assert "<script>alert" not in page.text
        assert "<img src=x" not in page.text
    assert "&lt;script&gt;alert(1)" in one.ask("GET", "/").text
    refused = one.form(accept="text/html", what=HOSTILE[:20])
    assert refused.status_code == 422
    assert "<script>" not in refused.text


# --- clocks --------------------------------------------------------------------------------


@pytest.mark.parametrize("pretends", [True, False])
def test_a_devices_clock_is_kept_unless_the_page_pretends(phone: Made, *, pretends: bool) -> None:
    """A page on a clock that was set has no true time to compare a phone's with."""
    one = phone(pretends=pretends)
    told = one.taken(what="note", note="x", clock_at="2026-10-18T18:01:30Z")
    expected = None if pretends else datetime(2026, 10, 18, 18, 1, 30, tzinfo=UTC)
    assert told.clock_at == expected


@pytest.mark.parametrize(
    "odd", ["", "soon", "2026-10-18T13:00:00", "0001-01-01T00:00:00+14:00", "1960-01-01T00:00:00Z"]
)
def test_a_devices_odd_clock_stops_nobody(phone: Made, odd: str) -> None:
    """The event is taken in without it, and the log can be read."""
    one = phone(pretends=False)
    assert one.taken(what="note", note="x", clock_at=odd).clock_at is None
    assert one.ask("GET", "/api/events").status_code == 200


def test_the_same_clock_time_is_of_the_farms_own_day(phone: Made) -> None:
    """An hour after midnight, "0:30" was half an hour ago."""
    one = phone()
    one.now_at = datetime.fromisoformat("2026-10-19T06:00:00+00:00")
    assert one.taken(what="note", note="x", at="0:30").at == one.now_at - timedelta(minutes=30)

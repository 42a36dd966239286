"""The desk: an answer is worked out once for each state of the farm, and renewed after."""

from __future__ import annotations

import contextvars
import os
import threading
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from made_folders import copy_of

from duskline.core.log import Event
from duskline.store import open_store
from duskline.web import desk as the_desk
from duskline.web.desk import Desk, FarmNotReady, running_from

NOON = datetime.fromisoformat("2026-10-18T13:00:00-05:00")
LOG = "time,machine,what,field,amount,took,note\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A rye farm of its own."""
    return copy_of("rye-after-soybeans", tmp_path)


@pytest.fixture
def desk(folder: Path) -> Iterator[Desk]:
    """Its desk, at one."""
    found = Desk(folder, clock=lambda: NOON)
    yield found
    found.close()


def note(text: str, number: int = 0) -> Event:
    """An event that changes no area."""
    return Event(
        at=NOON - timedelta(minutes=60 - number), what="note", note=text, id=f"{text}-{number}-00"
    )


def change(folder: Path, old: str, new: str) -> None:
    """Edit the farm's text, as by hand."""
    path = folder / "farm.toml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


class Counting:
    """A piece of work that counts how often it was done."""

    def __init__(self) -> None:
        self.count = 0

    def __call__(self) -> int:
        """Return how often it has been done."""
        self.count += 1
        return self.count


def asked(desk: Desk, make: Callable[[], int], *, of_log: bool = True) -> int:
    """Ask as a request does: in a context of its own, for the farm first."""

    def request() -> int:
        desk.farm()
        return desk.answer("question", make, of_log=of_log)

    return contextvars.Context().run(request)


# --- once for each state -------------------------------------------------------------------


def test_an_answer_is_worked_out_once_while_nothing_changes(desk: Desk) -> None:
    """Three who ask, one piece of work."""
    make = Counting()
    assert [asked(desk, make) for _ in range(3)] == [1, 1, 1]


def test_an_event_renews_the_answers_that_hang_on_the_log(desk: Desk) -> None:
    """And leaves those that do not."""
    of_log, of_farm = Counting(), Counting()
    assert asked(desk, of_log) == 1
    assert asked(desk, of_farm, of_log=False) == 1
    desk.append([note("dust")])
    assert asked(desk, of_log) == 2
    assert asked(desk, of_farm, of_log=False) == 1
    assert [one.note for one in desk.farm().told] == ["dust"]


def test_an_event_of_another_process_is_seen(desk: Desk, folder: Path) -> None:
    """Another store on the same file, as ``duskline log`` opens it."""
    make = Counting()
    assert asked(desk, make) == 1
    with open_store(folder) as other:
        other.append([note("by radio")])
    assert asked(desk, make) == 2
    assert [one.note for one in desk.farm().told] == ["by radio"]


def test_a_changed_file_renews_the_farm_and_every_answer(desk: Desk, folder: Path) -> None:
    """Another name; and the same bytes put in place anew by a program count as a change too."""
    make = Counting()
    name = desk.farm().name
    assert asked(desk, make, of_log=False) == 1
    change(folder, f'name = "{name}"', 'name = "Other"')
    assert desk.farm().name == "Other"
    assert asked(desk, make, of_log=False) == 2


def test_a_file_replaced_at_the_same_size_and_moment_is_seen(desk: Desk, folder: Path) -> None:
    """As a program that keeps the moments of its files does."""
    path = folder / "farm.toml"
    before = path.stat()
    text = path.read_text(encoding="utf-8")
    name = desk.farm().name
    other = "Z" * len(name)
    (folder / "new").write_text(text.replace(f'"{name}"', f'"{other}"', 1), encoding="utf-8")
    os.utime(folder / "new", ns=(before.st_atime_ns, before.st_mtime_ns))
    (folder / "new").replace(path)
    assert desk.farm().name == other


def test_the_store_and_the_written_log_do_not_count_as_changed_files(
    desk: Desk, folder: Path
) -> None:
    """What the program itself writes all the time."""
    make = Counting()
    assert asked(desk, make, of_log=False) == 1
    (folder / "log.csv").write_text(LOG, encoding="utf-8")
    (folder / "duskline.db-journal").write_bytes(b"")
    (folder / ".farm.toml.part").write_text("half a", encoding="utf-8")
    assert asked(desk, make, of_log=False) == 1


def test_an_answer_belongs_to_the_farm_that_its_asker_holds(desk: Desk) -> None:
    """An event comes in while somebody works with the farm of before: the next one is asked anew.

    It used to be kept as the answer of the farm with the event, for good.
    """

    def slow_request() -> int:
        farm = desk.farm()
        desk.append([note("meanwhile")])
        return desk.answer("count", lambda: len(farm.told))

    def two_requests() -> tuple[int, int]:
        first = slow_request()
        farm = desk.farm()
        return first, desk.answer("count", lambda: len(farm.told))

    assert contextvars.Context().run(two_requests) == (0, 1)


def test_who_asks_without_a_farm_is_answered_about_the_present_one(desk: Desk) -> None:
    """As a piece of work in the background does."""
    desk.append([note("one")])

    def work() -> int:
        return desk.answer("count", lambda: len(desk.farm().told))

    assert contextvars.Context().run(work) == 1


# --- many at once --------------------------------------------------------------------------


def in_threads(count: int, work: Callable[[int], None]) -> None:
    """Do it in so many threads at once; what one of them raises is raised here."""
    wrong: list[BaseException] = []
    together = threading.Barrier(count)

    def one(number: int) -> None:
        together.wait()
        try:
            work(number)
        except BaseException as error:
            wrong.append(error)

    threads = [threading.Thread(target=one, args=(number,)) for number in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    if wrong:
        raise wrong[0]


def test_many_who_ask_at_once_share_one_piece_of_work(desk: Desk) -> None:
    """Eight threads; the work takes longer than they need to come together."""
    working = Counting()
    found: list[int] = []
    rest = threading.Event()

    def make() -> int:
        rest.wait(0.3)
        return working()

    in_threads(8, lambda _: found.append(asked(desk, make)))
    assert found == [1] * 8


def test_different_questions_do_not_wait_for_each_other(desk: Desk) -> None:
    """The first is answered only once the second is."""
    second = threading.Event()

    def work(number: int) -> None:
        desk.farm()
        if number == 0:
            assert desk.answer("first", lambda: second.wait(20.0))
        else:
            desk.answer("second", second.set)

    in_threads(2, work)


def test_threads_that_tell_and_ask_at_once_lose_nothing(desk: Desk) -> None:
    """Four tell ten events each, four look on: what is seen never shrinks, all is there at last."""

    def work(number: int) -> None:
        if number < 4:
            for step in range(10):
                desk.append([note(f"phone{number}", step)])
            return
        seen = 0
        for _ in range(20):
            now = len(desk.farm().told)
            assert now >= seen
            seen = now

    in_threads(8, work)
    assert len({one.id for one in desk.farm().told}) == 40


def test_one_id_told_by_many_at_once_is_one_event(desk: Desk) -> None:
    """A phone that tells again while its first message is still on its way."""
    kept: list[Event] = []

    def work(number: int) -> None:
        event = Event(
            at=NOON + timedelta(seconds=number), what="note", note=str(number), id="the-same-id"
        )
        kept.append(desk.append_once(event))

    in_threads(6, work)
    assert len(desk.store.all_events()) == 1
    assert len({one.note for one in kept}) == 1


# --- work that goes wrong ------------------------------------------------------------------


def test_work_that_failed_is_not_kept_and_leaves_nothing_behind(desk: Desk) -> None:
    """The next who asks tries again; no lock is kept for each question that ever failed."""

    def fail() -> int:
        raise ValueError("no hours")

    for number in range(5):
        with pytest.raises(ValueError, match="no hours"):
            desk.answer(("failing", number), fail)
    assert desk._making == {}
    assert desk.answer(("failing", 0), lambda: 7) == 7


def test_answers_are_bounded_the_oldest_goes(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever a stranger asks for, memory does not grow."""
    monkeypatch.setattr(the_desk, "MOST_ANSWERS", 3)
    make = Counting()
    for key in ("a", "b", "c"):
        desk.answer(key, make)
    desk.answer("a", make)  # asked for again: not the oldest any more
    desk.answer("d", make)
    assert make.count == 4
    assert desk.answer("a", make) == 1
    assert desk.answer("b", make) == 5
    assert len(desk._answers) == 3


# --- folders that are not ready ------------------------------------------------------------


def test_an_empty_folder_is_said_to_be_no_farm_yet_and_gets_no_store(tmp_path: Path) -> None:
    """A first visit."""
    desk = Desk(tmp_path, clock=lambda: NOON)
    with pytest.raises(FarmNotReady) as caught:
        desk.farm()
    assert [one.file for one in caught.value.problems] == ["farm.toml"]
    assert list(tmp_path.iterdir()) == []
    desk.close()


def test_a_fault_in_a_file_is_told_and_gone_once_it_is_mended(desk: Desk, folder: Path) -> None:
    """Broken by hand while the server runs."""
    desk.farm()
    change(folder, "name =", "nmae =")
    with pytest.raises(FarmNotReady) as caught:
        desk.farm()
    assert any("nmae" in one.sentence for one in caught.value.problems)
    change(folder, "nmae =", "name =")
    assert desk.farm().fields


def test_a_written_log_is_taken_in_once(folder: Path) -> None:
    """The store then is the record: what is written into log.csv later changes nothing."""
    line = "2026-10-18 10:00,Spreader,spread,A1,20 ac,,\n"
    (folder / "log.csv").write_text(LOG + line, encoding="utf-8")
    for _ in range(2):
        desk = Desk(folder, clock=lambda: NOON)
        assert [one.what for one in desk.farm().told] == ["spread"]
        (folder / "log.csv").write_text(LOG + line + line, encoding="utf-8")
        assert len(desk.farm().told) == 1
        desk.close()


def test_a_fault_in_a_written_log_is_told_until_it_is_mended(folder: Path) -> None:
    """And the store that takes it in is not made before; it used to stay so for ever."""
    (folder / "log.csv").write_text(LOG + "yesterday,Spreader,spread,A1,20 ac,,\n", "utf-8")
    desk = Desk(folder, clock=lambda: NOON)
    for _ in range(2):
        with pytest.raises(FarmNotReady) as caught:
            desk.farm()
        assert {one.file for one in caught.value.problems} == {"log.csv"}
        assert not (folder / "duskline.db").exists()
    (folder / "log.csv").write_text(LOG + "2026-10-18 10:00,Spreader,spread,A1,20 ac,,\n", "utf-8")
    assert len(desk.farm().told) == 1
    desk.close()


def test_a_desk_that_was_closed_opens_its_store_again(desk: Desk) -> None:
    """Nothing is lost and nothing twice."""
    desk.append([note("before")])
    assert len(desk.farm().told) == 1
    desk.close()
    desk.append([note("after")])
    assert [one.note for one in desk.farm().told] == ["before", "after"]


# --- clocks --------------------------------------------------------------------------------


def test_a_clock_set_to_another_time_runs_on_from_there() -> None:
    """A quarter of an hour later it is a quarter past."""
    true = [NOON + timedelta(days=40)]
    clock = running_from(NOON, lambda: true[0])
    assert clock() == NOON
    true[0] += timedelta(minutes=15)
    assert clock() == NOON + timedelta(minutes=15)


def test_now_is_told_in_the_farms_zone(desk: Desk) -> None:
    """Wherever the server stands."""
    now_at = desk.now(desk.farm())
    assert now_at == NOON
    assert str(now_at.tzinfo) == "America/Chicago"

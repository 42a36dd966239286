"""``duskline log``, ``backup``, ``restore`` and ``doctor``: the record of what happened."""

from __future__ import annotations

import difflib
import re
import secrets
import socket
import sys
from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from duskline.answers.telling import settled, with_log
from duskline.cli.run import DONE, NO, big, date_of, dump, heading, note, say
from duskline.core.farm import Farm
from duskline.core.log import Event, FieldState, Settled
from duskline.store.farm import (
    export_log,
    in_zone,
    open_farm_store,
    read_farm_with_store,
)
from duskline.store.store import Store, is_address, open_store
from duskline.units import UnitError, parse
from duskline.words import log as words

__all__ = ["backup", "doctor", "log", "restore"]

OF_SPREADERS = ("spread", "load", "stop")
OF_MACHINES = ("begin", "stuck", "down", "up")
WITH_FIELD = ("begin", "spread", "load", "covered", "wet")
WITH_AMOUNT = ("spread", "covered", "wet", "load")
WITH_TIME = ("spread", "covered", "load", "down", "stuck")
REFERRING = ("undo", "both")
LONGEST_DEVICE = 60
COUNTED = re.compile(r"(\d{1,3}(?:\.\d)?) ?(pass|passes|round|rounds)")


def log(
    place: str,
    what: str | None,
    refers: str | None,
    *,
    as_json: bool,
    on: str | None,
    **asked: str | None,
) -> None:
    """Take one event in, or print the events of a day and what they add up to."""
    farm = read_farm_with_store(place)
    zone = ZoneInfo(farm.time_zone)
    if what is None:
        _refuse_idle(refers, asked)
        _show_day(farm, date_of(on) or _last_day(farm, zone), zone, as_json=as_json)
        sys.exit(DONE)
    event = _event(farm, what, refers, date_of(on), asked)
    with _store_of(place) as store:
        taken = store.append([event])[0]
        told = in_zone(store.all_events(), zone)
        _export(store, place, farm)
    _show_taken(with_log(farm, told), taken, zone, as_json=as_json)
    sys.exit(DONE)


def _store_of(place: str) -> Store:
    return open_store(place) if is_address(place) else open_farm_store(Path(place))


def _export(store: Store, place: str, farm: Farm) -> None:
    if is_address(place):
        return
    aside = export_log(store, Path(place), zone=ZoneInfo(farm.time_zone), system=farm.system)
    if aside is not None:
        note(
            f"log.csv had been changed by hand; it is kept as {aside.name}. The record is the "
            "store: tell the change with `duskline log`."
        )


# --------------------------------------------------------------------------- one event


def _event(
    farm: Farm, what: str, refers: str | None, on: date | None, asked: dict[str, str | None]
) -> Event:
    """Turn the command line into one event."""
    at_text, amount = asked["at"], asked["amount"]
    if what == "rain" and not at_text:
        raise UnitError("no --at", 'the time rain is called for, such as --at "16:30"')
    if what == "note" and not asked["note"]:
        raise UnitError("no --note", 'what to note, such as --note "dew until ten"')
    if what not in WITH_AMOUNT and amount:
        raise UnitError(amount, f"no --amount: {what} has none")
    if what not in WITH_TIME and asked["took"]:
        raise UnitError(asked["took"], f"no --took: {what} has none")
    now_at = datetime.now(UTC)
    zone = ZoneInfo(farm.time_zone)
    machine, field = _machine(farm, what, asked["machine"]), _field(farm, what, asked["field"])
    refers = _refers(farm, what, refers)
    figures = _figures(farm, what, amount, machine, field)
    return Event(
        at=_at(at_text, None if refers else on, now_at.astimezone(zone), zone),
        what=what,  # type: ignore[arg-type]
        machine=machine,
        field=field,
        took_s=parse(asked["took"], "time") if asked["took"] else None,
        note=asked["note"] or "",
        told=amount or "",
        id=secrets.token_hex(8),
        device=socket.gethostname()[:LONGEST_DEVICE],
        person=asked["person"] or "",
        clock_at=now_at,
        refers=refers,
        **figures,
    )


def _at(text: str | None, on: date | None, now_at: datetime, zone: ZoneInfo) -> datetime:
    """Return when it happened: now, a clock time of the day, or a whole moment."""
    if text is None:
        if on is not None and on != now_at.date():
            raise UnitError("no --at", 'the clock time on that day, such as --at "13:00"')
        return now_at
    expected = 'a clock time such as "13:00", or a moment such as 2026-10-18T13:00'
    try:
        if "T" in text or len(text) > len("HH:MM"):
            moment = datetime.fromisoformat(text)
            return moment.replace(tzinfo=zone) if moment.tzinfo is None else moment
        hours, minutes = (int(part) for part in text.split(":"))
        day = on or now_at.date()
        return datetime(day.year, day.month, day.day, hours, minutes, tzinfo=zone)
    except ValueError as wrong:
        raise UnitError(text, expected) from wrong


def _figures(farm: Farm, what: str, amount: str | None, machine: str, field: str) -> dict[str, Any]:
    """Return the amount in SI, as the driver knows it."""
    if what not in WITH_AMOUNT or (what == "wet" and not amount):
        return {}
    if what == "load" and not amount:
        return {"mass_kg": _own_load_kg(farm, machine, field)}
    if not amount:
        raise UnitError("no --amount", 'how much, such as --amount "39 ac", "12 passes" or "all"')
    if what in ("spread", "covered"):
        text = amount.strip().lower()
        if text == "all":
            return {"whole": True}
        counted = COUNTED.fullmatch(text)
        if counted is not None or text == "half":
            return {"area_m2": _driven_m2(farm, what, counted, machine, field)}
    if what == "load" and not _is_area(amount):
        return {"mass_kg": parse(amount, "mass")}
    return {"area_m2": parse(amount, "area")}


def _own_load_kg(farm: Farm, machine: str, field: str) -> float:
    """Return what one load of the spreader is. [kg]"""
    from duskline.answers.seed import spreader_load_kg

    noun = next(one for one in farm.spreaders if one.name == machine)
    lot = next(one.lot for one in farm.fields if one.name == field)
    return spreader_load_kg(farm, noun, lot)


def _driven_m2(
    farm: Farm, what: str, counted: re.Match[str] | None, machine: str, field: str
) -> float:
    """Return the ground of so many passes or rounds, or of half the field. [m2]"""
    from duskline.answers.passes_told import Told, ToldAs, told_area

    told = Told(how=ToldAs.HALF)
    if counted is not None:
        how = ToldAs.PASSES if counted[2].startswith("pass") else ToldAs.ROUNDS
        told = Told(how=how, amount=float(counted[1]))
    state = settled(farm).by_field.get(field, FieldState())
    whole_m2 = next(one.record_area_m2 for one in farm.fields if one.name == field)
    done_m2 = state.covered_m2 if what == "covered" else state.spread_m2
    return told_area(
        farm,
        field,
        machine,
        told,
        work="covered" if what == "covered" else "spread",
        left_m2=max(0.0, whole_m2 - state.left_out_m2 - done_m2),
        open_m2=state.open_m2,
    ).area_m2


def _is_area(text: str) -> bool:
    try:
        parse(text, "area")
    except UnitError:
        return False
    return True


def _machine(farm: Farm, what: str, name: str | None) -> str:
    spreaders = [one.name for one in farm.spreaders]
    cultivators = [one.name for one in farm.cultivators]
    known = spreaders + cultivators + [one.name for one in farm.seed_trucks]
    if name:
        return _one_of(name, known, "machine")
    fitting = spreaders if what in OF_SPREADERS else cultivators if what == "covered" else known
    if what not in (*OF_SPREADERS, *OF_MACHINES, "covered"):
        return ""
    if len(fitting) == 1:
        return fitting[0]
    raise UnitError("no --machine", f"which one: {', '.join(fitting)}")


def _field(farm: Farm, what: str, name: str | None) -> str:
    known = [one.name for one in farm.fields]
    if name:
        return _one_of(name, known, "field")
    if what not in WITH_FIELD:
        return ""
    if len(known) == 1:
        return known[0]
    raise UnitError("no --field", f"which one: {', '.join(known[:20])}")


def _one_of(name: str, known: Sequence[str], kind: str) -> str:
    if name in known:
        return name
    same = [one for one in known if one.lower() == name.lower()]
    if len(same) == 1:
        return same[0]
    near = difflib.get_close_matches(name, known, n=1)
    hint = f"; nearest: {near[0]}" if near else f": {', '.join(known[:20])}"
    raise UnitError(name, f"the name of a {kind} in the farm folder{hint}")


def _refers(farm: Farm, what: str, begin: str | None) -> str:
    """Return the id of the event meant by its beginning."""
    if what not in REFERRING:
        if begin is not None:
            raise UnitError(begin, f"no id: {what} refers to no other event")
        return ""
    expected = "the id of an event, or its first letters; `duskline log FARM` shows them"
    if not begin:
        raise UnitError("no id", expected)
    found = [one.id for one in farm.told if one.id.startswith(begin)]
    if begin in found:
        return begin
    if len(set(found)) != 1:
        raise UnitError(begin, expected + (" (more than one begins so)" if found else ""))
    return found[0]


def _refuse_idle(refers: str | None, asked: dict[str, str | None]) -> None:
    for name, text in (("id", refers), *asked.items()):
        if text is not None:
            raise UnitError(f"--{name} {text}", "what happened before it, such as covered")


# --------------------------------------------------------------------------- printing


def _last_day(farm: Farm, zone: ZoneInfo) -> date:
    """Return today; if nothing was told today, the last day something was."""
    days = {event.at.astimezone(zone).date() for event in farm.told}
    today = datetime.now(zone).date()
    return today if today in days or not days else max(days)


def _show_day(farm: Farm, on: date, zone: ZoneInfo, *, as_json: bool) -> None:
    found = settled(farm)
    events = [one for one in found.all_events if one.at.astimezone(zone).date() == on]
    if as_json:
        dump({"date": on.isoformat(), **_state_json(found, events)})
        return
    heading(f"{farm.name}, {on:%Y-%m-%d}")
    if not events:
        say("  Nothing was told of this day.")
    for event in events:
        aside = ""
        if event.id in found.not_counted:
            aside = "  (does not count)"
        say(f"  {_short_id(event.id, found)}  {words.event_line(event, farm.system, zone)}{aside}")
    _print_state(farm, found, zone)


def _show_taken(farm: Farm, taken: Event, zone: ZoneInfo, *, as_json: bool) -> None:
    found = settled(farm)
    if as_json:
        dump({"event": _event_json(taken), **_state_json(found, [])})
        return
    say(f"Taken in: {words.event_line(taken, farm.system, zone)}")
    say(f"  To take it back: undo {_short_id(taken.id, found)}")
    _print_state(farm, found, zone)


def _print_state(farm: Farm, found: Settled, zone: ZoneInfo) -> None:
    if found.by_field:
        big(words.open_line(found, farm.system))
        for name, state in found.by_field.items():
            say(f"  {words.field_line(name, state, farm.system)}")
    standing = [halt for halt in found.halts if halt.to_at is None]
    for halt in standing:
        say(f"  {words.halt_line(halt, farm.system, zone)}")
    lines = words.conflict_lines(found, farm.system, zone)
    if lines:
        heading("To look at")
        for line in lines:
            say(f"- {line}")


def _short_id(name: str, found: Settled) -> str:
    """Return as much of an id as tells it from all others."""
    others = [one.id for one in found.all_events if one.id != name]
    for length in range(4, len(name)):
        if not any(one.startswith(name[:length]) for one in others):
            return words.plain(name[:length])
    return words.plain(name)


def _event_json(event: Event) -> dict[str, Any]:
    from duskline.cli.json_out import plain

    found: dict[str, Any] = plain(event)
    return {key: value for key, value in found.items() if value not in (None, "", False)}


def _state_json(found: Settled, events: Iterable[Event]) -> dict[str, Any]:
    from duskline.cli.json_out import plain

    counted = {event.id: event for event in found.events}
    return {
        "events": [
            {
                **_event_json(event),
                "counts": event.id in counted,
                "counted_m2": counted[event.id].area_m2 if event.id in counted else None,
            }
            for event in events
        ],
        "fields": {
            name: {**plain(state), "open_m2": state.open_m2}
            for name, state in found.by_field.items()
        },
        "open_m2": found.open_m2,
        "conflicts": plain(found.conflicts),
        "halts": plain(found.halts),
        "pending": sorted(found.pending),
    }


# --------------------------------------------------------------------------- keeping it safe


def backup(place: str, to: Path, *, as_json: bool) -> None:
    """Write the log and the farm's files into one file."""
    from duskline.store.keep import backup as make

    if not is_address(place) and (Path(place) / "farm.toml").is_file():
        with open_farm_store(Path(place)):
            pass  # what was edited in the folder goes into the backup too
    written = make(place, to)
    _told(as_json, {"backup": str(written), "bytes": written.stat().st_size}, lambda: str(written))


def restore(source: Path, folder: Path, *, as_json: bool) -> None:
    """Put a backup in the place of the log, and its files where there are none."""
    from duskline.store.farm import store_into_folder
    from duskline.store.keep import restore as bring_in

    folder.mkdir(parents=True, exist_ok=True)
    done = bring_in(source, folder)
    with open_store(done.file, create=False) as store:
        other = store_into_folder(store, folder)
        count = store.last_seq()
    found = {
        "store": str(done.file),
        "events": count,
        "kept": str(done.kept) if done.kept else None,
        "files_left_as_they_are": other,
    }
    _told(as_json, found, lambda: f"{count} event{'s' if count != 1 else ''} back in {done.file}")
    if done.kept is not None:
        note(f"The log that was there is kept as {done.kept.name}.")
    if other:
        note(f"Left as they are in the folder, other than in the backup: {', '.join(other)}.")
    _export_restored(done.file, folder)


def _export_restored(file: Path, folder: Path) -> None:
    farm = read_farm_with_store(folder)
    with open_store(file, create=False) as store:
        _export(store, str(folder), farm)


def doctor(place: str, *, as_json: bool) -> None:
    """Print what is good and what is not; exit 1 where something is wrong."""
    from duskline.store.checkup import doctor as look

    found = look(place if is_address(place) else Path(place))
    wrong = any(one.level == "wrong" for one in found)
    if as_json:
        from duskline.cli.json_out import plain

        dump({"good": not wrong, "findings": plain(found)})
    else:
        big("Something is wrong" if wrong else "The log is safe")
        for level, title in (("wrong", "Wrong"), ("look", "Worth a look"), ("good", "Good")):
            lines = [one.sentence for one in found if one.level == level]
            if lines:
                heading(title)
                for line in lines:
                    say(f"- {line}")
    sys.exit(NO if wrong else DONE)


def _told(as_json: bool, found: dict[str, Any], text: Callable[[], str]) -> None:
    if as_json:
        dump(found)
    else:
        say(text())

"""What happened: events of the log, and what they add up to.

The log only grows. An event is told once and never changed; what was told wrongly is taken back by
another event. ``settle`` folds any heap of events, in any order and with any of them twice, into
one account of the day: what counts, what does not, and what two people told differently. Nothing
is dropped in silence: until somebody says which of two tellings is right, the one counts that
leaves more ground open.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Literal, TypeAlias, get_args

__all__ = [
    "KINDS",
    "Conflict",
    "ConflictKind",
    "Event",
    "FieldFacts",
    "FieldState",
    "Halt",
    "Settled",
    "TellingRules",
    "What",
    "Worked",
    "area_by_field_m2",
    "area_on_m2",
    "identified",
    "lost_by_field_m2",
    "observed_rate_m2_per_s",
    "seeded_by_field_m2",
    "settle",
    "worked",
]

What = Literal[
    "begin", "spread", "load", "stop", "covered", "stuck", "wet", "down", "up", "rain", "note",
    "plan", "undo", "both",
]  # fmt: skip
"""What may have happened.

``begin``: a machine starts in a field. ``spread``, ``covered``: so much area done, or all that
was left. ``load``: a load run out. ``stop``: a spreader is done for the day. ``stuck``, ``down``:
a machine stands from then on; ``up``: it runs again. ``wet``: ground left out. ``rain``: rain is
called for that moment. ``plan``: a plan was published. ``undo`` takes back the event it refers
to; ``both`` says that an event taken for a second telling is one of its own.
"""

KINDS: tuple[What, ...] = get_args(What)
WORK: tuple[What, ...] = ("spread", "covered")
HALTS: tuple[What, ...] = ("stuck", "down")
RUNNING: tuple[What, ...] = ("begin", "spread", "load", "covered", "up")


@dataclass(frozen=True, kw_only=True, slots=True)
class Event:
    """One event of the log.

    Attributes
    ----------
    at
        When it was done (the end of the work, the beginning of a halt), time-zone aware.
    area_m2, mass_kg, took_s
        What was done and how long it took, where it was told.
    whole
        All of the field that was left; no area is needed then.
    told
        The amount as the person put it ("12 passes", "half").
    id
        Its own, for ever and everywhere; empty only before it is given one.
    device, person
        Which phone or desk it was entered on, and by whom.
    clock_at
        The moment on that device's clock when it was entered.
    server_at
        When the store took it in; no part of what was told.
    refers
        The event that is taken back, or told to be one of its own.
    stop_at, chance_fraction
        Of a published plan: its stop time and its chance.
    """

    at: datetime
    what: What
    machine: str = ""
    field: str = ""
    area_m2: float | None = None
    mass_kg: float | None = None
    took_s: float | None = None
    note: str = ""
    whole: bool = False
    told: str = ""
    id: str = ""
    device: str = ""
    person: str = ""
    clock_at: datetime | None = None
    server_at: datetime | None = None
    refers: str = ""
    stop_at: datetime | None = None
    chance_fraction: float | None = None

    def __post_init__(self) -> None:
        """Refuse a kind that is none and a time without its zone."""
        if self.what not in KINDS:
            raise ValueError(f"{self.what!r} is none of {', '.join(KINDS)}")
        for moment in (self.at, self.clock_at, self.server_at, self.stop_at):
            if moment is not None and moment.tzinfo is None:
                raise ValueError(f"{moment} has no time zone")

    @property
    def digest(self) -> str:
        """A fingerprint of what was told: equal for the same telling, wherever it was kept."""
        return hashlib.sha256("\x1f".join(_told_parts(self)).encode()).hexdigest()[:32]


FIGURES = ("area_m2", "mass_kg", "took_s", "chance_fraction")


def _told_parts(event: Event) -> list[str]:
    parts = []
    for one in fields(event):
        value = getattr(event, one.name)
        if one.name == "server_at":
            continue
        if isinstance(value, datetime):
            value = _microseconds(value)
        elif one.name in FIGURES and value is not None:
            value = float(value)
        parts.append("" if value is None else repr(value))
    return parts


EPOCH = datetime.fromisoformat("1970-01-01T00:00:00+00:00")


def _microseconds(moment: datetime) -> int:
    return (moment - EPOCH) // timedelta(microseconds=1)


def identified(events: Iterable[Event]) -> tuple[Event, ...]:
    """Return the events, those without an id with one that follows from what they tell.

    The same line twice is two events: a hand that writes a line twice means it.
    """
    met: dict[str, int] = defaultdict(int)
    found = []
    for event in events:
        if not event.id:
            digest = event.digest[:20]
            met[digest] += 1
            event = replace(event, id=f"line-{digest}-{met[digest]}")  # noqa: PLW2901
        found.append(event)
    return tuple(found)


# --------------------------------------------------------------------------- what it settles to


class ConflictKind(StrEnum):
    """What two tellings do not agree in."""

    SAME_ID = "same id"
    TOLD_TWICE = "told twice"
    MORE_THAN_FIELD = "more than the field has"
    COVERED_NOT_SPREAD = "covered before spread"
    SPREAD_ELSEWHERE = "spread elsewhere"
    UNDO_OF_UNDO = "undo of an undo"
    CLOCK = "clock"
    FIELD_NOT_KNOWN = "field not known"


@dataclass(frozen=True, kw_only=True, slots=True)
class Conflict:
    """One thing to look at; the events of it by their ids, the one that counts first.

    ``value`` and ``limit`` are areas for more than the field has [m2], seconds for a clock [s].
    """

    kind: ConflictKind
    ids: tuple[str, ...]
    field: str = ""
    machine: str = ""
    value: float | None = None
    limit: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldFacts:
    """What settling needs of a field: its ground [m2] and its planned rate [kg/m2]."""

    area_m2: float
    rate_kg_per_m2: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class TellingRules:
    """When two tellings are taken for one, when an area is too much, when a clock is off."""

    twice_within_s: float
    twice_share_fraction: float
    over_share_fraction: float
    clock_off_s: float


@dataclass(frozen=True, kw_only=True, slots=True)
class FieldState:
    """One field as the log has it. Areas in m2.

    ``spread_m2`` is never below ``covered_m2``: what is covered was spread, told or not.
    """

    spread_m2: float = 0.0
    covered_m2: float = 0.0
    left_out_m2: float = 0.0

    @property
    def open_m2(self) -> float:
        """Seed lying bare. [m2]"""
        return self.spread_m2 - self.covered_m2


@dataclass(frozen=True, kw_only=True, slots=True)
class Halt:
    """A machine that stood; ``to_at`` is None while it stands."""

    machine: str
    what: What
    from_at: datetime
    to_at: datetime | None
    field: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Settled:
    """What a heap of events adds up to; the same for the same events in any order.

    Attributes
    ----------
    events
        Those that count, in order of time, each with the area it stands for; where a load must
        lie in other fields than the one it was told in, parts of it with ids of their own ("/").
    all_events
        All that were told, each telling once, in order of time.
    not_counted
        Ids of those that do not count: taken back, or taken for a second telling.
    pending
        Ids that are referred to and have not arrived.
    """

    events: tuple[Event, ...] = ()
    all_events: tuple[Event, ...] = ()
    not_counted: frozenset[str] = frozenset()
    pending: frozenset[str] = frozenset()
    conflicts: tuple[Conflict, ...] = ()
    halts: tuple[Halt, ...] = ()
    by_field: Mapping[str, FieldState] = field(default_factory=dict)

    @property
    def open_m2(self) -> float:
        """Seed lying bare over all fields. [m2]"""
        return sum(one.open_m2 for one in self.by_field.values())

    def by_field_at(self, until: datetime) -> Mapping[str, FieldState]:
        """Return the fields as they stood at a moment."""
        return _by_field([event for event in self.events if event.at <= until])

    def day_m2(self, start_at: datetime, now_at: datetime) -> tuple[float, float]:
        """Return the area spread and the area covered of a day, up to a moment. [m2]

        Ground that lay open in the morning counts as spread: it has to be covered too.
        """
        morning = _by_field([event for event in self.events if event.at < start_at])
        now = self.by_field_at(now_at)
        covered_before = sum(one.covered_m2 for one in morning.values())
        return (
            sum(one.spread_m2 for one in now.values()) - covered_before,
            sum(one.covered_m2 for one in now.values()) - covered_before,
        )


Key: TypeAlias = tuple[int, str, str]


def _key(event: Event) -> Key:
    return (_microseconds(event.at), event.id, event.digest)


def settle(
    events: Iterable[Event], ground: Mapping[str, FieldFacts], rules: TellingRules
) -> Settled:
    """Return what the events add up to, whatever order they come in.

    Parameters
    ----------
    events
        Any heap of them; the same one any number of times.
    ground
        The fields, by name. Work told of a field that is not among them counts, and is shown.
    rules
        When two tellings are taken for one.
    """
    told, conflicts = _each_once(events)
    void, pending, odd = _taken_back(told)
    conflicts += odd
    standing = [event for event in told if event.id not in void]
    second, twice = _second_tellings(standing, rules)
    conflicts += twice
    standing = [event for event in standing if event.id not in second]
    counted = _with_areas(standing, ground, rules)
    conflicts += _looks_wrong(counted, ground, rules)
    return Settled(
        events=tuple(counted),
        all_events=tuple(told),
        not_counted=frozenset(void | second),
        pending=frozenset(pending),
        conflicts=tuple(conflicts),
        halts=tuple(_halts(counted)),
        by_field=_by_field(counted),
    )


def _each_once(events: Iterable[Event]) -> tuple[list[Event], list[Conflict]]:
    """Return each event once in order of time, and the ids that stand for two tellings.

    Of two tellings under one id the one with the smaller fingerprint counts: any rule will do
    that does not hang on which arrived first. The other is in the conflict.
    """
    tellings: dict[str, dict[str, Event]] = defaultdict(dict)
    for event in events:
        digest = event.digest
        known = tellings[event.id].get(digest)
        if known is None or _taken_in(event) < _taken_in(known):
            tellings[event.id][digest] = event
    kept, conflicts = [], []
    for name in sorted(tellings):
        digests = sorted(tellings[name])
        kept.append(tellings[name][digests[0]])
        if len(digests) > 1:
            first = tellings[name][digests[0]]
            conflicts.append(
                Conflict(
                    kind=ConflictKind.SAME_ID,
                    ids=(name,),
                    field=first.field,
                    machine=first.machine,
                    value=float(len(digests)),
                )
            )
    return sorted(kept, key=_key), conflicts


def _taken_in(event: Event) -> float:
    return event.server_at.timestamp() if event.server_at is not None else float("inf")


def _taken_back(told: Sequence[Event]) -> tuple[set[str], set[str], list[Conflict]]:
    """Return the ids taken back, those not arrived yet, and undoes of undoes (which do nothing)."""
    by_id = {event.id: event for event in told}
    void: set[str] = set()
    pending: set[str] = set()
    odd = []
    for event in told:
        if event.what not in ("undo", "both") or not event.refers:
            continue
        other = by_id.get(event.refers)
        if other is None:
            pending.add(event.refers)
        elif event.what == "undo" and other.what == "undo":
            odd.append(Conflict(kind=ConflictKind.UNDO_OF_UNDO, ids=(event.id, other.id)))
        elif event.what == "undo":
            void.add(other.id)
    return void, pending, odd


def _second_tellings(
    standing: Sequence[Event], rules: TellingRules
) -> tuple[set[str], list[Conflict]]:
    """Return the events not counted since another telling of the same work is.

    Two devices that tell the same work of the same field at about the same time are taken for two
    tellings of it. Of work covered only one counts; of seed spread both do: what leaves more
    ground open is what holds until somebody says.
    """
    own = {event.refers for event in standing if event.what == "both"}
    recent: dict[tuple[What, str], list[Event]] = defaultdict(list)
    second: set[str] = set()
    conflicts = []
    for event in standing:
        if event.what not in (*WORK, "load"):
            continue
        near = recent[event.what, event.field]
        near[:] = [
            one for one in near if (event.at - one.at).total_seconds() <= rules.twice_within_s
        ]
        twin = next((one for one in near if _same_work(one, event, rules)), None)
        if twin is not None and event.id not in own and twin.id not in own:
            conflicts.append(
                Conflict(
                    kind=ConflictKind.TOLD_TWICE,
                    ids=(twin.id, event.id),
                    field=event.field,
                    machine=event.machine or twin.machine,
                )
            )
            if event.what == "covered":
                second.add(event.id)
                continue
        near.append(event)
    return second, conflicts


def _same_work(one: Event, other: Event, rules: TellingRules) -> bool:
    if one.device == other.device:
        return False
    if one.machine and other.machine and one.machine != other.machine:
        return False
    for name in ("area_m2", "mass_kg"):
        mine, theirs = getattr(one, name), getattr(other, name)
        if mine is not None and theirs is not None:
            most = max(abs(mine), abs(theirs))
            if abs(mine - theirs) > rules.twice_share_fraction * most:
                return False
    return True


# --------------------------------------------------------------------------- areas


ELSEWHERE = ""
"""The field of ground that a load must have been spread on beyond the one it was told in."""
LOST = "seed lost"
"""How the part of an event is told that takes ground left out off what was spread."""


@dataclass(slots=True)
class _Spreading:
    """What one spreader has told: areas stated, and areas that only its loads speak of."""

    stated_m2: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    by_loads_m2: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    at_last_load_m2: float = 0.0

    @property
    def total_m2(self) -> float:
        return sum(self.stated_m2.values()) + sum(self.by_loads_m2.values())


@dataclass(slots=True)
class _Account:
    """The account of areas, kept event by event in order of time.

    An area stated of a field replaces what only the loads had said of it. A load stands for its
    seed over the planned rate, less what was stated since the load before. Where its field has
    not that much left the rest lies elsewhere, until somebody says where; ground that is covered
    and was not told spread is where a load has been. "All of it" is what was left of the field.
    """

    ground: Mapping[str, FieldFacts]
    rules: TellingRules
    spreading: dict[str, _Spreading] = field(default_factory=lambda: defaultdict(_Spreading))
    covered_m2: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    left_out_m2: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    implied_m2: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    found: list[Event] = field(default_factory=list)

    def take(self, event: Event) -> None:
        """Enter one event, and what it moves."""
        area = event.area_m2
        if event.what == "wet" and area is not None:
            self._leave_out(event, area)
        elif event.what == "covered":
            area = self._covered(event)
        elif event.what == "spread":
            area = self._stated(event)
        elif event.what == "load":
            area = self._load(event)
        self.found.append(event if area == event.area_m2 else replace(event, area_m2=area))

    def _leave_out(self, event: Event, area_m2: float) -> None:
        """Leave ground out; what of it must have been spread already lies open no more."""
        self.left_out_m2[event.field] += area_m2
        whole_m2 = self._whole_m2(event.field)
        if whole_m2 is None:
            return
        lost = min(area_m2, self._spread_in_m2(event.field) - whole_m2)
        if lost > 0.0:
            self._move(event, event.field, -lost, machine="", told=LOST)

    def _whole_m2(self, name: str) -> float | None:
        facts = self.ground.get(name)
        return None if facts is None else max(0.0, facts.area_m2 - self.left_out_m2[name])

    def _spread_in_m2(self, name: str) -> float:
        return sum(
            one.stated_m2.get(name, 0.0) + one.by_loads_m2.get(name, 0.0)
            for one in self.spreading.values()
        )

    def _covered(self, event: Event) -> float | None:
        area, whole_m2 = event.area_m2, self._whole_m2(event.field)
        if event.whole and whole_m2 is not None:
            area = max(0.0, whole_m2 - self.covered_m2[event.field])
        self.covered_m2[event.field] += area or 0.0
        covered = self.covered_m2[event.field]
        lacking = covered - self._spread_in_m2(event.field) - self.implied_m2[event.field]
        if lacking > self.rules.over_share_fraction * covered:
            moved = self._from_loads(event, lacking)
            self.implied_m2[event.field] += lacking - moved
        return area

    def _from_loads(self, event: Event, wanted_m2: float) -> float:
        """Say of ground the loads had elsewhere that it is where was covered; how much. [m2]

        Ground they had in a field that was named stays there: that is for a person to say.
        """
        moved = 0.0
        for machine in sorted(self.spreading):
            loads = self.spreading[machine].by_loads_m2
            part = min(loads.get(ELSEWHERE, 0.0), wanted_m2 - moved)
            if part > 0.0:
                loads[ELSEWHERE] -= part
                loads[event.field] += part
                # No machine did this now: nobody's work moves, only where it is.
                self._move(event, ELSEWHERE, -part, machine="")
                self._move(event, event.field, part, machine="")
                moved += part
        return moved

    def _stated(self, event: Event) -> float | None:
        """Return what a statement adds: itself, less what the loads had said of it. [m2]"""
        mine = self.spreading[event.machine]
        before = mine.by_loads_m2.pop(event.field, 0.0)
        area, whole_m2 = event.area_m2, self._whole_m2(event.field)
        if event.whole and whole_m2 is not None:
            area = max(0.0, whole_m2 - self._spread_in_m2(event.field))
        if area is None:
            mine.by_loads_m2[event.field] = before
            return None
        elsewhere = min(mine.by_loads_m2.get(ELSEWHERE, 0.0), max(0.0, area - before))
        if elsewhere > 0.0:
            mine.by_loads_m2[ELSEWHERE] -= elsewhere
            self._move(event, ELSEWHERE, -elsewhere, machine="")
        mine.stated_m2[event.field] += area
        mine.at_last_load_m2 = min(mine.at_last_load_m2, mine.total_m2)
        self.implied_m2[event.field] = max(0.0, self.implied_m2[event.field] - area)
        return area - before

    def _load(self, event: Event) -> float | None:
        """Return what a load adds to its own field; the rest goes where else it must lie. [m2]"""
        facts, mine = self.ground.get(event.field), self.spreading[event.machine]
        area = event.area_m2
        rate = facts.rate_kg_per_m2 if facts is not None else None
        if area is None and event.mass_kg is not None and rate:
            area = event.mass_kg / rate
        if area is None:
            return None
        more = max(0.0, mine.at_last_load_m2 + area - mine.total_m2)
        for name in sorted(self.implied_m2):
            part = min(more, self.implied_m2[name]) if name != event.field else 0.0
            if part > 0.0:
                more -= part
                self.implied_m2[name] -= part
                mine.by_loads_m2[name] += part
                self._move(event, name, part, machine=event.machine)
        whole_m2 = self._whole_m2(event.field)
        room = more if whole_m2 is None else max(0.0, whole_m2 - self._spread_in_m2(event.field))
        here = min(more, room)
        mine.by_loads_m2[event.field] += here
        self.implied_m2[event.field] = max(0.0, self.implied_m2[event.field] - here)
        if more > here:
            mine.by_loads_m2[ELSEWHERE] += more - here
            self._move(event, ELSEWHERE, more - here, machine=event.machine)
        mine.at_last_load_m2 = mine.total_m2
        return here

    def _move(
        self, event: Event, name: str, area_m2: float, *, machine: str, told: str = ""
    ) -> None:
        number = sum(1 for one in reversed(self.found) if one.id.startswith(f"{event.id}/"))
        self.found.append(
            replace(
                event,
                what="spread",
                id=f"{event.id}/{number + 1}",
                machine=machine,
                field=name,
                area_m2=area_m2,
                mass_kg=None,
                took_s=None,
                whole=False,
                told=told,
                note="",
            )
        )


def _with_areas(
    counted: Sequence[Event], ground: Mapping[str, FieldFacts], rules: TellingRules
) -> list[Event]:
    """Return the events with the area each stands for, and between them what they move."""
    account = _Account(ground=ground, rules=rules)
    for event in counted:
        account.take(event)
    return account.found


def _by_field(counted: Iterable[Event]) -> dict[str, FieldState]:
    spread: dict[str, float] = defaultdict(float)
    covered: dict[str, float] = defaultdict(float)
    left_out: dict[str, float] = defaultdict(float)
    for event in counted:
        if event.area_m2 is None:
            continue
        if event.what in ("spread", "load"):
            spread[event.field] += event.area_m2
        elif event.what == "covered":
            covered[event.field] += event.area_m2
        elif event.what == "wet":
            left_out[event.field] += event.area_m2
    return {
        name: FieldState(
            spread_m2=max(spread[name], covered[name]),
            covered_m2=covered[name],
            left_out_m2=left_out[name],
        )
        for name in sorted({*spread, *covered, *left_out})
    }


# --------------------------------------------------------------------------- what looks wrong


def _looks_wrong(
    counted: Sequence[Event], ground: Mapping[str, FieldFacts], rules: TellingRules
) -> list[Conflict]:
    conflicts = []
    ids: dict[tuple[str, str], list[str]] = defaultdict(list)
    area: dict[tuple[str, str], float] = defaultdict(float)
    for event in counted:
        kind = "spread" if event.what == "load" else event.what
        if event.area_m2 is not None and kind in WORK:
            ids[kind, event.field].append(event.id)
            area[kind, event.field] += event.area_m2
    for (what, name), these in sorted(ids.items()):
        facts, done = ground.get(name), area[what, name]
        told = tuple(one for one in these if "/" not in one)
        if name == ELSEWHERE and what == "spread":
            if done > rules.over_share_fraction * max(area.values()):
                conflicts.append(
                    Conflict(kind=ConflictKind.SPREAD_ELSEWHERE, ids=_loads_of(counted), value=done)
                )
        elif facts is None:
            conflicts.append(
                Conflict(kind=ConflictKind.FIELD_NOT_KNOWN, ids=told, field=name, value=done)
            )
        elif done > facts.area_m2 * (1.0 + rules.over_share_fraction):
            conflicts.append(
                Conflict(
                    kind=ConflictKind.MORE_THAN_FIELD,
                    ids=told,
                    field=name,
                    machine=what,
                    value=done,
                    limit=facts.area_m2,
                )
            )
        spread = area.get(("spread", name), 0.0)
        if what == "covered" and done > spread + rules.over_share_fraction * done:
            conflicts.append(
                Conflict(
                    kind=ConflictKind.COVERED_NOT_SPREAD,
                    ids=told,
                    field=name,
                    value=done,
                    limit=spread,
                )
            )
    for event in counted:
        if event.clock_at is None or event.server_at is None:
            continue
        ahead = (event.clock_at - event.server_at).total_seconds()
        if ahead > rules.clock_off_s:
            conflicts.append(
                Conflict(
                    kind=ConflictKind.CLOCK,
                    ids=(event.id,),
                    machine=event.device,
                    value=ahead,
                    limit=rules.clock_off_s,
                )
            )
    return conflicts


def _loads_of(counted: Sequence[Event]) -> tuple[str, ...]:
    """Return the ids of the loads that reach beyond their field."""
    reaching = {one.id.split("/")[0] for one in counted if one.field == ELSEWHERE}
    return tuple(one.id for one in counted if one.what == "load" and one.id in reaching)


# --------------------------------------------------------------------------- machines


def _halts(counted: Sequence[Event]) -> list[Halt]:
    """Return when machines stood: to the end that was told, else until they are heard of again."""
    halts = []
    standing: dict[str, Event] = {}
    for event in counted:
        halted = standing.get(event.machine)
        # Work told in the same instant was done before the machine stood.
        later = halted is not None and (event.at > halted.at or event.what == "up")
        if halted is not None and later and event.what in (*RUNNING, *HALTS, "stop"):
            del standing[event.machine]
            halts.append(_halt(halted, event.at))
        if event.what in HALTS:
            if event.took_s is None:
                standing[event.machine] = event
            else:
                halts.append(_halt(event, event.at + timedelta(seconds=event.took_s)))
    halts += [_halt(event, None) for event in standing.values()]
    return sorted(halts, key=lambda halt: (halt.from_at.timestamp(), halt.machine))


def _halt(event: Event, to_at: datetime | None) -> Halt:
    return Halt(
        machine=event.machine,
        what=event.what,
        from_at=event.at,
        to_at=to_at,
        field=event.field,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Worked:
    """What a machine did, how long it ran for it, and when it was last heard of."""

    area_m2: float
    took_s: float
    last_at: datetime

    @property
    def rate_m2_per_s(self) -> float | None:
        """Area over time; None without any. [m2/s]"""
        return self.area_m2 / self.took_s if self.took_s > 0.0 and self.area_m2 > 0.0 else None


def worked(
    settled: Settled,
    machine: str,
    what: Literal["spread", "covered"],
    *,
    opens_at: datetime,
    until: datetime,
) -> Worked | None:
    """Return what a machine did between two moments; None if it told nothing.

    Each telling is for the time since the one before, since the machine began, or since
    ``opens_at``; a time told with it wins. Time in which the machine stood is taken off.
    """
    kinds = ("spread", "load") if what == "spread" else ("covered",)
    began_at, area, took, last_at = opens_at, 0.0, 0.0, None
    for event in settled.events:
        if event.machine != machine or not opens_at <= event.at <= until:
            continue
        if event.what == "begin" and last_at is None:
            began_at = event.at
        if event.what not in kinds or event.area_m2 is None:
            continue
        span = (event.at - began_at).total_seconds()
        stood = _stood_s(settled.halts, machine, began_at, event.at)
        took += event.took_s if event.took_s is not None else max(0.0, span - stood)
        area += event.area_m2
        began_at = last_at = event.at
    return None if last_at is None else Worked(area_m2=area, took_s=took, last_at=last_at)


def _stood_s(halts: Iterable[Halt], machine: str, from_at: datetime, to_at: datetime) -> float:
    stood = 0.0
    for halt in halts:
        if halt.machine == machine:
            begin, end = max(halt.from_at, from_at), min(halt.to_at or to_at, to_at)
            stood += max(0.0, (end - begin).total_seconds())
    return stood


# --------------------------------------------------------------------------- plain sums


def area_by_field_m2(
    events: Iterable[Event], what: Literal["spread", "covered"]
) -> dict[str, float]:
    """Return the area done so far, field by field, of settled events. [m2]"""
    kinds = ("spread", "load") if what == "spread" else ("covered",)
    done: dict[str, float] = {}
    for event in events:
        if event.what in kinds and event.area_m2 is not None:
            done[event.field] = done.get(event.field, 0.0) + event.area_m2
    return done


def lost_by_field_m2(events: Iterable[Event]) -> dict[str, float]:
    """Return the ground left out after it was spread, field by field, of settled events. [m2]"""
    lost: dict[str, float] = {}
    for event in events:
        if event.told == LOST and "/" in event.id and event.area_m2 is not None:
            lost[event.field] = lost.get(event.field, 0.0) - event.area_m2
    return lost


def seeded_by_field_m2(events: Iterable[Event]) -> dict[str, float]:
    """Return the ground that took seed so far, lost or not, field by field. [m2]"""
    told = tuple(events)
    done = area_by_field_m2(told, "spread")
    for name, area in lost_by_field_m2(told).items():
        done[name] = done.get(name, 0.0) + area
    return done


def area_on_m2(
    events: Iterable[Event], what: Literal["spread", "covered"], on: date, until: datetime
) -> float:
    """Return the area done on one date of ``until``'s zone, up to that moment. [m2]"""
    kinds = ("spread", "load") if what == "spread" else ("covered",)
    return sum(
        event.area_m2
        for event in events
        if event.what in kinds
        and event.area_m2 is not None
        and event.at.astimezone(until.tzinfo).date() == on
        and event.at <= until
    )


def observed_rate_m2_per_s(
    events: Iterable[Event],
    machine: str,
    what: Literal["spread", "covered"],
    *,
    least_s: float = 0.0,
) -> float | None:
    """Return a machine's observed work rate, or None if too little gives area and time. [m2/s]

    Lines with both an area and a time taken count; all of them together, area over time, where
    they come to ``least_s`` or more.
    """
    area_m2, took_s = 0.0, 0.0
    for event in events:
        if event.machine == machine and event.what == what and event.area_m2 and event.took_s:
            area_m2 += event.area_m2
            took_s += event.took_s
    return area_m2 / took_s if took_s > 0.0 and took_s >= least_s else None

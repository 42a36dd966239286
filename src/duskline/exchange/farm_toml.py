"""The form of ``farm.toml``: which keys there are and what each must look like.

Quantities are text with units; a bare number where a unit belongs is an error that shows the
right form. The same models give the JSON schema.
"""

from __future__ import annotations

import datetime as dt
import difflib
import re
import tomllib
from typing import Annotated, Any, Literal, get_args

from pydantic import (
    BaseModel,
    BeforeValidator,
    Field,
    ValidationError,
    WithJsonSchema,
    model_validator,
)

from duskline.exchange.problems import Problem
from duskline.exchange.season_toml import AwayTable, ClimateTable, CrewTable, SeasonTable
from duskline.exchange.toml_forms import (
    MOST_TABLES,
    Angle,
    Area,
    Bought,
    Clock,
    Count,
    Currency,
    Day,
    Density,
    Depth,
    Efficiency,
    FormError,
    FuelUse,
    Hours,
    Load,
    LonLat,
    Mass,
    Name,
    Piece,
    Power,
    Price,
    Quantity,
    Radius,
    Rate,
    Sample,
    SeedPrice,
    Share,
    Short,
    Span,
    Speed,
    Stand,
    Sure,
    Table,
    Time,
    Used,
    Width,
    Wind,
    Words,
    Worn,
    one_or_more,
)
from duskline.units import Money, UnitError, show

__all__ = ["FarmToml", "read_farm_toml"]

LARGEST_BYTES = 1_000_000
MOST_PROBLEMS = 200
MOST_NAMES = 5000
_LONGEST_SHOWN = 60
_HUGE_BITS = 200
_MOST_MEASURED = 500
_MOST_RING = 5000
_MOST_OVERLAP = 0.8
_WIDEST_PASS = 1.1
HEADER = re.compile(r"\[\[?\s*([\w.-]+)\s*\]\]?")
KEY = re.compile(r"""["']?([\w-]+)["']?\s*=""")


Earlier = Annotated[tuple[Name, ...], Field(max_length=MOST_TABLES)]
"""Names a machine had before, as the log may still have them."""


class FarmTable(Table):
    """Where the farm is and how its people read figures."""

    name: Name
    latitude: Annotated[float, Field(ge=-66.0, le=66.0)]
    longitude: Annotated[float, Field(ge=-180.0, le=180.0)]
    time_zone: Name
    units: Literal["us", "metric"] = "us"
    country: Annotated[str, Field(pattern="^[A-Z]{2}$")] = "US"
    emergency_location: Words = ""
    emergency_phone: Annotated[str, Field(max_length=40)] = ""


class PersonTable(Table):
    """Somebody of the crew."""

    name: Name
    age: Annotated[int, Field(ge=5, le=110)] | None = None
    drives: tuple[Name, ...] = Field(default=(), max_length=MOST_TABLES)
    language: Literal["en", "es"] = "en"
    role: Words = ""


class TractorTable(Table):
    """A tractor."""

    name: Name
    pto_power: Power | None = None
    guided: bool = False
    lights: bool = False
    pulls: tuple[Name, ...] = Field(default=(), max_length=MOST_TABLES)
    drive: Literal["2wd", "front assist", "4wd", "tracks"] | None = None
    list_price: Bought | None = None
    hours: Hours | None = None
    yearly_hours: Hours | None = None


class SpreaderTable(Table):
    """A spinner spreader."""

    name: Name
    was: Earlier = ()
    driving_width: Width | None = None
    speed: Speed | None = None
    efficiency: Efficiency | None = None
    load: Load | None = None
    hopper: Annotated[float, Quantity("volume", 0.02, 100.0)] | None = None
    filled: Annotated[float, Quantity("fraction", 0.1, 1.0)] = 1.0
    refill: Time | None = None
    driver: Name | None = None
    tractor: Name | None = None
    full_at_start: bool = True
    turning_radius: Radius | None = None
    throw: Annotated[float, Quantity("length", 1.0, 60.0)] | None = None
    fuel: FuelUse | None = None
    list_price: Bought | None = None
    hours: Hours | None = None
    yearly_hours: Hours | None = None

    @model_validator(mode="after")
    def _one_size(self) -> SpreaderTable:
        if (self.load is None) == (self.hopper is None):
            raise FormError("load and hopper", "either load (a mass) or hopper (a volume)")
        return self


class CountedTable(Table):
    """Passes counted over a known distance, near edge of the first to near edge of the next."""

    passes: Annotated[int, Field(ge=1, le=500)]
    across: Annotated[float, Quantity("length", 1.0, 10_000.0)]


class CultivatorTable(Table):
    """A covering machine."""

    name: Name
    was: Earlier = ()
    width: Width
    overlap: Short | None = None
    overlap_share: Share | None = None
    counted: CountedTable | None = None
    speed: Speed | None = None
    efficiency: Efficiency | None = None
    by_eye: bool = True
    driver: Name | None = None
    tractor: Name | None = None
    turning_radius: Radius | None = None
    reverses: bool = False
    trailing: Annotated[float, Quantity("length", 0.0, 30.0)] | None = None
    shanks: Annotated[int, Field(ge=1, le=500)] | None = None
    depth: Depth | None = None
    fuel: FuelUse | None = None
    list_price: Bought | None = None
    hours: Hours | None = None
    yearly_hours: Hours | None = None

    @model_validator(mode="after")
    def _one_overlap(self) -> CultivatorTable:
        given = [self.overlap, self.overlap_share, self.counted]
        if sum(value is not None for value in given) > 1:
            raise FormError("several overlaps", "only one of overlap, overlap_share, counted")
        self._check_working_width()
        return self

    def _check_working_width(self) -> None:
        """Refuse an overlap that leaves next to nothing, and passes wider than the machine."""
        if self.counted is not None:
            pass_m = self.counted.across / self.counted.passes
        elif self.overlap_share is not None:
            pass_m = self.width * (1.0 - self.overlap_share)
        else:
            pass_m = self.width - (self.overlap or 0.0)
        if pass_m < (1.0 - _MOST_OVERLAP) * self.width:
            raise FormError(
                f"{_both(self.width - pass_m)} of overlap",
                f"no more than {100.0 * _MOST_OVERLAP:.0f} % of the width, {_both(self.width)}",
            )
        if pass_m > _WIDEST_PASS * self.width:
            raise FormError(
                f"{_both(pass_m)} a pass", f"about the width, {_both(self.width)}, or less"
            )


def _both(length_m: float) -> str:
    return f"{show(length_m, 'length', 'us')} ({show(length_m, 'length', 'metric')})"


class SeedTruckTable(Table):
    """A seed truck."""

    name: Name
    was: Earlier = ()
    driver: Name | None = None
    holds: Load | None = None
    turnaround: Annotated[float, Quantity("time", 60.0, 86400.0)] | None = None

    @model_validator(mode="after")
    def _both(self) -> SeedTruckTable:
        if (self.holds is None) != (self.turnaround is None):
            raise FormError("holds or turnaround alone", "both holds and turnaround, or neither")
        return self


class InsectsTable(Table):
    """Live insects in a sample."""

    weevils: Annotated[int, Field(ge=0, le=10_000)] = 0
    others: Annotated[int, Field(ge=0, le=10_000)] = 0
    sample: Annotated[float, Quantity("mass", 0.05, 50.0)]


class LotTable(Table):
    """A seed lot, or a mix of lots (``parts``)."""

    name: Name
    species: Name = "mix"
    parts: tuple[Name, ...] = Field(default=(), max_length=MOST_TABLES)
    live_rate: Rate | None = None
    bulk_rate: Rate | None = None
    bushel_rate: Annotated[float, Quantity("bushel rate", 1e-7, 1e-3)] | None = None
    stand: Stand | None = None
    emergence: Annotated[float, Quantity("fraction", 0.01, 1.0)] | None = None
    germination: tuple[Count, ...] = Field(default=(), max_length=MOST_TABLES)
    purity: Annotated[float, Quantity("fraction", 0.01, 1.0)] | None = None
    hard_seed: Share = 0.0
    samples: tuple[Sample, ...] = Field(default=(), max_length=MOST_TABLES)
    seeds_per_mass: Annotated[float, Quantity("seeds per mass", 1e3, 2e6)] | None = None
    test_weight: Density | None = None
    trays: Name | None = None
    variety: Words = ""
    origin: Words = ""
    tested_on: Day | None = None
    treated: bool = False
    price: SeedPrice | None = None
    cleaning: SeedPrice | None = None
    agreed_by: Words = ""
    agreed_on: Day | None = None
    insects: InsectsTable | None = None

    @model_validator(mode="after")
    def _rates(self) -> LotTable:
        wishes = [self.live_rate, self.bulk_rate, self.bushel_rate, self.stand]
        given = sum(value is not None for value in wishes)
        if self.parts and (given or self.germination):
            raise FormError("a mix with a rate of its own", "rates and tests on its parts only")
        if not self.parts and given != 1:
            raise FormError(
                f"{given} rates", "exactly one of live_rate, bulk_rate, bushel_rate, stand"
            )
        if self.stand is not None and self.emergence is None:
            raise FormError("stand without emergence", "emergence beside stand")
        if self.stand is not None and not (self.samples or self.seeds_per_mass):
            raise FormError("stand without a seed count", "samples or seeds_per_mass beside stand")
        if not self.parts and (not self.germination or self.purity is None):
            raise FormError("an untested lot", "germination and purity of the lot")
        if len(set(self.parts)) < len(self.parts):
            raise FormError("a part named twice", "each part of a mix once")
        self._check_alive()
        return self

    def _check_alive(self) -> None:
        """Refuse a lot in which nothing lives, or more seed than there is."""
        if not self.germination:
            return
        tested_count = sum(tested for _, tested in self.germination)
        live = sum(alive for alive, _ in self.germination) / tested_count + self.hard_seed
        if live <= 0.0:
            raise FormError("nothing sprouted", "a lot with some seed alive in it")
        if live > 1.0 + 1e-9:
            raise FormError(
                f"{100.0 * live:.0f} % sprouted and hard seed",
                "no more than 100 % of the two together",
            )


class BinTable(Table):
    """Seed on hand: a measured bin, or a weighed mass."""

    lot: Name
    mass: Mass | None = None
    diameter: Annotated[float, Quantity("length", 0.5, 60.0)] | None = None
    depth: Short | None = None
    heap: Annotated[float, Quantity("length", -30.0, 30.0)] = 0.0
    pack: Annotated[float, Quantity("fraction", 0.0, 0.2)] | None = None
    cleaning_loss: Annotated[float, Quantity("fraction", 0.0, 0.9)] | None = None

    @model_validator(mode="after")
    def _one_form(self) -> BinTable:
        measured = self.diameter is not None and self.depth is not None
        if measured == (self.mass is not None):
            raise FormError("mass, diameter, depth", "either mass, or both diameter and depth")
        return self


class ProgramTable(Table):
    """The agency's rules, copied from the contract."""

    name: Words = ""
    live_floor: Rate | None = None
    method: Words = ""
    sow_by: Day | None = None
    tillage: Literal["allowed", "not allowed", "ask"] = "ask"
    fly_free_date: Day | None = None


class WindowTable(Table):
    """Hours the crew states for one date."""

    date: Day
    spread: Span | None = None
    cover: Span | None = None
    closed: Words = ""

    @model_validator(mode="after")
    def _hours(self) -> WindowTable:
        if not self.closed and (self.spread is None) != (self.cover is None):
            raise FormError("one of two windows", "both spread and cover, or closed with a reason")
        if not self.closed and self.spread is None:
            raise FormError("no hours", "spread and cover, or closed with a reason")
        return self


class RememberedTable(Table):
    """A day the farmer remembers."""

    area: Area
    hours: Span
    cultivators: tuple[Name, ...] = Field(min_length=1, max_length=MOST_TABLES)


class PricesTable(Table):
    """What things cost here; nothing is reckoned for what is not stated."""

    currency: Currency | None = None
    fuel: Annotated[Money, Price(("per volume",))] | None = None
    labor: Annotated[Money, Price(("per time",))] | None = None
    labour: Annotated[Money, Price(("per time",))] | None = None
    labor_time: Hours | None = None
    labour_time: Hours | None = None
    point: Annotated[Money, Price(("each",))] | None = None
    points_used: Used | None = None
    fuel_used: FuelUse | None = None
    custom: Annotated[Money, Price(("per area",))] | None = None
    ownership: bool = False
    interest: Annotated[float, Quantity("fraction", 0.0, 0.5, "6 %")] | None = None

    @model_validator(mode="after")
    def _one_spelling(self) -> PricesTable:
        for one, other in (("labor", "labour"), ("labor_time", "labour_time")):
            if getattr(self, one) is not None and getattr(self, other) is not None:
                raise FormError(f"both {one} and {other}", "one of the two")
        return self


class PointsTable(Table):
    """Points of one row of shanks as measured: what each has lost since it was new."""

    cultivator: Name
    row: Name
    count: Annotated[int, Field(ge=1, le=500)]
    worn: Annotated[
        tuple[Worn, ...],
        BeforeValidator(one_or_more),
        Field(min_length=1, max_length=_MOST_MEASURED),
        WithJsonSchema({"type": "array", "items": {"type": "string"}}),
    ]
    over: Area
    limit: Annotated[float, Quantity("short length", 1e-3, 0.3)] | None = None

    @model_validator(mode="after")
    def _no_more_than_there_are(self) -> PointsTable:
        if len(self.worn) > self.count:
            raise FormError(
                f"{len(self.worn)} worn figures for {self.count} points",
                "no more figures than the row has points",
            )
        return self


class PokesTable(Table):
    """How deep the seed lies behind one cultivator, poked in front and rear rows."""

    cultivator: Name
    front: tuple[Depth, ...] = Field(min_length=1, max_length=_MOST_MEASURED)
    rear: tuple[Depth, ...] = Field(min_length=1, max_length=_MOST_MEASURED)


class LeftOutTable(Table):
    """Ground of a field that is not worked now: a wet hole, rocks, a stand of trees."""

    field: Name
    what: Name
    area: Piece | None = None
    at: LonLat | None = None
    ring: tuple[LonLat, ...] = Field(default=(), max_length=_MOST_RING)
    come_back: bool = True
    note: Words = ""

    @model_validator(mode="after")
    def _one_form(self) -> LeftOutTable:
        if bool(self.ring) == (self.area is not None):
            raise FormError("area and ring", "either area (with or without at), or ring")
        if self.ring and self.at is not None:
            raise FormError("at beside ring", "ring alone")
        if self.ring and len(self.ring) < 3:
            raise FormError(f"a ring of {len(self.ring)}", "a ring of three corners or more")
        return self


class DayTable(Table):
    """The rules of a day."""

    lead: Time | None = None
    changeover: Time | None = None
    sure: Sure | None = None
    margin: Time | None = None
    wind_limit: Wind | None = None
    gust_limit: Wind | None = None
    start: Clock | None = None
    move: Time | None = None
    road_speed: Speed | None = None
    fold: Time | None = None
    turn_angle: Angle | None = None
    order: tuple[Name, ...] = Field(default=(), max_length=MOST_NAMES)
    home_before_dark: bool = False
    breakdowns: Annotated[float, Quantity("per time", 0.0, 1e-3)] | None = None
    repair: Time | None = None


class FarmToml(Table):
    """The whole file."""

    farm: FarmTable
    person: tuple[PersonTable, ...] = Field(min_length=1, max_length=MOST_TABLES)
    tractor: tuple[TractorTable, ...] = Field(default=(), max_length=MOST_TABLES)
    spreader: tuple[SpreaderTable, ...] = Field(min_length=1, max_length=MOST_TABLES)
    cultivator: tuple[CultivatorTable, ...] = Field(min_length=1, max_length=MOST_TABLES)
    seed_truck: tuple[SeedTruckTable, ...] = Field(default=(), max_length=MOST_TABLES)
    lot: tuple[LotTable, ...] = Field(min_length=1, max_length=MOST_TABLES)
    bin: tuple[BinTable, ...] = Field(default=(), max_length=MOST_TABLES)
    program: ProgramTable = ProgramTable()
    window: tuple[WindowTable, ...] = Field(default=(), max_length=MOST_TABLES)
    remembered: tuple[RememberedTable, ...] = Field(default=(), max_length=MOST_TABLES)
    day: DayTable = DayTable()
    prices: PricesTable = PricesTable()
    points: tuple[PointsTable, ...] = Field(default=(), max_length=MOST_TABLES)
    pokes: tuple[PokesTable, ...] = Field(default=(), max_length=MOST_TABLES)
    left_out: tuple[LeftOutTable, ...] = Field(default=(), max_length=MOST_TABLES)
    season: SeasonTable = SeasonTable()
    crew: tuple[CrewTable, ...] = Field(default=(), max_length=MOST_TABLES)
    away: tuple[AwayTable, ...] = Field(default=(), max_length=MOST_TABLES)
    climate: tuple[ClimateTable, ...] = Field(default=(), max_length=MOST_TABLES)


Place = tuple[int | str, ...]


def _lines(text: str) -> dict[Place, int]:
    """Return the line of every table and key of the file, read once."""
    counts: dict[str, int] = {}
    table: Place = ()
    lines: dict[Place, int] = {}
    for number, line in enumerate(text.splitlines(), start=1):
        stripped = line.strip()
        header = HEADER.match(stripped)
        if header:
            name, *below = header.group(1).split(".")
            if stripped.startswith("[[") and not below:
                counts[name] = counts.get(name, -1) + 1
            number_in = (counts[name],) if name in counts else ()
            table = (name, *number_in, *below)
            lines.setdefault(table, number)
            continue
        key = KEY.match(stripped)
        if key:
            lines.setdefault((*table, key.group(1)), number)
    return lines


def _where(lines: dict[Place, int], loc: Place) -> str:
    """Return the nearest known line of a place, and its name."""
    name = ".".join(str(part + 1) if isinstance(part, int) else _plain(part) for part in loc)
    for length in range(len(loc), 0, -1):
        if loc[:length] in lines:
            return f"line {lines[loc[:length]]}, {name}"
    return name


def _plain(text: str) -> str:
    """Return a text fit to be printed, short whatever it is."""
    clean = "".join(letter if letter.isprintable() else "?" for letter in text[:_LONGEST_SHOWN])
    return f"{clean}..." if len(text) > _LONGEST_SHOWN else clean


def _shown(value: object) -> str:
    """Return what was read as it may stand in a sentence, short whatever it is."""
    if isinstance(value, str):
        return f"'{_plain(value)}'"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) and value.bit_length() > _HUGE_BITS:
        return "a huge number"
    if isinstance(value, int | float | dt.date | dt.time):
        return str(value)
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}"
    return "a table" if isinstance(value, dict) else "nothing"


def _known_keys(loc: tuple[int | str, ...]) -> list[str]:
    model: Any = FarmToml
    for part in loc[:-1]:
        if isinstance(part, int):
            continue
        annotation = _fields_by_key(model)[part].annotation
        models = _models_in(annotation)
        if not models:
            return []
        model = models[0]
    return list(_fields_by_key(model))


def _fields_by_key(model: Any) -> dict[str, Any]:
    """Return a table's fields by the key that stands in the file."""
    return {found.alias or name: found for name, found in model.model_fields.items()}


def _models_in(annotation: Any) -> list[Any]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for part in get_args(annotation) for model in _models_in(part)]


def _nearest(word: str, known: list[str]) -> str:
    near = difflib.get_close_matches(word[:_LONGEST_SHOWN], known, n=1, cutoff=0.5)
    return f"Did you mean {near[0]!r}?" if near else f"Known keys: {', '.join(known)}."


_EXPECTED = {
    "int_type": "a whole number",
    "int_parsing": "a whole number",
    "int_parsing_size": "a whole number",
    "int_from_float": "a whole number",
    "bool_type": "true or false",
    "bool_parsing": "true or false",
    "string_type": "a text in quotes",
    "float_type": "a number",
    "float_parsing": "a number",
    "finite_number": "a number",
    "tuple_type": "a list in square brackets",
    "model_type": "a table of keys",
    "model_attributes_type": "a table of keys",
    "greater_than_equal": "a number of at least {ge}",
    "less_than_equal": "a number of at most {le}",
    "literal_error": "{expected}",
    "string_pattern_mismatch": "{pattern}",
    "string_too_short": "a text that is not empty",
    "string_too_long": "at most {max_length} letters",
    "too_short": "at least {min_length}",
    "too_long": "at most {max_length} of them",
}


_LETTERS = {
    "^[A-Z]{2}$": 'two capital letters such as "US"',
    "^[A-Z]{3}$": 'three capital letters such as "USD"',
}


def _problem(error: Any, lines: dict[Place, int]) -> Problem:
    """Turn one finding into what was read, what was expected and the nearest known key."""
    loc = tuple(error["loc"])
    raised = error.get("ctx", {}).get("error")
    read = _shown(error["input"])
    expected, hint = _EXPECTED.get(error["type"], "another form"), ""
    if isinstance(raised, UnitError | FormError):
        read = str(raised.read) if isinstance(error["input"], dict) else read
        expected = raised.expected
    elif error["type"] == "missing":
        read, expected = "nothing", f"the key {loc[-1]!r}"
    elif error["type"] == "extra_forbidden":
        read, expected = f"the unknown key '{_plain(str(loc[-1]))}'", "a known key"
        hint = _nearest(str(loc[-1]), _known_keys(loc))
    elif error["type"] == "too_short" and len(loc) == 1:
        read, expected = "none", f"at least one [[{loc[-1]}]]"
    elif error["type"] == "string_pattern_mismatch":
        expected = _LETTERS[error["ctx"]["pattern"]]
    else:
        expected = expected.format_map(error.get("ctx", {}))
    where = _where(lines, loc)
    return Problem(file="farm.toml", where=where, read=read, expected=expected, hint=hint)


def _refused(where: str, read: str, expected: str) -> list[Problem]:
    return [Problem(file="farm.toml", where=where, read=read, expected=expected)]


def read_farm_toml(raw: bytes) -> tuple[FarmToml | None, str, list[Problem]]:
    """Return the file's content, its text, and every problem found in it.

    Parameters
    ----------
    raw
        The file as bytes; more than 1 MB is refused unread.
    """
    if len(raw) > LARGEST_BYTES:
        return None, "", _refused("", "more than 1 MB", "no more than 1 MB")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        line = raw.count(b"\n", 0, wrong.start) + 1
        return None, "", _refused(f"line {line}", "a byte that is no text", "text saved as UTF-8")
    try:
        content = tomllib.loads(text)
    except RecursionError:
        return None, text, _refused("", "lists nested too deep to follow", "a farm's own tables")
    except ValueError as wrong:  # slips of the pen, and whole numbers past all counting
        return None, text, _slip(wrong)
    try:
        return FarmToml.model_validate(content), text, []
    except ValidationError as wrong:
        return None, text, _problems(wrong.errors(), text)


def _slip(wrong: ValueError) -> list[Problem]:
    """Return what the parser stumbled over, with its line."""
    message = str(wrong)
    line = re.search(r"line (\d+)", message)
    read = _plain(message.split(" (at", maxsplit=1)[0])
    if not isinstance(wrong, tomllib.TOMLDecodeError):
        read = "a number with thousands of digits"
    if read == "Cannot overwrite a value":
        read = "a key that was there before"
    where = f"line {line.group(1)}" if line else ""
    if "end of document" in message:
        where = "the end of the file"
    return _refused(where, read, "TOML (key = value; texts in quotes; each key once)")


def _problems(errors: list[Any], text: str) -> list[Problem]:
    """Return the findings as problems, at most a page or two of them."""
    refused = {error["loc"][0] for error in errors if len(error["loc"]) > 1}
    told = [  # "too few" only follows where items were refused themselves
        error
        for error in errors
        if error["type"] != "too_short" or len(error["loc"]) > 1 or error["loc"][0] not in refused
    ]
    lines = _lines(text)
    problems = [_problem(error, lines) for error in told[:MOST_PROBLEMS]]
    if len(told) > MOST_PROBLEMS:
        more = f"{len(told) - MOST_PROBLEMS} more of the kind"
        problems.append(Problem(file="farm.toml", where="", read=more, expected="none"))
    return problems

"""The questions of a careful neighbor in words: what is read, why it matters, whom to ask.

No sentence says that a thing is allowed or forbidden by law: office, label and law say that.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, datetime

from duskline.answers.check import CheckAnswer, Question, QuestionKey, Value
from duskline.units import System, clock, number, show, show_chance, show_span

__all__ = ["acre_lines", "come_back_lines", "day_text", "names_text", "sentence"]

MOST_NAMES = 6


def sentence(question: Question, system: System) -> str:
    """Return the question as one or two sentences a person can act on.

    Parameters
    ----------
    system
        Whose units and whose way of writing dates and times.
    """
    return SENTENCES[question.key](_Reader(question, system))


def day_text(day: date, system: System) -> str:
    """Return a date without its year: "Oct 21" in US customary, "21 Oct" in metric."""
    return f"{day:%b} {day.day}" if system == "us" else f"{day.day} {day:%b}"


def names_text(names: tuple[str, ...]) -> str:
    """Return names in a row ("A1, A2 and A3"), the rest counted where they are many."""
    shown, rest = list(names[:MOST_NAMES]), len(names) - MOST_NAMES
    if rest > 0:
        shown.append(f"{rest} more")
    if len(shown) < 2:
        return "".join(shown)
    return f"{', '.join(shown[:-1])} and {shown[-1]}"


class _Reader:
    """Takes the figures of one question and shows them in one system."""

    def __init__(self, question: Question, system: System) -> None:
        self.subject = question.subject
        self.system: System = system
        self._values = question.values

    def has(self, name: str) -> bool:
        return bool(self._values.get(name))

    def raw(self, name: str) -> Value:
        return self._values.get(name)

    def text(self, name: str) -> str:
        return str(self._values[name])

    def figure(self, name: str) -> float:
        value = self._values[name]
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise TypeError(name)
        return float(value)

    def show(self, name: str, kind: str, digits: int | None = None) -> str:
        return show(self.figure(name), kind, self.system, digits)

    def percent(self, name: str) -> str:
        return show(self.figure(name), "fraction", self.system, 0)

    def count(self, name: str, thing: str) -> str:
        many = self.figure(name)
        return f"{number(many, 0)} {thing}{'' if many == 1 else 's'}"

    def names(self, name: str) -> str:
        value = self._values[name]
        if not isinstance(value, tuple):
            raise TypeError(name)
        return names_text(value)

    def plural(self, name: str) -> bool:
        value = self._values[name]
        return isinstance(value, tuple) and len(value) > 1

    def day(self, name: str) -> str:
        value = self._values[name]
        if not isinstance(value, date):
            raise TypeError(name)
        return day_text(value, self.system)

    def clock(self, name: str) -> str:
        value = self._values[name]
        if not isinstance(value, datetime):
            raise TypeError(name)
        return clock(value, self.system)

    @property
    def program(self) -> str:
        """The program by its name, or "the program" where it has none."""
        return str(self._values.get("program") or "the program")

    def fields(self, word: str = "field") -> str:
        """Return "field A1" or "fields A1, A2 and A3"."""
        return f"{word}{'s' if self.plural('fields') else ''} {self.names('fields')}"


# --------------------------------------------------------------------------- the program


def _tillage(r: _Reader) -> str:
    if r.raw("forbidden"):
        return (
            f"You wrote that {r.program} does not allow working the ground. Covering with "
            "cultivators works all of it: ask the office before the first field."
        )
    return (
        f"It is not written down whether {r.program} allows working the whole ground; some pay "
        "for drilled or uncovered seed only. Ask the office, then set program.tillage."
    )


def _method(r: _Reader) -> str:
    return (
        f'The method of {r.program} reads "{r.text("method")}". This plan broadcasts and works '
        "the seed in: ask the office whether that may stand in its place."
    )


def _program_not_stated(r: _Reader) -> str:  # noqa: ARG001
    return (
        "No program is written down. If any of this ground is under a cost-share contract or "
        "an insurance discount, read there what it says on method, rate, seed and dates."
    )


def _sow_by_passed(r: _Reader) -> str:
    return (
        f"The last sowing date of {r.program}, {r.day('sow_by')}, is {r.count('days', 'day')} "
        "past. Ask the office for a later date in writing before you spread."
    )


def _ready_after_sow_by(r: _Reader) -> str:
    be = "become" if r.plural("fields") else "becomes"
    return (
        f"{r.fields('Field')} {be} ready only after {r.day('sow_by')}, the last sowing "
        f"date of {r.program}. Ask the office, or leave the ground out of the claim."
    )


def _sow_by_near(r: _Reader) -> str:
    days = r.figure("days")
    left = "today" if days == 0 else f"in {r.count('days', 'day')}"
    return (
        f"The last sowing date of {r.program} is {left}, {r.day('sow_by')}. Ask whether "
        "broadcast seed has an earlier one: one district wanted it "
        f"{number(r.figure('earlier_low_days'), 0)} to "
        f"{number(r.figure('earlier_high_days'), 0)} days sooner."
    )


# --------------------------------------------------------------------------- seed


def _rate_below_floor(r: _Reader) -> str:
    return (
        f"{r.subject} is planned at {r.show('live_kg_per_m2', 'rate')} live, "
        f"{r.show('short_live_kg_per_m2', 'rate')} short of the "
        f"{r.show('floor_kg_per_m2', 'rate')} live that {r.program} asks for. Add "
        f"{r.show('add_bulk_kg_per_m2', 'rate')} bulk, or ask the office first."
    )


def _mix_and_floor(r: _Reader) -> str:
    return (
        f"{r.program[:1].upper()}{r.program[1:]} asks for "
        f"{r.show('floor_kg_per_m2', 'rate')} live; {r.subject} is a mix of {r.names('parts')}. "
        "Ask the office how a mix is counted."
    )


def _germination_too_low(r: _Reader) -> str:
    return (
        f"{r.subject} germinates {r.percent('germination_fraction')}. Sowing it is poor use of "
        "the day: count again, clean it, or find other seed, and ask extension."
    )


def _germination_needs_agreement(r: _Reader) -> str:
    return (
        f"{r.subject} germinates {r.percent('germination_fraction')}. Ask the office before it "
        "is sown, and write down who agreed and when (agreed_by, agreed_on)."
    )


def _germination_under_usual(r: _Reader) -> str:
    return (
        f"{r.subject} germinates {r.percent('germination_fraction')}; one state's office wants "
        f"{r.percent('usual_fraction')} in ordinary years. Ask yours what it takes."
    )


def _germination_agreed(r: _Reader) -> str:
    return (
        f"{r.subject} germinates {r.percent('germination_fraction')}, agreed to by "
        f"{r.text('agreed_by')} on {r.day('agreed_on')}. Weak seed is let in where the stand is "
        "looked at later: keep the letter and plan the stand count."
    )


def _saved_seed(r: _Reader) -> str:
    words = "lots" if r.plural("lots") else "lot"
    text = (
        f"Seed that is not certified ({words} {r.names('lots')}): look on the tag it was first "
        "bought with for a patent number or the words protected variety, and ask the seller "
        "whether the contract lets you sow what you saved, or what a neighbor saved."
    )
    if r.has("unnamed"):
        text += f" The variety is not written down for {r.names('unnamed')}."
    return text


def _laboratory_test(r: _Reader) -> str:
    words = "lots" if r.plural("lots") else "lot"
    return (
        f"Uncertified seed ({words} {r.names('lots')}) may need a laboratory test and a tag "
        f"before {r.program} takes it; a count on towels at home may not do. Ask the office."
    )


def _treated_seed(r: _Reader) -> str:
    return (
        f"{r.subject} is treated seed: read its label on gloves, dust, spills and what it may "
        "be mixed with. Cover spills and row ends. Clean the truck before it hauls grain again: "
        "one treated seed can turn a load away, so ask the buyer."
    )


def _treated_near_water(r: _Reader) -> str:
    return (
        f"{r.subject}, {r.text('side')}: {r.text('kind')} along the edge and the seed is treated. "
        "Read the label on water before you spread there, and keep every seed out of it."
    )


def _insects(r: _Reader) -> str:
    found = [
        r.count(name, thing)
        for name, thing in (("weevils_count", "weevil"), ("others_count", "other live insect"))
        if r.figure(name) > 0
    ]
    kg = show(r.figure("sample_kg"), "mass", r.system, 1)
    return (
        f"{r.subject}: {' and '.join(found)} in a sample of {kg}. Insects dust up the hopper and "
        "cost germination while seed waits: count again just before sowing, ask extension what "
        "to do, and look in the bins beside it."
    )


def _figure_cannot_be(r: _Reader) -> str:
    low, high = r.raw("low"), r.raw("high")
    sides = [
        f"{word} {value:g}"
        for word, value in (("at least", low), ("at most", high))
        if isinstance(value, int | float)
    ]
    limits = f"; it must be {' and '.join(sides)}" if sides else ""
    return (
        f"The figures do not go together: {r.subject} comes to {r.figure('value'):g}{limits}. "
        "Look at the seed tests, rates and remembered days in farm.toml."
    )


def _bin_short(r: _Reader) -> str:
    return (
        f"{r.subject}: {r.show('mass_kg', 'mass')} on hand, {r.show('needed_kg', 'mass')} "
        f"needed. It does {r.show('does_m2', 'area', 0)} of {r.show('area_m2', 'area', 0)}: buy "
        "more, ask the office about a lower rate, or say now which field to leave out."
    )


def _lot_not_stated(r: _Reader) -> str:
    be = "name" if r.plural("fields") else "names"
    return (
        f"{r.fields('Field')} {be} no seed lot; {r.text('lot')} is taken. Write lot beside "
        "the name in fields.geojson if another is meant."
    )


def _lot_unused(r: _Reader) -> str:
    return f"No field is sown with the lot {r.subject}. Is one forgotten?"


# --------------------------------------------------------------------------- fields


def _herbicide(r: _Reader) -> str:
    applied = (
        f"{r.subject}: {r.text('product')} went on {r.day('applied_on')} with "
        f"{r.count('interval_days', 'day')} to wait"
    )
    if r.raw("days") is None:
        return f"{applied}, so until {r.day('over_on')}. Read the label before seeding."
    return (
        f"{applied}. On {r.day('sown_on')} {r.count('days', 'day')} are left, to "
        f"{r.day('over_on')}: read the label, and what it says of cover crops, before you seed."
    )


def _fly_free(r: _Reader) -> str:
    return (
        f"Wheat on {r.fields()} can go in before the fly-free date, {r.day('fly_free')}. That "
        "date is meant for cover crops too: ask extension, or sow these fields last."
    )


def _fly_free_not_stated(r: _Reader) -> str:
    return (
        f"Wheat is planned on {r.fields()} and no fly-free date is written down "
        "(program.fly_free_date). Extension has the one for your county; some have none."
    )


def _erodible(r: _Reader) -> str:
    return (
        f"{r.subject} washes easily. Ask the office whether its conservation plan lets you work "
        "the whole ground in fall, and work across the slope whichever way the spreader went."
    )


_EDGE_WHY = {
    "organic": "Ask the neighbor how far seed, and treated seed above all, must stay away",
    "seed crop": "Ask the neighbor which species may not stand near it",
    "water": "Ask the office what strip to leave unworked along it",
    "ditch": "Seed and loose soil in it are lost; ask whose it is to keep open",
    "road": "Seed on the road draws birds and deer; stop the disks before the end",
    "home": "Tell the people there when you come, for dust and noise",
}


def _edge(r: _Reader) -> str:
    note = f" ({r.text('note')})" if r.has("note") else ""
    why = _EDGE_WHY.get(r.text("kind"), "Ask the neighbor what matters there")
    if r.has("reach_m"):
        reach = r.show("reach_m", "length", 0)
        least = "at least " if r.has("reaches_farther") else ""
        throw = (
            f"In the trays the spreader threw {least}{reach} to a side: a first pass no nearer "
            "than that keeps seed on your own ground in calm air"
        )
    else:
        throw = "Make a tray test: without one nobody knows how far seed flies past the edge"
        if r.has("driving_width_m"):
            throw += f", farther than half of {r.show('driving_width_m', 'length', 0)}"
    return f"{r.subject}, {r.text('side')}: {r.text('kind')}{note}. {why}. {throw}."


def _not_after_rain(r: _Reader) -> str:
    it = "They" if r.plural("fields") else "It"
    text = (
        f"{r.fields('Field')} will not carry machines after rain, and the forecast has "
        f"a {r.percent('chance_fraction')} chance of it"
    )
    if r.has("rain_at"):
        moment = r.raw("rain_at")
        if isinstance(moment, datetime):
            text += f", from {r.clock('rain_at')} on {day_text(moment.date(), r.system)}"
    return f"{text}. {it} should come first, or wait."


def _outlines_overlap(r: _Reader) -> str:
    return (
        f"The outlines of {r.subject} and {r.text('other')} share "
        f"{r.show('shared_m2', 'area')}, {r.percent('share_fraction')} of the smaller one. Which "
        "is right? Ground drawn twice is sown, and claimed, twice."
    )


_MEASURES = {
    "outline": "its outline holds",
    "driven": "driven it came to",
    "office": "the office has",
}


def _acres_differ(r: _Reader) -> str:
    one, other = (
        f"{_MEASURES[r.text(name)]} {r.show(f'{name}_m2', 'area')}" for name in ("one", "other")
    )
    return (
        f"{r.subject}: {one}, {other}; that is {r.show('share_fraction', 'fraction')} apart. None "
        "of them was altered. Which one does the office pay on, and which does the seed follow?"
    )


def _left_out(r: _Reader) -> str:
    text = (
        f"{r.subject}: {r.show('left_out_m2', 'area')} left out ({r.names('what')}); "
        f"{r.show('record_m2', 'area')} of {r.show('outline_m2', 'area')} go on the record. Ask "
        "whether payment is for those alone"
    )
    if r.has("come_back"):
        text += f", and by when what is left for later ({r.names('come_back')}) may be sown"
    return f"{text}."


def acre_lines(answer: CheckAnswer, system: System) -> list[str]:
    """Return the fields' areas side by side, one line a field, what differs marked.

    Parameters
    ----------
    system
        Whose units.

    Returns
    -------
    list[str]
        Empty where no field states more than its outline.
    """
    if not answer.acres:
        return []

    def cell(area_m2: float | None) -> str:
        return "not stated" if area_m2 is None else show(area_m2, "area", system)

    rows = [("field", "outline", "driven", "office", "for the record", "")]
    for row in answer.acres:
        apart = f"{number(100.0 * row.apart_fraction, 1)} % apart" if row.differs else ""
        rows.append(
            (
                row.field,
                cell(row.acres.outline_m2),
                cell(row.acres.driven_m2),
                cell(row.acres.office_m2),
                cell(row.record_m2),
                f"<- {apart}" if apart else "",
            )
        )
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    return [
        "  ".join(
            text.ljust(width) if column in (0, 5) else text.rjust(width)
            for column, (text, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]


def come_back_lines(answer: CheckAnswer, system: System) -> list[str]:
    """Return the ground to come back to, one line a place with room for a tick and the date."""
    return [
        f"[ ] {one.field}: {one.what}, {show(one.area_m2, 'area', system)}"
        + (f" ({one.note})" if one.note else "")
        + ("" if one.centre_lonlat_deg else "; its place is not written down")
        + ". Done on ________"
        for one in answer.come_back
    ]


def _previous_crop_missing(r: _Reader) -> str:
    return (
        f"The record asks for the crop before this one; it is not written down for {r.fields()} "
        "(previous_crop in fields.geojson)."
    )


def _numbers_missing(r: _Reader) -> str:
    return (
        f"The record for {r.program} asks for farm, tract and field numbers; not all are written "
        f"down for {r.fields()}. The office has them; they must match the acreage form."
    )


# --------------------------------------------------------------------------- people and the day


def _too_young_to_drive(r: _Reader) -> str:
    return (
        f"{r.subject} is {number(r.figure('age'), 0)} and named for {r.names('machines')}. In the "
        "United States hired work under 16 leaves out tractors above 20 PTO horsepower and "
        "hitching; on a family's own farm, and elsewhere, other rules hold. Ask before the day; "
        "the crew plan leaves the machine to somebody else."
    )


def _too_young_to_load(r: _Reader) -> str:
    return (
        f"{r.subject} is {number(r.figure('age'), 0)} and down for the seed truck. In the United "
        "States hired work under 16 leaves out augers and unloading wagons, and the road has its "
        "own rules. Ask before the day."
    )


def _young_helper(r: _Reader) -> str:
    return (
        f"{r.subject} is {number(r.figure('age'), 0)}: show where the shields and the stop are, "
        "keep clear of auger and PTO while they turn, walk round and never step over, and nobody "
        "enters a bin or wagon while seed moves."
    )


def _road_in_dark(r: _Reader) -> str:
    text = (
        f"The sun sets at {r.clock('sunset_at')}. Whatever must go home by road goes before, with "
        "the slow-moving emblem clean and lights on"
    )
    if r.has("machines"):
        lack = "have" if r.plural("machines") else "has"
        text += f"; {r.names('machines')} {lack} no lights written down"
    return f"{text}. To plan it in, set home_before_dark."


def _no_emergency_place(r: _Reader) -> str:  # noqa: ARG001
    return (
        "No place is written down that an ambulance would find (farm.emergency_location). Write "
        "the road, the number and the gate, so that the helper can read it out."
    )


def _low_sureness(r: _Reader) -> str:
    chance = show_chance(r.figure("sure_fraction"))
    miss = 20 - round(r.figure("sure_fraction") * 20)
    return (
        f"The day is planned to be {chance} sure, below {show_chance(r.figure('usual_fraction'))}: "
        f"about {miss} days of 20 would end with seed lying open. Is that what you want?"
    )


def _default_efficiency(r: _Reader) -> str:
    word = "run" if r.plural("machines") else "runs"
    return (
        f"{r.names('machines')} {word} on a wide default for clock efficiency "
        f"({r.percent('low_fraction')} to {r.percent('high_fraction')} for covering). Tell a day "
        "you remember, or ask again after two hours of log."
    )


# --------------------------------------------------------------------------- the season


def _due_not_stated(r: _Reader) -> str:
    which = "any field" if r.raw("all") else r.fields()
    return (
        f"No last sowing day is written down for {which}, so a plan of the season cannot say what "
        f"comes too late. Look in {r.program if r.has('program') else 'your contract, if any'}, "
        "then set season.due in farm.toml, or due beside the field's name."
    )


def _due(r: _Reader) -> str:
    return r.day("due") if r.has("due") else "the last day set for each"


def _ready_after_due(r: _Reader) -> str:
    be = "become" if r.plural("fields") else "becomes"
    return (
        f"{r.fields('Field')} {be} ready only after {_due(r)}: late whatever the plan. Can the "
        "harvest go there earlier, or does a later day do?"
    )


def _may_be_ready_after_due(r: _Reader) -> str:
    return (
        f"{r.fields('Field')} can be ready in time, but if the harvest runs late not before "
        f"{_due(r)} is past. Say so to whoever harvests."
    )


def _field_bigger_than_a_day(r: _Reader) -> str:
    be = "are" if r.plural("fields") else "is"
    text = (
        f"{r.fields('Field')} {be} bigger than one crew covers in a day: with every machine "
        f"covering from first to last, {show_span(r.figure('longest_s'))}, it does "
        f"{r.show('most_m2', 'area', 0)}."
    )
    if r.raw("may_split"):
        return f"{text} Mark where to stop, for only what is covered the same day may be spread."
    return f"{text} Yet split is false: allow it, or bring in another machine for the day."


def _in_no_crew(r: _Reader) -> str:
    be = "stand" if r.plural("machines") else "stands"
    return (
        f"{r.names('machines')} {be} in no crew, so the season is planned without. Write the name "
        "under machines or seed_trucks of a [[crew]], or leave it out on purpose."
    )


def _crews_share(r: _Reader) -> str:
    return (
        f"{r.subject} is counted on in {r.names('crews')} at the same time. Crews work side by "
        "side: name somebody or something else for one of them."
    )


def _forecast_old(r: _Reader) -> str:
    made = r.raw("issued_at")
    when = f" ({day_text(made, r.system)})" if isinstance(made, datetime) else ""
    return (
        f"On {r.day('on')} the forecast is {_age(r.figure('age_s'))} old{when}. Put a new one in "
        "the folder before you settle the day."
    )


def _age(age_s: float) -> str:
    """Return an age in whole days, in hours where it is under two days."""
    days, hours = int(age_s // 86400.0), round(age_s / 3600.0)
    return f"{days} days" if days >= 2 else f"{hours} hour{'' if hours == 1 else 's'}"


def _climate_not_stated(r: _Reader) -> str:
    return (
        "For days the forecast does not reach there is no table of your own falls ([[climate]]). "
        f"A wide guess of ours is used: {r.percent('typical_fraction')} of days fit for covering "
        f"({r.percent('low_fraction')} in a poor fall, {r.percent('high_fraction')} in a good "
        f"one), {show_span(r.figure('cover_s'))} on a fit day. Ask a neighbor who keeps a diary."
    )


def _losses_in_dollars(r: _Reader) -> str:
    return (
        f"What lateness loses is not all written down ({r.names('losses')} under [season]). "
        f"Figures in US dollars stand in and are taken as {r.text('currency')}: write your own."
    )


SENTENCES: Mapping[QuestionKey, Callable[[_Reader], str]] = {
    QuestionKey.TILLAGE: _tillage,
    QuestionKey.METHOD: _method,
    QuestionKey.PROGRAM_NOT_STATED: _program_not_stated,
    QuestionKey.SOW_BY_PASSED: _sow_by_passed,
    QuestionKey.READY_AFTER_SOW_BY: _ready_after_sow_by,
    QuestionKey.SOW_BY_NEAR: _sow_by_near,
    QuestionKey.RATE_BELOW_FLOOR: _rate_below_floor,
    QuestionKey.MIX_AND_FLOOR: _mix_and_floor,
    QuestionKey.GERMINATION_TOO_LOW: _germination_too_low,
    QuestionKey.GERMINATION_NEEDS_AGREEMENT: _germination_needs_agreement,
    QuestionKey.GERMINATION_UNDER_USUAL: _germination_under_usual,
    QuestionKey.GERMINATION_AGREED: _germination_agreed,
    QuestionKey.SAVED_SEED: _saved_seed,
    QuestionKey.LABORATORY_TEST: _laboratory_test,
    QuestionKey.TREATED_SEED: _treated_seed,
    QuestionKey.TREATED_NEAR_WATER: _treated_near_water,
    QuestionKey.INSECTS: _insects,
    QuestionKey.FIGURE_CANNOT_BE: _figure_cannot_be,
    QuestionKey.BIN_SHORT: _bin_short,
    QuestionKey.LOT_NOT_STATED: _lot_not_stated,
    QuestionKey.LOT_UNUSED: _lot_unused,
    QuestionKey.HERBICIDE: _herbicide,
    QuestionKey.FLY_FREE: _fly_free,
    QuestionKey.FLY_FREE_NOT_STATED: _fly_free_not_stated,
    QuestionKey.ERODIBLE: _erodible,
    QuestionKey.EDGE: _edge,
    QuestionKey.NOT_AFTER_RAIN: _not_after_rain,
    QuestionKey.OUTLINES_OVERLAP: _outlines_overlap,
    QuestionKey.ACRES_DIFFER: _acres_differ,
    QuestionKey.LEFT_OUT: _left_out,
    QuestionKey.PREVIOUS_CROP_MISSING: _previous_crop_missing,
    QuestionKey.NUMBERS_MISSING: _numbers_missing,
    QuestionKey.TOO_YOUNG_TO_DRIVE: _too_young_to_drive,
    QuestionKey.TOO_YOUNG_TO_LOAD: _too_young_to_load,
    QuestionKey.YOUNG_HELPER: _young_helper,
    QuestionKey.ROAD_IN_DARK: _road_in_dark,
    QuestionKey.NO_EMERGENCY_PLACE: _no_emergency_place,
    QuestionKey.LOW_SURENESS: _low_sureness,
    QuestionKey.DEFAULT_EFFICIENCY: _default_efficiency,
    QuestionKey.DUE_NOT_STATED: _due_not_stated,
    QuestionKey.READY_AFTER_DUE: _ready_after_due,
    QuestionKey.MAY_BE_READY_AFTER_DUE: _may_be_ready_after_due,
    QuestionKey.FIELD_BIGGER_THAN_A_DAY: _field_bigger_than_a_day,
    QuestionKey.IN_NO_CREW: _in_no_crew,
    QuestionKey.CREWS_SHARE: _crews_share,
    QuestionKey.FORECAST_OLD: _forecast_old,
    QuestionKey.CLIMATE_NOT_STATED: _climate_not_stated,
    QuestionKey.LOSSES_IN_DOLLARS: _losses_in_dollars,
}

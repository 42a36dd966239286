"""When each machine may work on a day, and why."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_weather import KMH, MPH, hourly, limits

from duskline.core.errors import OutOfRange
from duskline.core.light import Daylight, daylight, local_midnight_at, seconds_after
from duskline.core.weather import (
    DayOpenings,
    Forecast,
    NoteKind,
    Opening,
    Reason,
    WeatherLimits,
    Work,
    derive_openings,
    with_margin,
)

CHICAGO = ZoneInfo("America/Chicago")
NEW_YORK = ZoneInfo("America/New_York")
AUCKLAND = ZoneInfo("Pacific/Auckland")
HOUR_S = 3600.0

SPREADER = Work(machine="spreader", kind="spread", guided=True, lights=False)
BY_EYE = Work(machine="cultivator 1", kind="cover", guided=False, lights=True)
GUIDED = Work(machine="cultivator 2", kind="cover", guided=True, lights=True)

# Oats and radish in New Zealand, 1 March 2026, 07 to 20 h.
OATS_PLACE = (-43.6, 171.7)
OATS_DAY = date(2026, 3, 1)
OATS_AIR_C = [12.0, 14, 17, 20, 22, 24, 25, 26, 25, 19, 16, 15, 14, 13]
OATS_HUMIDITY = [88, 79, 66, 55, 47, 42, 38, 36, 40, 72, 82, 84, 86, 88]
OATS_WIND_KMH = [5, 6, 8, 11, 14, 18, 23, 28, 31, 26, 20, 16, 14, 12]
OATS_RAIN_MM = [0.0] * 9 + [1.2, 2.5, 2.0, 1.0, 0.2]

# Rye after soybeans in Iowa, 19 October 2026, 07 to 20 h.
RYE_PLACE = (42.0, -93.5)
RYE_DAY = date(2026, 10, 19)
RYE_AIR_F = [52, 54, 57, 61, 64, 66, 66, 65, 60, 57, 55, 54, 53, 52]
RYE_HUMIDITY = [92, 88, 82, 74, 70, 68, 70, 74, 88, 94, 95, 96, 96, 96]
RYE_WIND_MPH = [6, 7, 8, 9, 10, 11, 12, 13, 16, 15, 12, 10, 8, 8]
RYE_CHANCE = [5, 5, 5, 10, 10, 15, 25, 40, 70, 85, 90, 90, 80, 70]


def oats_forecast() -> Forecast:
    """The first day of the oats farm, from 07:00."""
    return hourly(
        datetime(2026, 3, 1, 7, tzinfo=AUCKLAND),
        air_c=OATS_AIR_C,
        humidity=[one / 100 for one in OATS_HUMIDITY],
        wind_mps=[one * KMH for one in OATS_WIND_KMH],
        rain_m=[one / 1000 for one in OATS_RAIN_MM],
    )


def fair(
    day: date,
    zone: ZoneInfo,
    *,
    damp_until_h: float = 0,
    damp_from_h: float = 24,
    windy: tuple[float, ...] = (),
    rainy: tuple[float, ...] = (),
    issued_at: datetime | None = None,
    skip: tuple[int, ...] = (),
) -> Forecast:
    """A whole day of hours, elapsed from midnight: dry and calm but where said."""
    hours = range(24)
    return hourly(
        local_midnight_at(day, zone),
        air_c=[12.0] * 24,
        spread_c=[1.0 if h < damp_until_h or h >= damp_from_h else 8.0 for h in hours],
        wind_mps=[9.0 if h in windy else 2.0 for h in hours],
        rain_chance=[0.8 if h in rainy else 0.0 for h in hours],
        issued_at=issued_at,
        skip=skip,
    )


def openings(
    forecast: Forecast,
    *works: Work,
    place: tuple[float, float] = RYE_PLACE,
    day: date = RYE_DAY,
    zone: ZoneInfo = CHICAGO,
    crew_start_h: float = 8.0,
    crew_end_h: float | None = None,
    now_at: datetime | None = None,
    rules: WeatherLimits | None = None,
) -> DayOpenings:
    """The day's openings for these machines."""
    return derive_openings(
        forecast=forecast,
        light=daylight(*place, day, zone),
        day_start_at=local_midnight_at(day, zone),
        works=works,
        limits=rules or limits(),
        crew_start_s=crew_start_h * HOUR_S,
        crew_end_s=None if crew_end_h is None else crew_end_h * HOUR_S,
        now_at=now_at,
    )


def only(found: DayOpenings) -> Opening:
    """The one opening that was asked for; it must be there."""
    assert len(found.openings) == 1
    assert found.openings[0] is not None
    return found.openings[0]


def light_s(event: str, *, day: date = RYE_DAY) -> float:
    """An event of the rye farm's day, elapsed since midnight."""
    light: Daylight = daylight(*RYE_PLACE, day, CHICAGO)
    moment = getattr(light, event)
    assert isinstance(moment, datetime)
    return seconds_after(local_midnight_at(day, CHICAGO), moment)


# Whole days of the example farms


def test_wind_ends_spreading_at_one_and_rain_ends_covering_at_four() -> None:
    """Oats farm, limit 20 km/h: 23 km/h first stands at 13; 1.2 mm of rain at 16.

    An hourly value holds from its hour, so spreading closes at 13:00 and covering at 16:00.
    """
    found = openings(
        oats_forecast(),
        SPREADER,
        BY_EYE,
        place=OATS_PLACE,
        day=OATS_DAY,
        zone=AUCKLAND,
        crew_start_h=8.5,
        rules=limits(wind_limit_mps=20 * KMH),
    )
    spread, cover = found.openings
    assert spread is not None
    assert cover is not None
    assert spread.intervals == ((8.5 * HOUR_S, 13 * HOUR_S),)
    assert spread.reasons == (Reason.CREW_START, Reason.WIND)
    assert not spread.hard
    assert spread.sd_s == limits().wind_sd_s
    assert cover.closes_at_s == 16 * HOUR_S
    assert cover.closes_because is Reason.RAIN
    assert cover.hard
    assert cover.sd_s == limits().rain_sd_s


def test_wet_second_day_of_the_rye_farm_closes_where_rain_gets_likely() -> None:
    """40 % at 14 and 70 % at 15, limit 50 %: spreading and covering both close at 15:00, hard.

    Dew at 08: 54 F (12.2 C) and 88 % is 1.9 C over the dew point in 7 mph, no longer calm.
    """
    forecast = hourly(
        datetime(2026, 10, 19, 7, tzinfo=CHICAGO),
        air_c=[(one - 32) / 1.8 for one in RYE_AIR_F],
        humidity=[one / 100 for one in RYE_HUMIDITY],
        wind_mps=[one * MPH for one in RYE_WIND_MPH],
        rain_chance=[one / 100 for one in RYE_CHANCE],
    )
    found = openings(forecast, SPREADER, BY_EYE, rules=limits(wind_limit_mps=14 * MPH))
    for opening in found.openings:
        assert opening is not None
        assert opening.closes_at_s == 15 * HOUR_S
        assert opening.closes_because is Reason.RAIN
        assert opening.hard


# Spreading


def test_spreader_starts_while_the_tines_still_wait_for_the_dew() -> None:
    """Damp to 10:00, crew at 08:00: spreading opens at 8, covering at 10 with the dew off."""
    found = openings(fair(RYE_DAY, CHICAGO, damp_until_h=10), SPREADER, BY_EYE)
    spread, cover = found.openings
    assert spread is not None
    assert cover is not None
    assert (spread.opens_at_s, spread.opens_because) == (8 * HOUR_S, Reason.CREW_START)
    assert (cover.opens_at_s, cover.opens_because) == (10 * HOUR_S, Reason.DEW_OFF)
    assert cover.opens_sd_s == limits().dew_sd_s


def test_early_crew_waits_for_sunrise_or_with_lights_for_dawn() -> None:
    """A crew at 05:00: by eye from sunrise, guided with lights from civil dawn."""
    weather = fair(RYE_DAY, CHICAGO)
    by_sun = only(openings(weather, SPREADER, crew_start_h=5))
    assert by_sun.opens_at_s == light_s("sunrise_at")
    assert by_sun.opens_because is Reason.SUNRISE
    lit = only(openings(weather, replace(SPREADER, lights=True), crew_start_h=5))
    assert lit.opens_at_s == light_s("civil_dawn_at")
    assert lit.opens_because is Reason.CIVIL_DAWN


def test_windy_hours_are_holes_and_spreading_resumes_after_them() -> None:
    """Wind at 11, 12 and 15: 08-11, 13-15 and 16 to dusk."""
    opening = only(openings(fair(RYE_DAY, CHICAGO, windy=(11, 12, 15)), SPREADER))
    dusk_s = light_s("civil_dusk_at")
    assert opening.intervals == (
        (8 * HOUR_S, 11 * HOUR_S),
        (13 * HOUR_S, 15 * HOUR_S),
        (16 * HOUR_S, dusk_s),
    )
    assert opening.closes_because is Reason.CIVIL_DUSK
    assert opening.open_s == pytest.approx(dusk_s - 11 * HOUR_S)


def test_windy_morning_opens_spreading_when_it_drops_and_never_holds_up_covering() -> None:
    """Wind over the limit to 10:00: spreading opens at 10 by the wind; covering at 08."""
    weather = fair(RYE_DAY, CHICAGO, windy=(6, 7, 8, 9))
    spread, cover = openings(weather, SPREADER, BY_EYE).openings
    assert spread is not None
    assert cover is not None
    assert (spread.opens_at_s, spread.opens_because) == (10 * HOUR_S, Reason.WIND)
    assert cover.opens_at_s == 8 * HOUR_S


def test_gusts_over_their_own_limit_close_an_hour_too() -> None:
    """A steady 2 m/s with gusts of 11 at noon, limit 10: a hole from 12 to 13."""
    weather = hourly(
        local_midnight_at(RYE_DAY, CHICAGO),
        air_c=[12.0] * 24,
        gust_mps=[11.0 if h == 12 else 4.0 for h in range(24)],
    )
    opening = only(openings(weather, SPREADER, rules=limits(gust_limit_mps=10.0)))
    assert opening.intervals[0] == (8 * HOUR_S, 12 * HOUR_S)
    assert opening.intervals[1][0] == 13 * HOUR_S


def test_day_of_too_much_wind_has_no_spreading_and_says_so() -> None:
    """Every hour over the limit: no opening, and a note with the spreader's name."""
    found = openings(fair(RYE_DAY, CHICAGO, windy=tuple(range(24))), SPREADER)
    assert found.openings == (None,)
    note = found.notes[-1]
    assert (note.kind, note.machine) == (NoteKind.WIND_STAYS, "spreader")


# Covering


def test_dew_in_the_evening_closes_covering_before_dark() -> None:
    """Damp from 17:00: covering closes then, firm but not hard; the spreader is not closed."""
    spread, cover = openings(fair(RYE_DAY, CHICAGO, damp_from_h=17), SPREADER, BY_EYE).openings
    assert spread is not None
    assert cover is not None
    assert (cover.closes_at_s, cover.closes_because) == (17 * HOUR_S, Reason.DEW_ON)
    assert not cover.hard
    assert spread.closes_because is Reason.CIVIL_DUSK


def test_dark_is_hard_by_eye_and_soft_for_a_guided_machine_with_lights() -> None:
    """Dew from 21:00: by eye until dusk, hard; guided with lights until the dew, dark noted."""
    weather = fair(RYE_DAY, CHICAGO, damp_from_h=21)
    by_eye, guided = openings(weather, BY_EYE, GUIDED).openings
    assert by_eye is not None
    assert guided is not None
    dusk_s = light_s("civil_dusk_at")
    assert (by_eye.closes_at_s, by_eye.closes_because) == (dusk_s, Reason.CIVIL_DUSK)
    assert by_eye.hard
    assert by_eye.dark_soft_at_s is None
    assert (guided.closes_at_s, guided.closes_because) == (21 * HOUR_S, Reason.DEW_ON)
    assert not guided.hard
    assert guided.dark_soft_at_s == dusk_s


def test_guidance_without_lights_still_ends_at_dusk() -> None:
    """A guidance line does not show the wet hole ahead: without lights dark is dark."""
    opening = only(openings(fair(RYE_DAY, CHICAGO), replace(GUIDED, lights=False)))
    assert opening.closes_because is Reason.CIVIL_DUSK
    assert opening.hard


def test_crew_that_goes_home_closes_the_day_whatever_the_light() -> None:
    """Crew's end at 17:30 closes both; at 20:00 only the guided machine gets there."""
    weather = fair(RYE_DAY, CHICAGO)
    for crew_end_h, by_eye_closes in ((17.5, Reason.CREW_END), (20.0, Reason.CIVIL_DUSK)):
        by_eye, guided = openings(weather, BY_EYE, GUIDED, crew_end_h=crew_end_h).openings
        assert by_eye is not None
        assert guided is not None
        assert by_eye.closes_because is by_eye_closes
        assert guided.closes_because is Reason.CREW_END
        assert guided.closes_at_s == crew_end_h * HOUR_S


def test_soft_dark_closes_after_all_where_nothing_harder_does() -> None:
    """No dew, no rain, no crew's end: even with lights the day is planned to dusk, not hard."""
    opening = only(openings(fair(RYE_DAY, CHICAGO), GUIDED))
    assert opening.closes_at_s == light_s("civil_dusk_at")
    assert not opening.hard


def test_damp_hour_before_noon_is_the_mornings_dew_not_the_evenings() -> None:
    """Dry at 09, damp again at 10, dry from 11: covering opens at 09 and runs to dusk."""
    weather = hourly(
        local_midnight_at(RYE_DAY, CHICAGO),
        air_c=[12.0] * 24,
        spread_c=[1.0 if h < 9 or h == 10 else 8.0 for h in range(24)],
    )
    opening = only(openings(weather, BY_EYE))
    assert opening.opens_at_s == 9 * HOUR_S
    assert opening.closes_because is Reason.CIVIL_DUSK


def test_dew_that_stays_all_day_gives_no_covering_and_says_so() -> None:
    """Fog from morning to night: no covering; spreading is not held up by it."""
    found = openings(fair(RYE_DAY, CHICAGO, damp_until_h=24), SPREADER, BY_EYE)
    assert found.openings[0] is not None
    assert found.openings[1] is None
    assert (found.notes[-1].kind, found.notes[-1].machine) == (NoteKind.DEW_STAYS, "cultivator 1")


# Rain


def test_rain_that_is_falling_delays_the_opening_and_is_told() -> None:
    """Rain to 10:00 and again at 15: open 10 to 15 by the rain, with a note on the morning's."""
    weather = fair(RYE_DAY, CHICAGO, rainy=(7, 8, 9, 15))
    found = openings(weather, SPREADER)
    opening = only(found)
    assert opening.intervals == ((10 * HOUR_S, 15 * HOUR_S),)
    assert opening.reasons == (Reason.RAIN, Reason.RAIN)
    notes = [note for note in found.notes if note.kind is NoteKind.RAIN_EARLIER]
    assert len(notes) == 1
    assert notes[0].spans_s == tuple((h * HOUR_S, (h + 1) * HOUR_S) for h in (7, 8, 9))


def test_day_of_rain_has_no_opening() -> None:
    """Rain likely in every hour: neither machine works, and the notes name both."""
    found = openings(fair(RYE_DAY, CHICAGO, rainy=tuple(range(24))), SPREADER, BY_EYE)
    assert found.openings == (None, None)
    named = [note.machine for note in found.notes if note.kind is NoteKind.RAIN_STAYS]
    assert named == ["spreader", "cultivator 1"]


# What the farm states


def test_stated_hours_stand_in_place_of_dew_dark_and_crew() -> None:
    """Stated 09:30 to 18:15 with damp air to 11 and from 17: 09:30 to 18:15, as stated."""
    work = replace(BY_EYE, stated_opens_s=9.5 * HOUR_S, stated_closes_s=18.25 * HOUR_S)
    weather = fair(RYE_DAY, CHICAGO, damp_until_h=11, damp_from_h=17)
    opening = only(openings(weather, work, crew_start_h=10.0))
    assert opening.intervals == ((9.5 * HOUR_S, 18.25 * HOUR_S),)
    assert opening.reasons == (Reason.STATED, Reason.STATED)
    assert opening.sd_s == limits().stated_sd_s
    assert not opening.hard


def test_forecast_rain_closes_before_a_stated_hour_and_wind_still_holds() -> None:
    """Stated to 18:15, wind at 11, rain at 16: 09:30-11, 12-16, closed hard by the rain."""
    work = replace(SPREADER, stated_opens_s=9.5 * HOUR_S, stated_closes_s=18.25 * HOUR_S)
    opening = only(openings(fair(RYE_DAY, CHICAGO, windy=(11,), rainy=(16,)), work))
    assert opening.intervals == ((9.5 * HOUR_S, 11 * HOUR_S), (12 * HOUR_S, 16 * HOUR_S))
    assert opening.hard


def test_day_that_closes_before_it_opens_is_told() -> None:
    """A crew that starts at 20:00 without lights has no day."""
    found = openings(fair(RYE_DAY, CHICAGO), BY_EYE, crew_start_h=20.0)
    assert found.openings == (None,)
    assert found.notes[-1].kind is NoteKind.CLOSED_BEFORE_OPEN


# Forecast notes


def test_missing_hours_of_daylight_are_told() -> None:
    """Hours 12 and 13 missing: one note with 12:00 to 14:00; hour 3, at night, is not told."""
    found = openings(fair(RYE_DAY, CHICAGO, skip=(3, 12, 13)), BY_EYE)
    notes = [note for note in found.notes if note.kind is NoteKind.MISSING_HOURS]
    assert [note.spans_s for note in notes] == [((12 * HOUR_S, 14 * HOUR_S),)]


def test_day_without_forecast_opens_by_light_and_crew_alone_and_says_so() -> None:
    """No hour of the day forecast: sunrise, crew and dusk are all there is to go by."""
    weather = fair(RYE_DAY - timedelta(days=3), CHICAGO)
    found = openings(weather, SPREADER, BY_EYE)
    for opening in found.openings:
        assert opening is not None
        assert opening.reasons == (Reason.CREW_START, Reason.CIVIL_DUSK)
    assert NoteKind.NO_FORECAST in [note.kind for note in found.notes]


@pytest.mark.parametrize(
    ("age_h", "kind"),
    [(2, None), (13, NoteKind.STALE), (-1, NoteKind.ISSUED_LATER), (None, NoteKind.NOT_DATED)],
)
def test_age_of_the_forecast_is_told_when_it_matters(
    age_h: float | None, kind: NoteKind | None
) -> None:
    """Limit 12 h: two hours old is quiet; 13 h, made after now, or undated is told."""
    now_at = datetime(2026, 10, 19, 9, tzinfo=CHICAGO)
    issued_at = None if age_h is None else now_at - timedelta(hours=age_h)
    found = openings(fair(RYE_DAY, CHICAGO, issued_at=issued_at), BY_EYE, now_at=now_at)
    assert [note.kind for note in found.notes] == ([] if kind is None else [kind])
    if age_h is not None and kind is not None:
        assert found.notes[0].age_s == age_h * HOUR_S


# Clock changes, hemispheres, high latitudes


def test_hour_that_happens_twice_is_counted_in_elapsed_time() -> None:
    """New York, 1 November 2026: rain in the hour 15:00 EST closes 16 elapsed hours into the day.

    The clock shows 15:00 then; a crew at 08:00 EST starts 9 elapsed hours into it.
    """
    day = date(2026, 11, 1)
    rain_at = datetime(2026, 11, 1, 15, tzinfo=NEW_YORK)
    midnight = local_midnight_at(day, NEW_YORK)
    elapsed_h = seconds_after(midnight, rain_at) / HOUR_S
    weather = fair(day, NEW_YORK, rainy=(elapsed_h,))
    opening = only(
        openings(weather, BY_EYE, place=(37.4, -76.6), day=day, zone=NEW_YORK, crew_start_h=9.0)
    )
    assert opening.intervals == ((9 * HOUR_S, 16 * HOUR_S),)


@pytest.mark.parametrize("day", [date(2026, 9, 27), date(2026, 4, 5)])
def test_southern_clock_change_does_not_move_the_sun(day: date) -> None:
    """43.6 S, forward in September and back in April: dusk comes as long after midnight as
    the day before, within two minutes, though the clock shows an hour more or less.
    """
    closes_s = []
    for one in (day - timedelta(days=1), day):
        weather = fair(one, AUCKLAND)
        opening = only(openings(weather, BY_EYE, place=OATS_PLACE, day=one, zone=AUCKLAND))
        assert opening.closes_because is Reason.CIVIL_DUSK
        closes_s.append(opening.closes_at_s)
    assert abs(closes_s[1] - closes_s[0]) < 120.0


def test_place_without_daylight_has_no_work_and_without_night_no_dark() -> None:
    """78 N: nothing in December; in June a machine without lights works to the crew's end."""
    zone = ZoneInfo("Arctic/Longyearbyen")
    dark, bright = date(2026, 12, 21), date(2026, 6, 21)
    none = openings(fair(dark, zone), BY_EYE, place=(78.2, 15.6), day=dark, zone=zone)
    assert none.openings == (None,)
    assert none.notes[-1].kind is NoteKind.NO_LIGHT
    for crew_end_h, closes in ((22.0, Reason.CREW_END), (None, Reason.MIDNIGHT)):
        opening = only(
            openings(
                fair(bright, zone),
                BY_EYE,
                place=(78.2, 15.6),
                day=bright,
                zone=zone,
                crew_end_h=crew_end_h,
            )
        )
        assert opening.closes_because is closes


# The crew's margin


def test_margin_closes_earlier_and_drops_a_stretch_it_eats() -> None:
    """08-11 and 16 to 16:30 less an hour: closes at 15:30, which leaves 08 to 11."""
    opening = Opening(
        opens_at_s=8 * HOUR_S,
        closes_at_s=16.5 * HOUR_S,
        opens_because=Reason.CREW_START,
        closes_because=Reason.RAIN,
        hard=True,
        opens_sd_s=0.0,
        sd_s=60.0,
        intervals=((8 * HOUR_S, 11 * HOUR_S), (16 * HOUR_S, 16.5 * HOUR_S)),
    )
    cut = with_margin(opening, HOUR_S)
    assert cut is not None
    assert cut.intervals == ((8 * HOUR_S, 11 * HOUR_S),)
    assert cut.closes_at_s == 11 * HOUR_S
    assert cut.reasons == opening.reasons
    assert with_margin(opening, 9 * HOUR_S) is None
    with pytest.raises(OutOfRange):
        with_margin(opening, -1.0)


@given(
    st.sets(st.integers(min_value=0, max_value=23), max_size=10),
    st.integers(min_value=0, max_value=26),
    st.floats(min_value=0.0, max_value=6.0),
)
def test_openings_keep_their_promises(windy: set[int], rain_h: int, margin_h: float) -> None:
    """Stretches never touch a windy hour, nothing is open after rain, a margin only takes."""
    weather = fair(RYE_DAY, CHICAGO, windy=tuple(windy), rainy=(rain_h,))
    opening = openings(weather, SPREADER).openings[0]
    if opening is None:
        return
    for start_s, end_s in opening.intervals:
        for hour in windy:
            assert end_s <= hour * HOUR_S or start_s >= (hour + 1) * HOUR_S
    if rain_h > 8:
        assert opening.closes_at_s <= rain_h * HOUR_S
    cut = with_margin(opening, margin_h * HOUR_S)
    if cut is not None:
        assert cut.open_s <= opening.open_s
        assert cut.closes_at_s <= opening.closes_at_s - margin_h * HOUR_S + 1e-6


@pytest.mark.parametrize(
    "changed",
    [
        {"intervals": ()},
        {"intervals": ((9 * HOUR_S, 8 * HOUR_S),)},
        {"intervals": ((8 * HOUR_S, 12 * HOUR_S), (11 * HOUR_S, 16 * HOUR_S))},
        {"sd_s": -1.0},
    ],
)
def test_opening_refuses_stretches_that_cannot_be(changed: dict[str, object]) -> None:
    """Empty, backward or overlapping stretches, and a spread below zero, are refused."""
    good = only(openings(fair(RYE_DAY, CHICAGO), BY_EYE, crew_end_h=16))
    with pytest.raises(OutOfRange):
        replace(good, **changed)  # type: ignore[arg-type]


@pytest.mark.parametrize("changed", [{"dew_sd_s": -1.0}, {"rain_chance_limit_fraction": 0.0}])
def test_limits_refuse_what_cannot_be(changed: dict[str, float]) -> None:
    """A negative uncertainty, or rain at a chance of nothing."""
    with pytest.raises(OutOfRange):
        limits(**changed)

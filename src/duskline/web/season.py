"""The Season page: which field on which day, does it all fit, how sure, what would help.

The answer takes its time: what is kept is shown at once, and the fresh plan is worked out once,
in the background, and fetched when it is there.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Hashable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from itertools import groupby
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from markupsafe import Markup

from duskline.answers.cost import cost_answer
from duskline.answers.season import SeasonAnswer, SeasonDayPlan, SeasonQuestion, season_answer
from duskline.answers.season_before import PlanBefore
from duskline.core.errors import DusklineError, NoWindow
from duskline.core.farm import Farm
from duskline.draw.ink import COLOURED
from duskline.draw.season import season_picture
from duskline.draw.season_rows import season_fan, season_rows
from duskline.exchange.season_files import ahead, kept_plan, same_plan
from duskline.exchange.season_plan import KeptPlan, latest_plan
from duskline.paper.season_folder import (
    calendar_file,
    export_file,
    keep_season,
    plan_mark,
    sheet_file,
)
from duskline.units import System, clock
from duskline.web.aside import AsideEnded, aside
from duskline.web.desk import Desk
from duskline.web.editing import edit_sections
from duskline.web.render import Reader, drawing, fragment, page, reader_of
from duskline.words import cost as cost_words
from duskline.words import season as words
from duskline.words import season_cautions as cautions
from duskline.words.errors import sentences

__all__ = ["SeasonWork", "router"]

router = APIRouter()
PATIENCE_S = 20.0
"""So long a request for the fresh plan waits before it says: ask again."""
LONGEST_S = 600.0
PICTURES = {"for-phone": 350.0, "for-desk": 1180.0}
DAY_S = 86400.0
_log = logging.getLogger(__name__)


# --------------------------------------------------------------------------- the work


class Job:
    """One season being worked out: what it is about, and what came of it."""

    def __init__(
        self, farm: Farm, key: Hashable, before: KeptPlan | None, now_at: datetime
    ) -> None:
        self.farm = farm
        self.key = key
        self.before = before
        self.now_at = now_at
        self.answer: SeasonAnswer | None = None
        self.wrong: list[str] = []
        self.fault = False
        self.done = threading.Event()


class SeasonWork:
    """The season of one desk, worked out in the background and once; never two at a time."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.took_s: float | None = None
        self._lock = threading.Lock()
        self._busy = threading.Lock()
        self._job: Job | None = None

    def job(self) -> Job:
        """Return the work on the season as it stands now; begun where it was not yet."""
        desk = self.desk
        farm, before = desk.farm(), latest_plan(desk.folder)
        now_at = desk.now(farm)
        version = 0 if before is None else before.version
        key = (now_at.date(), version)
        with self._lock:
            job = self._job
            old = job is None or job.key != key or job.farm is not farm
            if job is None or old or (job.fault and job.done.is_set()):
                job = Job(farm, key, before, now_at)
                self._job = job
                threading.Thread(target=self._run, args=(job,), daemon=True).start()
            return job

    def _run(self, job: Job) -> None:
        """Work one job out; one that another has taken the place of is let go."""
        try:
            with self._busy:
                if self._job is job:
                    self._answer(job)
        finally:
            job.done.set()

    def _answer(self, job: Job) -> None:
        began_s = time.monotonic()
        before = None if job.before is None else ahead(job.before)
        question = SeasonQuestion(now_at=job.now_at)
        try:
            found = self.desk.answer(
                ("season", job.key), lambda: aside(season_or_why, job.farm, question, before)
            )
            if isinstance(found, SeasonAnswer):
                job.answer = found
                self.took_s = time.monotonic() - began_s
            else:
                job.wrong = found
        except AsideEnded as ended:
            _log.warning("the season was not worked out: %s", ended)
            self._fault(job)
        except Exception:
            _log.exception("the season could not be worked out")
            self._fault(job)

    @staticmethod
    def _fault(job: Job) -> None:
        """Say that the fault is ours; the next look tries again."""
        job.fault = True
        job.wrong = ["The season could not be worked out. The server's own notes say why."]


def season_or_why(
    farm: Farm, question: SeasonQuestion, before: PlanBefore | None
) -> SeasonAnswer | list[str]:
    """Return the season, or sentences that say why there is none."""
    try:
        return season_answer(farm, question, before=before)
    except NoWindow as wrong:
        return [cautions.no_season_text(wrong.reason)]
    except DusklineError as wrong:
        return sentences(wrong, farm.system)


_making = threading.Lock()


def _work(request: Request) -> SeasonWork:
    """Return the season's work of this server."""
    state = request.app.state
    with _making:
        if not hasattr(state, "season_work"):
            state.season_work = SeasonWork(state.desk)
        work: SeasonWork = state.season_work
        return work


# --------------------------------------------------------------------------- pages


@router.get("/season", response_class=HTMLResponse, include_in_schema=False)
def season_page(
    request: Request, wait: bool = False, kept: int = 0, said: str = ""
) -> HTMLResponse:
    """Show what is kept at once, the fresh plan where it is there, and what an acre costs."""
    desk: Desk = request.app.state.desk
    farm = desk.farm()
    reader = reader_of(request, farm)
    work = _work(request)
    job = work.job()
    if wait:
        job.done.wait(LONGEST_S)
    return page(
        request,
        desk,
        "season.html",
        here="season",
        title="Season",
        farm=farm,
        ready=job.done.is_set(),
        told=_told(kept, said),
        plan=_plan(job, desk, reader) if job.done.is_set() else None,
        kept=_kept(job.before, reader.system),
        wait_line=words.wait_line(work.took_s, len(farm.fields)),
        cost=_cost(desk, farm, reader.system),
        edit=edit_sections(desk, "season", reader.system),
    )


@router.get("/season/answer", include_in_schema=False)
def season_fragment(request: Request) -> Response:
    """Return the fresh plan as a part of the page; nothing yet (204) while it is worked out."""
    desk: Desk = request.app.state.desk
    job = _work(request).job()
    if not job.done.wait(PATIENCE_S) or (job.answer is None and not job.wrong):
        return Response(status_code=204)
    reader = reader_of(request, desk.farm())
    return HTMLResponse(fragment("season_answer.html", reader, plan=_plan(job, desk, reader)))


def _told(kept: int, said: str) -> str:
    """Return what came of keeping a plan."""
    if said == "changed":
        return (
            "Not kept: the plan has changed since you looked at it. Look at the new one, then "
            "keep it."
        )
    if kept > 0:
        return f"Unchanged: plan {kept}." if said == "same" else f"Kept as plan {kept}."
    return ""


@router.post("/season/keep", include_in_schema=False)
def season_keep(
    request: Request, mark: Annotated[str, Form(max_length=20)] = ""
) -> RedirectResponse:
    """Keep the plan that was looked at, with its calendar, sheet and lists."""
    desk: Desk = request.app.state.desk
    job, answer = _finished(request)
    if mark != plan_mark(answer):
        return RedirectResponse("/season?said=changed", status_code=303)
    farm = desk.farm()
    kept = keep_season(farm, answer, desk.folder, job.before, desk.now(farm))
    said = "" if kept.new else "&said=same"
    return RedirectResponse(f"/season?kept={kept.version}{said}", status_code=303)


class SeasonNotReady(DusklineError, ValueError):
    """There is no plan to keep or to take along."""


def _finished(request: Request) -> tuple[Job, SeasonAnswer]:
    """Return the season once it is worked out.

    Raises
    ------
    SeasonNotReady
        It cannot be.
    """
    job = _work(request).job()
    job.done.wait(LONGEST_S)
    if job.answer is None:
        raise SeasonNotReady(
            " ".join(job.wrong) or "The season is not worked out yet. Ask again in a while."
        )
    return job, job.answer


# --------------------------------------------------------------------------- to take along


@router.get("/season/season.ics", include_in_schema=False)
def season_ics(request: Request) -> Response:
    """Return the plan as a calendar file."""
    desk: Desk = request.app.state.desk
    _, answer = _finished(request)
    farm = desk.farm()
    system = reader_of(request, farm).system
    content = calendar_file(farm, answer, desk.folder, desk.now(farm), system)
    return _file(content, "season.ics", "text/calendar; charset=utf-8")


@router.get("/season/season-sheet.pdf", include_in_schema=False)
def season_pdf(request: Request) -> Response:
    """Return the season sheet."""
    desk: Desk = request.app.state.desk
    job, answer = _finished(request)
    farm = desk.farm()
    now_at = desk.now(farm)
    version = None
    if job.before is not None and same_plan(kept_plan(answer, now_at), job.before):
        version = job.before.version
    system = reader_of(request, farm).system
    content = sheet_file(replace(farm, system=system), answer, version, now_at)
    return _file(content, "season-sheet.pdf", "application/pdf", shown=True)


@router.get("/season/season-lists.zip", include_in_schema=False)
def season_lists(request: Request) -> Response:
    """Return the lists for customers, crews and totals."""
    desk: Desk = request.app.state.desk
    _, answer = _finished(request)
    farm = desk.farm()
    system = reader_of(request, farm).system
    content = export_file(farm, answer, desk.now(farm), system)
    return _file(content, "season-lists.zip", "application/zip")


def _file(content: bytes, name: str, kind: str, *, shown: bool = False) -> Response:
    how = "inline" if shown else "attachment"
    return Response(
        content, media_type=kind, headers={"Content-Disposition": f'{how}; filename="{name}"'}
    )


# --------------------------------------------------------------------------- the plan on the page


def _kept(plan: KeptPlan | None, system: System) -> dict[str, Any] | None:
    """Return what the page says of the plan kept before."""
    if plan is None:
        return None
    last_on = max((stop.on for stop in plan.stops), default=None)
    return {
        "headline": words.kept_headline(sum(one.area_m2 for one in plan.unplaced), last_on, system),
        "line": words.kept_line(plan.version, plan.made_at, system),
        "days": _kept_days(plan, system),
    }


def _kept_days(plan: KeptPlan, system: System) -> list[dict[str, Any]]:
    stops = sorted(plan.stops, key=lambda one: (one.on, one.crew, one.starts_s))
    several = len({stop.crew for stop in stops}) > 1
    days = []
    for on, group in groupby(stops, key=lambda one: one.on):
        crews = []
        for crew, visits in groupby(group, key=lambda one: one.crew):
            found = list(visits)
            texts = [
                f"{one.field} {words.acres_text(one.area_m2, system).split()[0]}" for one in found
            ]
            crews.append(
                {
                    "crew": crew if several else "",
                    "area": words.acres_text(sum(one.area_m2 for one in found), system),
                    "fields": ", ".join(texts),
                }
            )
        days.append({"date": words.short_date(on, system), "crews": crews})
    return days


def _plan(job: Job, desk: Desk, reader: Reader) -> dict[str, Any]:
    """Return what the page says of the fresh plan, or why there is none."""
    if job.answer is None:
        return {"wrong": job.wrong, "answer": None}
    now_at = desk.clock().astimezone(job.now_at.tzinfo)
    answer = _aged(job.answer, (now_at - job.now_at).total_seconds())
    system = reader.system
    before = job.before
    return {
        "wrong": [],
        "answer": answer,
        "mark": plan_mark(answer),
        "farm": answer.farm,
        "headline": words.headline(answer, system),
        "sure": words.sure_line(answer, system),
        "at_risk": words.at_risk_line(answer, system),
        "cautions": _cautions(answer, before, now_at.date(), system),
        "pictures": _pictures(answer, reader),
        "days": _days(answer, system),
        "left": list(words.left_lines(answer, system)),
        "sureness": list(words.sureness_lines(answer, system)),
        "fields": [
            {"name": one.name, "customer": one.customer, "chance": words.field_chance(one, system)}
            for one in sorted(answer.fields, key=lambda one: one.chance_fraction)
        ],
        "worth": [words.worth_line(one, answer, system) for one in answer.worth],
        "no_earlier": cautions.no_earlier_line(answer),
        "before": _before(before, job.now_at, system),
        "changes": list(
            words.change_lines(answer.changes, system, crews=len(answer.planned.crews))
        ),
        "is_kept": before is not None and same_plan(kept_plan(answer, job.now_at), before),
        "cost": words.cost_line(answer),
        "gap": words.gap_line(answer),
        "notes": [*words.season_notes(answer, system), *answer.planned.farm.notes],
        "at": clock(job.now_at, system),
        "lists": any(one.customer for one in answer.planned.farm.fields),
    }


def _aged(answer: SeasonAnswer, since_s: float) -> SeasonAnswer:
    """Return the answer as it is told some time after it was worked out."""
    if answer.forecast_age_s is None:
        return answer
    return replace(answer, forecast_age_s=answer.forecast_age_s + max(0.0, since_s))


def _cautions(
    answer: SeasonAnswer, before: KeptPlan | None, today: date, system: System
) -> list[str]:
    found = list(cautions.caution_lines(answer, today, system))
    if before is not None:
        last_on = max((stop.on for stop in before.stops), default=None)
        found.append(
            cautions.old_plan_line(before.version, before.made_at, last_on, answer, system)
        )
    return [text for text in found if text]


def _before(before: KeptPlan | None, now_at: datetime, system: System) -> str:
    """Return which plan the fresh one is held against."""
    if before is None:
        return ""
    age_s = (now_at - before.made_at).total_seconds()
    age = f", {cautions.age_text(age_s)} old" if age_s >= DAY_S else ""
    on = words.short_date(before.made_at.date(), system)
    return f"What changes against plan {before.version} of {on}{age}"


def _pictures(answer: SeasonAnswer, reader: Reader) -> Mapping[str, Markup]:
    if not answer.days:
        return {}
    rows, fan = season_rows(answer), season_fan(answer)
    return {
        place: _with_sky(
            season_picture(
                rows,
                fan,
                reader.system,
                width=width,
                deadline=answer.due_on,
                language=reader.language,
            )
        )
        for place, width in PICTURES.items()
    }


def _with_sky(text: str) -> Markup:
    """Return a drawing whose sky, too, is in the page's own colours: dark on a dark page."""
    for index, colour in enumerate(COLOURED.sky):
        text = text.replace(colour, f"var(--sky-{index})")
    return drawing(text)


def _days(answer: SeasonAnswer, system: System) -> list[dict[str, Any]]:
    """Return an entry for each working day, and one for idle days that follow each other."""
    several = len(answer.planned.crews) > 1
    found: list[dict[str, Any]] = []
    for why, group in groupby(
        answer.days, key=lambda day: "" if day.crews else words.idle_text(answer, day)
    ):
        days = list(group)
        if why:
            first, last = (words.short_date(day.on, system) for day in (days[0], days[-1]))
            span = first if len(days) == 1 else f"{first} to {last}"
            found.append({"date": span, "idle": why, "crews": [], "off": [], "left": ""})
            continue
        found += [_day(answer, day, system, several=several) for day in days]
    return found


def _day(
    answer: SeasonAnswer, day: SeasonDayPlan, system: System, *, several: bool
) -> dict[str, Any]:
    return {
        "date": words.short_date(day.on, system),
        "idle": "",
        "note": words.day_note(day),
        "crews": [
            {
                "crew": crew.crew if several else "",
                "stop": words.stop_text(crew, system),
                "area": words.acres_text(crew.area_m2, system),
                "fields": words.visit_text(crew, system),
            }
            for crew in day.crews
        ],
        "off": words.without_work(answer, day),
        "left": words.left_text(day.left_m2, system),
    }


# --------------------------------------------------------------------------- what an acre costs


@dataclass(frozen=True, kw_only=True, slots=True)
class Cost:
    """The cost of an acre as the page tells it."""

    headline: str
    units: tuple[str, str]
    rows: list[cost_words.CostRow]
    missing: list[str]
    custom: list[str]
    notes: list[str]
    match: list[str]
    steps: tuple[Any, ...]
    wrong: str = ""

    @property
    def ranges(self) -> bool:
        """Whether any part has a range."""
        return any(row.range for row in self.rows)


def _cost(desk: Desk, farm: Farm, system: System) -> Cost:
    try:
        answer = desk.answer(("cost",), lambda: cost_answer(farm))
    except DusklineError as wrong:
        return Cost(
            headline="", units=("", ""), rows=[], missing=[], custom=[], notes=[], match=[],
            steps=(), wrong=" ".join(sentences(wrong, system)),
        )  # fmt: skip
    return Cost(
        headline=cost_words.cost_headline(answer, system),
        units=cost_words.cost_units(answer, system),
        rows=cost_words.cost_rows(answer, system),
        missing=cost_words.missing_lines(answer, system),
        custom=cost_words.custom_lines(answer, system),
        notes=cost_words.cost_notes(answer, system),
        match=[text.strip() for text in cost_words.match_lines(answer.matches, system)],
        steps=cost_words.cost_steps(answer, system),
    )

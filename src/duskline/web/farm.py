"""The Farm page: what is laid out, what is still missing, what a careful neighbour would ask."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, get_args

from fastapi import APIRouter, Request, UploadFile
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.datastructures import FormData
from starlette.exceptions import HTTPException

from duskline.answers.check import CheckAnswer, Severity, check_answer
from duskline.exchange.farm_files import (
    LARGEST_UPLOAD_BYTES,
    FileKind,
    TakenIn,
    take_in,
    write_atomic,
)
from duskline.exchange.farm_places import check_text
from duskline.exchange.farm_start import NewFarm, missing, new_farm, time_zones
from duskline.exchange.farmfolder import TOML
from duskline.exchange.problems import FolderProblem
from duskline.units import System, show
from duskline.web.desk import Desk, FarmNotReady
from duskline.web.editing import edit_sections, wrong_at_key
from duskline.web.render import page, reader_of
from duskline.words.check import acre_lines, come_back_lines, sentence

__all__ = ["router"]

router = APIRouter()
LONGEST_TYPED = 400
FIRST = {
    "farm": ("name", "latitude", "longitude", "time_zone", "units", "country"),
    "person": ("name", "age"),
    "spreader": ("name", "load", "driving_width"),
    "cultivator": ("name", "width"),
    "lot": ("name", "species", "germination", "purity", "live_rate"),
}
"""What is asked on the first visit, by table: no more than a day's plan needs."""


@router.get("/farm", response_class=HTMLResponse, include_in_schema=False)
def farm_page(request: Request) -> HTMLResponse:
    """Show the farm: what is still missing first, then what to ask, then all that is laid out."""
    return _page(request, taken=None)


def _page(
    request: Request,
    *,
    taken: TakenIn | None,
    typed: dict[str, str] | None = None,
    wrong: tuple[str, ...] = (),
    wrong_at: Mapping[str, str] | None = None,
    status: int = 200,
) -> HTMLResponse:
    desk: Desk = request.app.state.desk
    try:
        farm = desk.farm()
        problems: list[str] = []
    except FarmNotReady as not_ready:
        farm = None
        problems = [one.sentence for one in not_ready.problems]
    reader = reader_of(request, farm)
    text = _text(desk)
    checked = None
    if farm is not None:
        checked = desk.answer(
            "check", lambda: check_answer(farm, desk.now(farm).date()), of_log=False
        )
    return page(
        request,
        desk,
        "farm.html",
        here="farm",
        title="Farm",
        farm=farm,
        status=status,
        new=not text.strip(),
        missing=missing(text, folder=desk.folder) if text.strip() else (),
        problems=problems,
        summary=_summary(farm, reader.system) if farm is not None else "",
        questions=_questions(checked, reader.system) if checked is not None else [],
        acres=acre_lines(checked, reader.system) if checked is not None and checked.acres else [],
        come_back=come_back_lines(checked, reader.system)
        if checked is not None and checked.come_back
        else [],
        notes=farm.notes if farm is not None else (),
        taken=taken,
        typed=typed or {},
        wrong=wrong,
        wrong_at=wrong_at or {},
        zones=time_zones() if not text.strip() else (),
        limits={kind: most // 1_000_000 for kind, most in LARGEST_UPLOAD_BYTES.items()},
        edit=[
            section
            for group in ("people", "fields", "cost")
            for section in edit_sections(desk, group, reader.system)
        ]
        if text.strip()
        else [],
    )


def _text(desk: Desk) -> str:
    path = desk.folder / TOML
    return path.read_bytes().decode("utf-8", "replace") if path.is_file() else ""


def _summary(farm: Any, system: System) -> str:
    area = show(sum(one.area_m2 for one in farm.fields), "area", system)
    counts = [
        _count(len(many), one, more)
        for many, one, more in (
            (farm.people, "person", "people"),
            (farm.spreaders, "spreader", "spreaders"),
            (farm.cultivators, "covering machine", "covering machines"),
            (farm.lots, "lot of seed", "lots of seed"),
        )
    ]
    return f"{_count(len(farm.fields), 'field', 'fields')}, {area}; {', '.join(counts)}."


def _count(many: int, one: str, more: str) -> str:
    return f"{many} {one if many == 1 else more}"


def _questions(answer: CheckAnswer, system: System) -> list[dict[str, Any]]:
    titles = (
        (Severity.STOP_AND_ASK, "Before anything is spread"),
        (Severity.ASK, "Ask; the office or the label decides, not this program"),
        (Severity.NOTE, "Worth a look"),
    )
    found = []
    for severity, title in titles:
        texts = [sentence(one, system) for one in answer.questions if one.severity is severity]
        if texts:
            found.append(
                {"title": title, "texts": texts, "stop": severity is Severity.STOP_AND_ASK}
            )
    return found


# --------------------------------------------------------------------------- a new farm


@router.post("/farm/new", include_in_schema=False)
async def lay_out(request: Request) -> Response:
    """Lay out a farm from the first visit's answers, unless there is one already."""
    desk: Desk = request.app.state.desk
    form = await request.form(max_files=0, max_fields=60)
    typed = _typed(form)
    if _text(desk).strip():
        return RedirectResponse("/farm", status_code=303)
    farm = {key: typed[f"farm.{key}"] for key in FIRST["farm"] if typed.get(f"farm.{key}")}
    entries = tuple(
        (table, {key: typed[f"{table}.{key}"] for key in keys if typed.get(f"{table}.{key}")})
        for table, keys in FIRST.items()
        if table != "farm" and any(typed.get(f"{table}.{key}") for key in keys)
    )
    # One person laid it out: until others are named he drives both machines.
    machines = [typed.get(f"{table}.name", "") for table in ("spreader", "cultivator")]
    entries = tuple(
        (table, {**keys, "drives": "\n".join(name for name in machines if name)})
        if table == "person"
        else (table, keys)
        for table, keys in entries
    )
    try:
        text = new_farm(NewFarm(farm=farm, entries=entries))
    except FolderProblem as problem:
        wrong = tuple(one.sentence for one in problem.problems)
        return _page(request, taken=None, typed=typed, wrong=wrong, status=422)
    problems = [one for one in check_text(text) if not one.lacking]
    if problems:
        asked = {f"{table}.{key}" for table, keys in FIRST.items() for key in keys}
        at = {f"{one.table}.{one.key}": wrong_at_key(one) for one in problems}
        rest = [one.sentence for one in problems if f"{one.table}.{one.key}" not in asked]
        return _page(request, taken=None, typed=typed, wrong=tuple(rest), wrong_at=at, status=422)
    desk.folder.mkdir(parents=True, exist_ok=True)
    write_atomic(desk.folder / TOML, text.encode("utf-8"))
    desk.keep_farm_text("")
    return RedirectResponse("/farm", status_code=303)


def _typed(form: FormData) -> dict[str, str]:
    return {
        f"{table}.{key}": value[:LONGEST_TYPED]
        for table, keys in FIRST.items()
        for key in keys
        if isinstance(value := form.get(f"{table}.{key}", ""), str)
    }


# --------------------------------------------------------------------------- files


@router.post("/farm/files/{kind}", include_in_schema=False)
async def bring(request: Request, kind: str, file: UploadFile) -> Response:
    """Take a file into the farm: outlines, a forecast, a tray test, a track."""
    if kind not in get_args(FileKind):
        raise HTTPException(404)
    desk: Desk = request.app.state.desk
    most = LARGEST_UPLOAD_BYTES[kind]
    data = await file.read(most + 1)
    desk.folder.mkdir(parents=True, exist_ok=True)
    from starlette.concurrency import run_in_threadpool

    taken = await run_in_threadpool(
        take_in,
        desk.folder,
        kind,  # type: ignore[arg-type]
        file.filename or "",
        data,
        now=desk.clock(),
    )
    status = 422 if taken.problems else 200
    if "application/json" in request.headers.get("accept", ""):
        return JSONResponse(
            {
                "name": taken.stored_name,
                "summary": taken.summary,
                "problems": [one.sentence for one in taken.problems],
                "notes": list(taken.notes),
            },
            status,
        )
    return _page(request, taken=taken, status=status)

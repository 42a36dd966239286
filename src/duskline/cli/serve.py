"""The command that serves the pages of one farm on this machine."""

from __future__ import annotations

from pathlib import Path

from duskline.answers.telling import settled
from duskline.cli.run import moment_of, note
from duskline.web.app import create_app
from duskline.web.desk import Desk, machine_clock, running_from

__all__ = ["serve"]


def serve(folder: Path, *, port: int, clock: str | None) -> None:
    """Serve the pages until stopped."""
    import uvicorn

    start_at = moment_of(clock)
    folder.mkdir(parents=True, exist_ok=True)
    desk = Desk(
        folder,
        clock=machine_clock if start_at is None else running_from(start_at, machine_clock),
        pretends=start_at is not None,
    )
    _warm(desk)
    note(f"http://127.0.0.1:{port} shows {folder}. Stop with Ctrl+C.")
    uvicorn.run(create_app(desk), host="127.0.0.1", port=port, log_level="warning")


def _warm(desk: Desk) -> None:
    """Load what the first answer needs, and keep the collector of the language out of it later."""
    import gc

    from duskline.core.errors import DusklineError
    from duskline.web.today import live_now, planned_day

    try:
        farm = desk.farm()
        now_at = desk.now(farm)
        planned_day(desk, farm, now_at.date())
        live_now(desk, farm, settled(farm), now_at)
    except DusklineError:
        # The pages say what is wrong.
        return
    gc.collect()
    gc.freeze()

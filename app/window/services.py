"""What the window asks the rest of the program to do, gathered in one place so that tests can put in their own.

Everything here is imported when first called: the window is on screen before shapely, ezdxf or the engine are loaded.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from app.job.document import Job

if TYPE_CHECKING:
    from app.output.write import Written
    from app.planning.host import Message, RunState
    from app.planning.job_plan import JobPlan
    from app.planning.prepare import Prepared
    from app.window.background import Report


class Planner(Protocol):
    """A child process that plans; see `app.planning.host.PlanHost`."""

    state: RunState

    def warm(self) -> None:
        """Get the child ready ahead of time."""

    def start(self, prepared: Prepared, *, seconds: float, rounds: int | None = None, seed: int = 0) -> int:
        """Begin a run and return its number."""

    def poll(self) -> list[Message]:
        """What came in since the last call."""

    def cancel(self) -> None:
        """Ask for the best plan so far."""

    def kill(self) -> None:
        """End the child at once."""

    def close(self) -> None:
        """End for good."""


def _read_job(path: str) -> Job:
    from app.job.file import read_job

    return read_job(path)


def _write_job(job: Job, path: str) -> None:
    from app.job.file import write_job

    write_job(job, path)


def _prepare(job: Job, report: Report) -> Prepared:
    from app.planning.prepare import prepare

    return prepare(job, on_progress=report)


def _new_planner() -> Planner:
    from app.planning.host import PlanHost

    return PlanHost()


def _write_plan(plan: JobPlan, folder: str, report: Report) -> Written:
    from app.output.write import write_plan

    return write_plan(plan, folder, when=datetime.datetime.now().astimezone(), on_progress=report)


@dataclass(frozen=True, slots=True)
class Services:
    """The doors to the other rooms.

    Fields
    ------
    read_job, write_job : job files
    prepare : job -> letters and parts; seconds, on a thread
    new_planner : a planner of its own
    write_plan : cut files and paperwork into a folder; seconds, on a thread
    """

    read_job: Callable[[str], Job] = _read_job
    write_job: Callable[[Job, str], None] = _write_job
    prepare: Callable[[Job, Report], Prepared] = _prepare
    new_planner: Callable[[], Planner] = _new_planner
    write_plan: Callable[[JobPlan, str, Report], Written] = _write_plan

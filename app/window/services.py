"""What the window asks the rest of the program to do, gathered in one place so that tests can put in their own.

Everything here is imported when first called: the window is on screen before shapely, ezdxf or the engine are loaded.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from app.job.document import Job

if TYPE_CHECKING:
    from app.output.write import Written
    from app.planning.choices import Choice
    from app.planning.compare import Effort, Outcome
    from app.planning.host import Message, RunState
    from app.planning.job_plan import JobPlan
    from app.planning.mix import SpareRule
    from app.planning.order import Order, OrderStock
    from app.planning.prepare import Prepared
    from app.window.background import Report
    from app.window.trial import Found


class Planner(Protocol):
    """A child process that plans; see `app.planning.host.PlanHost`."""

    state: RunState

    def warm(self) -> None:
        """Get the child ready ahead of time."""

    def start(self, prepared: Prepared, *, seconds: float, rounds: int | None = None, seed: int = 0) -> int:
        """Begin a run and return its number."""

    def poll(self) -> list[Message]:
        """What came in since the last call."""

    def pause(self) -> None:
        """Hold the run."""

    def go_on(self) -> None:
        """Let a run that is held go on."""

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
    from app.planning.rack_stock import offcuts_used, reserved
    from app.stock.rack import Rack

    when = datetime.datetime.now().astimezone()
    if not offcuts_used(plan):
        return write_plan(plan, folder, when=when, on_progress=report)
    with Rack() as rack, reserved(rack, plan, plan.job.name):
        return write_plan(plan, folder, when=when, on_progress=report)


def _draft_plan(plan: JobPlan, folder: str, report: Report) -> Written:
    from app.output.write import write_plan

    return write_plan(plan, folder, when=datetime.datetime.now().astimezone(), on_progress=report)


def _compare(
    prepared: Prepared, choices: Sequence[Choice], effort: Effort, found: Found, cancelled: Callable[[], bool]
) -> tuple[Outcome, ...]:
    from app.planning.compare import compare

    return compare(prepared, choices, effort, on_done=found, cancelled=cancelled)


def _plan_order(
    jobs: Sequence[Prepared],
    stock: OrderStock,
    effort: Effort,
    spare: SpareRule,
    told: Callable[[int, int], None],
    cancelled: Callable[[], bool],
) -> Order:
    from app.planning.order import plan_order

    return plan_order(jobs, stock, effort, spare=spare, on_done=told, cancelled=cancelled)


@dataclass(frozen=True, slots=True)
class Services:
    """The doors to the other rooms.

    Fields
    ------
    read_job, write_job : job files
    prepare : job -> letters and parts; seconds, on a thread
    new_planner : a planner of its own
    write_plan : cut files and paperwork into a folder, its offcuts reserved; seconds, on a thread
    draft_plan : the same to look at only; nothing is reserved
    compare : choices side by side; minutes, on a thread and in processes of its own
    plan_order : a buy list for several jobs; likewise
    """

    read_job: Callable[[str], Job] = _read_job
    write_job: Callable[[Job, str], None] = _write_job
    prepare: Callable[[Job, Report], Prepared] = _prepare
    new_planner: Callable[[], Planner] = _new_planner
    write_plan: Callable[[JobPlan, str, Report], Written] = _write_plan
    draft_plan: Callable[[JobPlan, str, Report], Written] = _draft_plan
    compare: Callable[..., tuple[Outcome, ...]] = _compare
    plan_order: Callable[..., Order] = _plan_order

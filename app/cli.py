"""The command line: `letterbed`. Every command imports what it needs when it runs, so that help answers at once."""

from __future__ import annotations

import argparse
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Final, NoReturn

from app.commands import compare, order, rack, read, recut, stock
from app.commands.cutting_options import add_cutting, with_cutting
from app.commands.options import add_rack_file
from app.commands.rack_use import job_with_rack, pieces_reserved
from app.errors import AppError, JobFileError

if TYPE_CHECKING:
    from rich.progress import Progress

    from app.planning.job_plan import JobPlan
    from app.planning.prepare import Prepared

ALL_DONE: Final = 0
SOMETHING_LEFT: Final = 1
BAD_INPUT: Final = 2


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status.

    0 when all is well, 1 when parts are not made or have no place, 2 when the input is bad (one sentence on standard
    error), 130 when interrupted.
    """
    parser = _parser()
    chosen = parser.parse_args(arguments)
    try:
        status: int = chosen.run(chosen)
    except AppError as error:
        print(f"letterbed: {error}", file=sys.stderr)
        return BAD_INPUT
    except KeyboardInterrupt:
        print("letterbed: stopped", file=sys.stderr)
        return 130
    except BrokenPipeError:
        # The reader of our output went away (`| head`): not a fault, but how the command would have ended is not known.
        sys.stderr.close()
        return SOMETHING_LEFT
    return status


class _Parser(argparse.ArgumentParser):
    """Says what is wrong with a command in one sentence, like every other bad input."""

    def error(self, message: str) -> NoReturn:
        print(f"letterbed: {message}; see '{self.prog} --help'", file=sys.stderr)
        sys.exit(BAD_INPUT)


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="letterbed",
        description="From sign artwork to cut aluminium and acrylic: letters, parts, nested sheets, cut files, lists.",
        epilog="Without a command the window opens.",
    )
    parser.set_defaults(run=_window, job=None)
    commands = parser.add_subparsers(title="commands", metavar="")

    window = commands.add_parser("window", help="open the window", description="Open the window, with a job if named.")
    window.add_argument("job", nargs="?", metavar="JOB", help="job file or artwork file")
    window.set_defaults(run=_window)

    plan = commands.add_parser(
        "plan",
        help="plan a job and write cut files, report and lists",
        description="Plan a job and write everything the shop needs. Exit status 0 only when every part is placed and "
        "checked, 1 when parts stay unplaced, 2 when the input is bad.",
    )
    plan.add_argument("job", metavar="JOB", help="job file")
    plan.add_argument(
        "--out", required=True, metavar="DIR", help="folder to write; replaced when it holds an earlier plan"
    )
    plan.add_argument("--seconds", type=float, metavar="S", help="time to plan for (the job's own when left out)")
    plan.add_argument("--rounds", type=int, metavar="N", help="rounds per material instead of time: repeats exactly")
    plan.add_argument("--seed", type=int, metavar="N", help="seed of the search (the job's own when left out)")
    plan.add_argument("--rack", action="store_true", help="use the rack's offcuts first; those used are reserved")
    add_rack_file(plan)
    add_cutting(plan)
    plan.add_argument(
        "--kept", action="store_true", help="write the plan that is kept in the job, changed by hand or not, as it is"
    )
    plan.add_argument("--quiet", action="store_true", help="no progress bar")
    plan.set_defaults(run=_plan)

    for command in (read, compare, order, recut, rack, stock):
        command.add(commands)
    return parser


def _window(chosen: argparse.Namespace) -> int:
    from app.window import start

    status: int = start(chosen.job)
    return status


def _plan(chosen: argparse.Namespace) -> int:
    from datetime import datetime

    from app.job.file import read_job
    from app.output.plan_text import plan_text
    from app.output.write import check_folder, write_plan
    from app.planning.plan_job import PlanRun, check_limits, plan_job
    from app.planning.prepare import prepare

    check_limits(chosen.seconds, chosen.rounds, chosen.seed)  # before the work, not after it
    check_folder(chosen.out)
    _refuse_artwork(chosen.job)
    job = with_cutting(chosen, read_job(chosen.job))
    if chosen.rack:
        job = job_with_rack(chosen, job)
    with _Bar(shown=not chosen.quiet) as bar:
        prepared = prepare(job, on_progress=bar.on(0.0, 0.1))
        with _stoppable() as asked_to_stop:
            if chosen.kept:
                planned = _kept_plan(prepared)
            else:
                run = PlanRun(
                    chosen.seconds,
                    chosen.rounds,
                    chosen.seed,
                    on_progress=lambda at: bar.show(0.1 + 0.7 * (at.fraction or 0.0), at.stage),
                    cancelled=asked_to_stop,
                )
                planned = plan_job(prepared, run)
        with pieces_reserved(chosen, planned, planned.job.name):
            written = write_plan(planned, chosen.out, when=datetime.now(), on_progress=bar.on(0.8, 1.0))
    if asked_to_stop():
        print("Stopped early: the layouts were not improved to the end.")
    print(plan_text(planned))
    print(f"\n{len(written.files)} files in {written.folder}")
    return ALL_DONE if planned.is_complete else SOMETHING_LEFT


def _kept_plan(prepared: Prepared) -> JobPlan:
    from app.planning.kept_plan import KeptPlans

    if prepared.job.plan is None:
        raise JobFileError(
            f"job '{prepared.job.name}' keeps no plan; plan it in the window and save it, or leave out --kept"
        )
    return KeptPlans(prepared).plan(prepared.job.plan)


def _refuse_artwork(path: str) -> None:
    """Artwork named where a job is wanted is told as such, not as a job that is broken."""
    from app.artwork.read import is_artwork

    if is_artwork(path):
        raise JobFileError(
            f"{os.path.basename(path)} is artwork, not a job: use letterbed read, "
            "or open it in the window to begin a job"
        )


@contextmanager
def _stoppable() -> Iterator[Callable[[], bool]]:
    """Within, the first Ctrl-C asks the work to come to its end, and the second interrupts it."""
    asked = threading.Event()

    def ask(number: int, frame: object) -> None:
        if asked.is_set():
            raise KeyboardInterrupt
        asked.set()

    before = signal.signal(signal.SIGINT, ask)
    try:
        yield asked.is_set
    finally:
        signal.signal(signal.SIGINT, before)


class _Bar:
    """A progress bar on standard error; silent when it is not a terminal or not wanted."""

    def __init__(self, *, shown: bool) -> None:
        self._bar: Progress | None = None
        if shown and sys.stderr.isatty():
            from rich.console import Console
            from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

            self._bar = Progress(
                BarColumn(30),
                TimeElapsedColumn(),
                TextColumn("{task.description}"),
                console=Console(stderr=True),
                transient=True,
            )
            self._task = self._bar.add_task("starting", total=1.0)

    def __enter__(self) -> _Bar:
        if self._bar is not None:
            self._bar.start()
        return self

    def __exit__(self, *error: object) -> None:
        if self._bar is not None:
            self._bar.stop()

    def show(self, fraction: float, stage: str) -> None:
        """Move the bar to `fraction` (0 to 1) of the whole command."""
        if self._bar is not None:
            self._bar.update(self._task, completed=fraction, description=stage)

    def on(self, start: float, end: float) -> Callable[[float, str], None]:
        """A reporter for one step that takes the bar from `start` to `end`."""
        return lambda fraction, stage: self.show(start + (end - start) * fraction, stage)

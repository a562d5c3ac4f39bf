"""Planning in a child process: the caller polls, nothing blocks, and a crash of the child is a message like any other.

Knows no Qt. One child is kept warm between runs (engine imported, kernels ready), so that a second run starts at once.
Only small records cross the pipe; the caller's side puts them together with the parts it already has.
"""

from __future__ import annotations

import multiprocessing
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from multiprocessing.synchronize import Event
from typing import Final

from app.errors import AppError
from app.planning.job_plan import JobPlan
from app.planning.plan_job import PlanProgress, PlanRecord, PlanRun, assemble
from app.planning.plan_rest import plan_rest
from app.planning.prepare import Prepared

SEND_EVERY_S: Final = 0.1
"""A gain or reading newer than the last is held back this long: a full pipe would block the engine."""


class RunState(StrEnum):
    """Where a run stands."""

    NOT_STARTED = "not started"
    RUNNING = "running"
    PAUSED = "paused"
    STOPPING = "stopping"
    FINISHED = "finished"
    CANCELLED = "cancelled"
    FAILED = "failed"
    CRASHED = "crashed"


UNDER_WAY: Final = (RunState.RUNNING, RunState.PAUSED, RunState.STOPPING)


@dataclass(frozen=True, slots=True, eq=False)
class Gained:
    """A better plan, good enough to show."""

    run: int
    plan: JobPlan


@dataclass(frozen=True, slots=True)
class Progressed:
    """A reading."""

    run: int
    progress: PlanProgress


@dataclass(frozen=True, slots=True, eq=False)
class Finished:
    """The run has ended with its best plan; `cancelled` when the caller asked for it early."""

    run: int
    plan: JobPlan
    cancelled: bool


@dataclass(frozen=True, slots=True)
class Failed:
    """The run has no answer; `message` is for a person, `trace` is filled when it is a bug."""

    run: int
    message: str
    trace: str = ""


@dataclass(frozen=True, slots=True)
class Crashed:
    """The child died."""

    run: int
    exit_code: int | None


Message = Gained | Progressed | Finished | Failed | Crashed


@dataclass(frozen=True, slots=True, eq=False)
class _Order:
    run: int
    prepared: Prepared
    seconds: float
    rounds: int | None
    seed: int


@dataclass(frozen=True, slots=True, eq=False)
class _GainedRecord:
    run: int
    record: PlanRecord


@dataclass(frozen=True, slots=True, eq=False)
class _FinishedRecord:
    run: int
    record: PlanRecord
    cancelled: bool


class PlanHost:
    """One child process that plans, and the caller's end of it.

    ``warm`` gets the child ready ahead of time, ``start`` begins a run (ending one that is under way), ``poll``
    returns what came in since the last call, ``pause`` holds a run until ``go_on``, ``cancel`` asks for the best plan
    so far, ``kill`` ends the child at once, ``close`` is for good. What is locked in the job's kept plan is planned
    around.
    """

    def __init__(self) -> None:
        self._context = multiprocessing.get_context("spawn")
        self._child: SpawnProcess | None = None
        self._pipe: Connection | None = None
        self._cancel, self._pause = self._context.Event(), self._context.Event()
        self._prepared: Prepared | None = None
        self._run = 0
        self.state = RunState.NOT_STARTED

    def warm(self) -> None:
        """Start the child if there is none; it imports the engine and readies the kernels while nothing is asked."""
        if self._child is not None and self._child.is_alive():
            return
        self._drop_child()
        ours, theirs = self._context.Pipe()
        self._child = self._context.Process(target=_serve, args=(theirs, self._cancel, self._pause), daemon=True)
        self._child.start()
        theirs.close()  # or the end of the child would never show as the end of the pipe
        self._pipe = ours

    def start(self, prepared: Prepared, *, seconds: float, rounds: int | None = None, seed: int = 0) -> int:
        """Begin planning and return the number of the run; messages of an earlier run are dropped from here on."""
        if self.state in UNDER_WAY:
            self.kill()
        self.warm()
        self._cancel.clear()
        self._pause.clear()
        self._run += 1
        self._prepared = prepared
        self.state = RunState.RUNNING
        assert self._pipe is not None  # warm has just made it
        # The order can be larger than the pipe's buffer and the child may still be importing: sending must not wait.
        order = _Order(self._run, prepared, seconds, rounds, seed)
        threading.Thread(target=_send_order, args=(self._pipe, order), name="letterbed-order", daemon=True).start()
        return self._run

    def poll(self) -> list[Message]:
        """What came in since the last call, oldest first. Never waits."""
        messages: list[Message] = []
        if self._pipe is None:
            return messages
        try:
            while self._pipe.poll():
                self._take(self._pipe.recv(), messages)
        except (EOFError, OSError):
            self._lost(messages)
        return messages

    def pause(self) -> None:
        """Hold the run after the step it is at; the time it stands still is not counted."""
        if self.state is RunState.RUNNING:
            self.state = RunState.PAUSED
            self._pause.set()

    def go_on(self) -> None:
        """Let a run that is held go on."""
        if self.state is RunState.PAUSED:
            self.state = RunState.RUNNING
            self._pause.clear()

    def cancel(self) -> None:
        """Ask for the best plan so far; `Finished` follows."""
        if self.state in (RunState.RUNNING, RunState.PAUSED):
            self.state = RunState.STOPPING
            self._cancel.set()
            self._pause.clear()

    def kill(self) -> None:
        """End the child at once; the run's plan so far is what was gained."""
        if self.state in UNDER_WAY:
            self.state = RunState.CANCELLED
        self._drop_child()

    def close(self) -> None:
        """End for good."""
        self.kill()

    def _take(self, raw: object, messages: list[Message]) -> None:
        if not isinstance(raw, _GainedRecord | _FinishedRecord | Progressed | Failed) or raw.run != self._run:
            return
        if self.state not in UNDER_WAY:
            return
        assert self._prepared is not None  # a run has been started
        match raw:
            case _GainedRecord():
                messages.append(Gained(raw.run, assemble(self._prepared, raw.record)))
            case _FinishedRecord():
                self.state = RunState.CANCELLED if raw.cancelled else RunState.FINISHED
                messages.append(Finished(raw.run, assemble(self._prepared, raw.record), raw.cancelled))
            case Failed():
                self.state = RunState.FAILED
                messages.append(raw)
            case Progressed():
                messages.append(raw)

    def _lost(self, messages: list[Message]) -> None:
        child = self._child
        if child is not None:
            child.join(1.0)
        if self.state in UNDER_WAY:
            self.state = RunState.CRASHED
            messages.append(Crashed(self._run, child.exitcode if child is not None else None))
        self._drop_child()

    def _drop_child(self) -> None:
        child, pipe = self._child, self._pipe
        self._child = self._pipe = None
        if child is not None:
            child.kill()
            child.join()
            child.close()
        if pipe is not None:
            pipe.close()


def _send_order(pipe: Connection, order: _Order) -> None:
    # A child that dies meanwhile is reported by poll, not here.
    try:
        pipe.send(order)
    except (OSError, ValueError):
        return


class _Sender:
    """Sends at most ten readings and gains a second; the newest wins, and no gain is lost at the end."""

    def __init__(self, pipe: Connection, run: int) -> None:
        self._pipe, self._run = pipe, run
        self._record: PlanRecord | None = None
        self._sent_at = -1.0

    def gained(self, record: PlanRecord) -> None:
        self._record = record

    def progressed(self, progress: PlanProgress) -> None:
        now = time.monotonic()
        if now - self._sent_at < SEND_EVERY_S:
            return
        self._sent_at = now
        self._pipe.send(Progressed(self._run, progress))
        self.flush()

    def flush(self) -> None:
        if self._record is not None:
            self._pipe.send(_GainedRecord(self._run, self._record))
            self._record = None


class _Hold:
    """Stands still while the run is paused, and a clock that does too."""

    def __init__(self, paused: Callable[[], bool], cancelled: Callable[[], bool]) -> None:
        self._paused, self._cancelled = paused, cancelled
        self._held_s = 0.0

    def wait(self) -> None:
        """Return when the run may go on."""
        began = time.perf_counter()
        while self._paused() and not self._cancelled():
            time.sleep(0.02)
        self._held_s += time.perf_counter() - began

    def clock(self) -> float:
        """Seconds, without those that were waited."""
        return time.perf_counter() - self._held_s


def _ready_kernels() -> None:
    """Load the compiled engine by having it place one small square."""
    from geometry.outline import Outline
    from nesting.problem import ANY_ANGLE, Part, Problem, Rules, Sheet
    from nesting.solve import AfterRounds, solve

    square = Outline.from_points([(0, 0), (10, 0), (10, 10), (0, 10)])
    sheet = Sheet("sheet", Outline.from_points([(0, 0), (50, 0), (50, 50), (0, 50)]))
    solve(Problem((Part("square", square, rotations=ANY_ANGLE),), (sheet,), Rules(1.0, 1.0)), AfterRounds(1))


def _serve(pipe: Connection, cancel: Event, pause: Event) -> None:
    """Life of the child: ready the kernels, then one order after the other until the pipe closes."""
    import signal
    import traceback

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the parent's to answer
    _ready_kernels()
    while True:
        try:
            order = pipe.recv()
        except (EOFError, OSError):
            return
        sender = _Sender(pipe, order.run)
        hold = _Hold(pause.is_set, cancel.is_set)

        def progressed(progress: PlanProgress, sender: _Sender = sender, hold: _Hold = hold) -> None:
            sender.progressed(progress)
            if pause.is_set():
                sender.flush()  # what is on the screen while it stands still is the best there is
            hold.wait()

        try:
            run = PlanRun(
                order.seconds,
                order.rounds,
                order.seed,
                on_gain=sender.gained,
                on_progress=progressed,
                cancelled=cancel.is_set,
                clock=hold.clock,
            )
            record = plan_rest(order.prepared, run)
            answer: object = _FinishedRecord(order.run, record, cancel.is_set())
        except AppError as error:
            answer = Failed(order.run, str(error))
        except Exception as error:  # whatever it was, the parent must hear of it
            answer = Failed(order.run, f"planning stopped on a fault of the program: {error}", traceback.format_exc())
        try:
            pipe.send(answer)
        except (BrokenPipeError, OSError):
            return

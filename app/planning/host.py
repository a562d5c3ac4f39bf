"""Planning in a child process: the caller polls, nothing blocks, and a crash of the child is a message like any other.

Knows no Qt. One child is kept warm between runs (engine imported, kernels ready), so that a second run starts at once.
Only small records cross the pipe; the caller's side puts them together with the parts it already has.
"""

from __future__ import annotations

import multiprocessing
import threading
import time
from dataclasses import dataclass
from enum import StrEnum
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from typing import Final

from app.errors import AppError
from app.planning.job_plan import JobPlan
from app.planning.plan_job import PlanProgress, PlanRecord, assemble, plan_records
from app.planning.prepare import Prepared

SEND_EVERY_S: Final = 0.1
"""A gain or reading newer than the last is held back this long: a full pipe would block the engine."""


class RunState(StrEnum):
    """Where a run stands."""

    NOT_STARTED = "not started"
    RUNNING = "running"
    STOPPING = "stopping"
    FINISHED = "finished"
    CANCELLED = "cancelled"
    FAILED = "failed"
    CRASHED = "crashed"


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
    returns what came in since the last call, ``cancel`` asks for the best plan so far, ``kill`` ends the child at
    once, ``close`` is for good.
    """

    def __init__(self) -> None:
        self._context = multiprocessing.get_context("spawn")
        self._child: SpawnProcess | None = None
        self._pipe: Connection | None = None
        self._cancel = self._context.Event()
        self._prepared: Prepared | None = None
        self._run = 0
        self.state = RunState.NOT_STARTED

    def warm(self) -> None:
        """Start the child if there is none; it imports the engine and readies the kernels while nothing is asked."""
        if self._child is not None and self._child.is_alive():
            return
        self._drop_child()
        ours, theirs = self._context.Pipe()
        self._child = self._context.Process(target=_serve, args=(theirs, self._cancel), daemon=True)
        self._child.start()
        theirs.close()  # or the end of the child would never show as the end of the pipe
        self._pipe = ours

    def start(self, prepared: Prepared, *, seconds: float, rounds: int | None = None, seed: int = 0) -> int:
        """Begin planning and return the number of the run; messages of an earlier run are dropped from here on."""
        if self.state in (RunState.RUNNING, RunState.STOPPING):
            self.kill()
        self.warm()
        self._cancel.clear()
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

    def cancel(self) -> None:
        """Ask for the best plan so far; `Finished` follows."""
        if self.state is RunState.RUNNING:
            self.state = RunState.STOPPING
            self._cancel.set()

    def kill(self) -> None:
        """End the child at once; the run's plan so far is what was gained."""
        if self.state in (RunState.RUNNING, RunState.STOPPING):
            self.state = RunState.CANCELLED
        self._drop_child()

    def close(self) -> None:
        """End for good."""
        self.kill()

    def _take(self, raw: object, messages: list[Message]) -> None:
        if not isinstance(raw, _GainedRecord | _FinishedRecord | Progressed | Failed) or raw.run != self._run:
            return
        if self.state not in (RunState.RUNNING, RunState.STOPPING):
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
        if self.state in (RunState.RUNNING, RunState.STOPPING):
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
        if self._record is not None:
            self._pipe.send(_GainedRecord(self._run, self._record))
            self._record = None


def _ready_kernels() -> None:
    """Load the compiled engine by having it place one small square."""
    from geometry.outline import Outline
    from nesting.problem import ANY_ANGLE, Part, Problem, Rules, Sheet
    from nesting.solve import AfterRounds, solve

    square = Outline.from_points([(0, 0), (10, 0), (10, 10), (0, 10)])
    sheet = Sheet("sheet", Outline.from_points([(0, 0), (50, 0), (50, 50), (0, 50)]))
    solve(Problem((Part("square", square, rotations=ANY_ANGLE),), (sheet,), Rules(1.0, 1.0)), AfterRounds(1))


def _serve(pipe: Connection, cancel: object) -> None:
    """Life of the child: ready the kernels, then one order after the other until the pipe closes."""
    import signal
    import traceback

    assert hasattr(cancel, "is_set")
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the parent's to answer
    _ready_kernels()
    while True:
        try:
            order = pipe.recv()
        except (EOFError, OSError):
            return
        sender = _Sender(pipe, order.run)
        try:
            record = plan_records(
                order.prepared,
                seconds=order.seconds,
                rounds=order.rounds,
                seed=order.seed,
                on_gain=sender.gained,
                on_progress=sender.progressed,
                cancelled=cancel.is_set,
            )
            answer: object = _FinishedRecord(order.run, record, cancel.is_set())
        except AppError as error:
            answer = Failed(order.run, str(error))
        except Exception as error:  # whatever it was, the parent must hear of it
            answer = Failed(order.run, f"planning stopped on a fault of the program: {error}", traceback.format_exc())
        try:
            pipe.send(answer)
        except (BrokenPipeError, OSError):
            return

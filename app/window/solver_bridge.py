"""Between the planner's child process and the window: polls on a timer, emits signals. Nothing here waits."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QObject, QTimer, Signal

from app.job.check import OFFCUT_PREFIX
from app.job.document import DisplayUnits, Job
from app.window.services import Planner, Services

if TYPE_CHECKING:
    from app.planning.host import RunState
    from app.planning.job_plan import JobPlan
    from app.planning.plan_job import PlanProgress
    from app.planning.prepare import Prepared

STOP_OFFERED_MS: Final = 3000
"""A cancelled run that has not ended by then may be stopped at once."""
POLL_MS: Final = 100
"""Also the limit on how often a preview is redrawn: of several gains in one poll only the last is shown."""


def what_a_plan_depends_on(job: Job) -> Job:
    """The job with everything blanked that may change while a plan stays good."""
    bought = tuple(size for size in job.stock if not size.id.startswith(OFFCUT_PREFIX))  # the rack is not the job's
    bare = replace(job, stock=bought, name="", units=DisplayUnits.INCHES, seconds=0.0, seed=0, notes="", folder="")
    return replace(bare, plan=None)


class SolverBridge(QObject):
    """One plan at a time, and how it is coming along.

    Signals
    -------
    state_changed : `state` is different now
    plan_changed : `plan` is different now: a gain, the final plan, or none
    progressed : PlanProgress
    stop_offered : `may_stop_at_once` is true from now on
    finished : JobPlan
        A run has ended with this plan.
    failed : str, str
        A sentence for a person, and a trace when the program is at fault (else empty).
    """

    state_changed = Signal()
    plan_changed = Signal()
    progressed = Signal(object)
    stop_offered = Signal()
    finished = Signal(object)
    failed = Signal(str, str)

    def __init__(self, services: Services, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._services = services
        self._planner: Planner | None = None
        self._state: RunState | None = None
        self._timer = QTimer(self, interval=POLL_MS)
        self._timer.timeout.connect(self.poll)
        self._patience = QTimer(self, singleShot=True, interval=STOP_OFFERED_MS)
        self._patience.timeout.connect(self._offer_stop)
        self._is_patience_over = False
        self.was_stopped_at_once = False
        self.plan: JobPlan | None = None
        self.is_preview = False
        self.progress: PlanProgress | None = None

    @property
    def state(self) -> str:
        """Where the run stands, one of the words of `app.planning.host.RunState`."""
        return "not started" if self._state is None else self._state.value

    @property
    def is_running(self) -> bool:
        """Whether a run is under way, stopping included."""
        return self.state in ("running", "paused", "stopping")

    @property
    def may_stop_at_once(self) -> bool:
        """Whether a cancelled run takes so long that it may be ended without its last plan."""
        return self.state == "stopping" and self._is_patience_over

    def warm(self) -> None:
        """Start the child ahead of the first plan."""
        self._get_planner().warm()

    def start(self, prepared: Prepared, job: Job) -> None:
        """Plan `job`, whose letters and parts are in `prepared`; a run under way is ended first."""
        self.plan, self.is_preview, self.progress = None, True, None
        self._is_patience_over = self.was_stopped_at_once = False
        self.plan_changed.emit()
        planner = self._get_planner()
        planner.start(replace(prepared, job=job), seconds=job.seconds, seed=job.seed)
        self._timer.start()
        self._note_state()

    def show(self, plan: JobPlan | None) -> None:
        """Take up a plan that was not just made by a run."""
        if not self.is_running and plan is not self.plan:
            self.plan, self.is_preview = plan, False
            self.plan_changed.emit()

    def pause(self) -> None:
        """Hold the run, or let it go on."""
        if self._planner is not None:
            if self.state == "paused":
                self._planner.go_on()
            else:
                self._planner.pause()
            self._note_state()

    def cancel(self) -> None:
        """Stop searching and keep the best plan."""
        if self._planner is not None:
            self._planner.cancel()
            self._note_state()
            if self.state == "stopping" and not self._is_patience_over:
                self._patience.start()

    def stop_at_once(self) -> None:
        """End a cancelled run that takes too long; the last plan that came in is kept."""
        if not self.may_stop_at_once:
            return
        self.poll()  # the end may just have come in
        if not self.is_running or self._planner is None:
            return
        self._planner.kill()
        self._timer.stop()
        self._is_patience_over = False
        self.was_stopped_at_once = True
        if self.plan is not None and self.is_preview:
            self.is_preview = False
            self.plan_changed.emit()
        self._note_state()
        if self.plan is not None:
            self.finished.emit(self.plan)

    def clear(self) -> None:
        """Drop the run and its plan, as when another job is opened."""
        self._timer.stop()
        self._patience.stop()
        self._is_patience_over = self.was_stopped_at_once = False
        if self._planner is not None and self.is_running:
            self._planner.kill()
        self._state = None
        self.plan, self.is_preview, self.progress = None, False, None
        self.plan_changed.emit()
        self.state_changed.emit()

    def fits(self, job: Job | None) -> bool:
        """Whether the plan in hand is still a plan of this job."""
        return (
            job is not None
            and self.plan is not None
            and what_a_plan_depends_on(self.plan.job) == what_a_plan_depends_on(job)
        )

    def close(self) -> None:
        """End the child for good."""
        self._timer.stop()
        self._patience.stop()
        if self._planner is not None:
            self._planner.close()
            self._planner = None

    def poll(self) -> None:
        """Take in what the child has sent."""
        from app.planning.host import Crashed, Failed, Finished, Gained, Progressed

        if self._planner is None:
            return
        shown = self.plan
        fault: tuple[str, str] | None = None
        ended: JobPlan | None = None
        for message in self._planner.poll():
            match message:
                case Gained():
                    self.plan, self.is_preview = message.plan, True
                case Progressed():
                    self.progress = message.progress
                case Finished():
                    self.plan, self.is_preview = message.plan, False
                    ended = message.plan
                case Failed():
                    fault = (message.message, message.trace)
                case Crashed():
                    fault = (
                        f"planning ended unexpectedly (exit code {message.exit_code}); nothing was written. "
                        "Plan again; if it happens each time, try another seed and report it",
                        "",
                    )
        if fault:
            self.plan, self.is_preview = None, False  # a preview of a failed run was never final
        if self.progress is not None:
            self.progressed.emit(self.progress)
        if self.plan is not shown:
            self.plan_changed.emit()
        self._note_state()
        if not self.is_running:
            self._timer.stop()
            self._patience.stop()
        if ended is not None:
            self.finished.emit(ended)
        if fault:
            self.failed.emit(*fault)

    def _offer_stop(self) -> None:
        if self.state == "stopping":
            self._is_patience_over = True
            self.stop_offered.emit()

    def _get_planner(self) -> Planner:
        if self._planner is None:
            self._planner = self._services.new_planner()
        return self._planner

    def _note_state(self) -> None:
        state = self._planner.state if self._planner is not None else None
        if state is not self._state:
            self._state = state
            self.state_changed.emit()

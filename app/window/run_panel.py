"""How the planning of a job stands: in words, as a bar and in figures, with its time and seed and what can be done."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.job import edits
from app.job.document import Job
from app.planning.job_plan import total_yield
from app.window.document import Edit
from app.window.facts import FactList, ProgressBar, button, set_look, words
from app.window.fields import Seconds, WholeNumber
from app.window.forms import field_grid
from app.window.not_made import missing_in_words
from app.window.picture import Fact
from app.window.session import Session
from app.window.wording import count, share

STATE_WORDS = {
    "not started": "Not planned yet",
    "running": "Planning…",
    "paused": "Paused; the best plan so far is shown",
    "stopping": "Stopping, keeping the best plan…",
    "finished": "Planned",
    "cancelled": "Stopped early; the best plan is kept",
    "failed": "Planning failed",
    "crashed": "Planning ended unexpectedly",
}


class RunPanel(QWidget):
    """Follows the run of a session.

    Signals
    -------
    edited : str, Edit, str
        What is to be done with the job, in words and as an edit, and the gesture it belongs to.
    """

    edited = Signal(str, object, str)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.state = words("", "heading")
        self.stage = words("", "muted")
        self.bar = ProgressBar("Progress of planning")
        self.figures = FactList()
        self.again = button("Plan again", tip="Plan with the time and seed below; what is locked stays  (F5)")
        self.again.clicked.connect(session.plan)
        self.hold = button("Pause", tip="Hold the planning, or let it go on; the time is not counted  (P)")
        self.hold.clicked.connect(session.planning.pause)
        self.fit_to_job = button("Keep what fits", tip="Keep the places of all parts that have not changed")
        self.fit_to_job.clicked.connect(session.hand.fit_to_job)
        self.seconds = Seconds("Planning time")
        self.seconds.setToolTip("How long to look for a better plan; the first full plan is made whatever the time")
        self.seconds.valueChanged.connect(self._set_seconds)
        self.seed = WholeNumber("Seed", 0, 2_147_483_647)
        self.seed.setToolTip("Another seed tries another road; the same seed goes the same road again")
        self.seed.valueChanged.connect(self._set_seed)
        fields = field_grid(("Time", self.seconds), ("Seed", self.seed), columns=2)
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(8)
        for widget in (self.state, self.bar, self.stage, self.hold, self.figures, fields, self.fit_to_job, self.again):
            box.addWidget(widget)

    @property
    def is_stale(self) -> bool:
        """Whether there is a plan, and it is of the job as it was."""
        planning = self._session.planning
        return planning.plan is not None and not planning.is_running and not planning.fits(self._session.document.job)

    def show_job(self, job: Job) -> None:
        """Show how the run stands for this job."""
        planning, is_stale = self._session.planning, self.is_stale
        running = planning.is_running
        text, look = self._state_in_words(job)
        self.state.setText(text)
        set_look(self.state, look)
        self.hold.setVisible(planning.state in ("running", "paused"))
        self.hold.setText("Go on" if planning.state == "paused" else "Pause")
        is_kept = job.plan is not None
        self.fit_to_job.setVisible(is_stale and is_kept and not self._session.preparation.is_busy)
        self._show_progress()
        self.figures.show_facts(self._figures())
        again = again_in_words(job)
        self.again.setText(again)
        self.again.setAccessibleName(again)
        self.again.setVisible(not running and planning.plan is not None and not is_stale)
        self.again.setEnabled(self._session.can_plan)
        self.seconds.show_value(job.seconds)
        self.seed.show_value(job.seed)
        for field in (self.seconds, self.seed):
            field.setEnabled(not running)

    def _state_in_words(self, job: Job) -> tuple[str, str]:
        """How the run stands, and with what look."""
        planning = self._session.planning
        plan, state = planning.plan, planning.state
        text = STATE_WORDS[state]
        if job.plan is not None and job.plan.is_by_hand and state in ("not started", "finished", "cancelled"):
            text = "Planned, and changed by hand"
        elif plan is not None and state == "not started":
            text = "Planned before, and kept with the job"
        if state in ("failed", "crashed"):
            return text, "bad"
        if self.is_stale:
            return "Planned, but the job has changed since", "warn"
        if planning.was_stopped_at_once and not planning.is_running:
            if plan is None:
                return "Stopped at once, before there was a plan", "heading"
            text = "Stopped at once; this is the last plan that came in, without its offcuts"
            return (text, "warn") if plan.is_complete else (f"{text}; {missing_in_words(plan)}", "bad")
        if plan is not None and not planning.is_running and not plan.is_complete:
            missing = [missing_in_words(plan)] if plan.unplaced or plan.not_done else []
            wrong = [f"{count(len(plan.faults), 'place')} not legal"] if plan.faults else []
            return "; ".join((text, *missing, *wrong)), "bad"
        return text, "heading"

    def _show_progress(self) -> None:
        running, progress = self._session.planning.is_running, self._session.planning.progress
        self.bar.setVisible(running)
        self.stage.setVisible(running)
        if running and progress is not None:
            self.bar.show_share(progress.fraction)
            self.stage.setText(f"{progress.stage}   {progress.elapsed_s:.0f} s")
        elif running:
            self.bar.show_share(None)
            self.stage.setText("getting the planner ready")

    def _figures(self) -> list[Fact]:
        """Of the plan; without one of the run, or of what there is to plan."""
        planning, prepared = self._session.planning, self._session.preparation.prepared
        plan, progress, running = planning.plan, planning.progress, planning.is_running
        if plan is not None:
            placed, of = sum(len(sheet.placed) for sheet in plan.sheets), sum(part.quantity for part in plan.parts)
            facts = [
                ("Sheets", str(len(plan.sheets))),
                ("Net yield", share(total_yield(plan.summaries))),
                ("Pieces placed", f"{placed} of {of}"),
            ]
            if not running and plan.rounds:
                facts.append(("Took", f"{plan.seconds:.1f} s, {count(plan.rounds, 'round')}"))
            return facts
        if running and progress is not None and progress.sheets:
            return [("Sheets", str(progress.sheets)), ("Net yield", share(progress.net_yield))]
        if not running and prepared is not None:
            return [
                ("To place", count(sum(part.quantity for part in prepared.parts), "piece")),
                ("Materials", str(len({part.material for part in prepared.parts}))),
            ]
        return []

    def _set_seconds(self, seconds: float) -> None:
        self._edit("change planning time", lambda job: edits.set_seconds(job, seconds), self.seconds.gesture)

    def _set_seed(self, seed: int) -> None:
        self._edit("change seed", lambda job: edits.set_seed(job, seed), self.seed.gesture)

    def _edit(self, text: str, edit: Edit, merge: str) -> None:
        self.edited.emit(text, edit, merge)


def again_in_words(job: Job) -> str:
    """What planning once more does."""
    return "Plan the rest" if job.plan is not None and job.plan.has_locks else "Plan again"

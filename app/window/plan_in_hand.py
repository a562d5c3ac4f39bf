"""The plan as it stands: the job's kept plan put together with its parts, and refereed off the window's thread.

The job is the one truth: what the planner finds is kept with it, as one undo step, and so is every change by hand.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QObject, Signal

from app.job import edits
from app.job.check import OFFCUT_PREFIX
from app.job.document import Job
from app.job.kept import KeptPlan
from app.window.background import Background
from app.window.document import Document
from app.window.preparation import Preparation
from app.window.solver_bridge import SolverBridge

if TYPE_CHECKING:
    from app.planning.job_plan import JobPlan
    from app.planning.kept_plan import KeptPlans
    from app.planning.prepare import Prepared

MOST_KNOWN: Final = 200
"""Plans remembered for undo; older ones are put together again."""


class PlanInHand(QObject):
    """Follows the job's kept plan and keeps `planning.plan` in step with it.

    Signals
    -------
    checked : `is_checked` is different now
    failed : object
        An exception for the window to show.
    """

    checked = Signal()
    failed = Signal(object)

    def __init__(
        self,
        document: Document,
        preparation: Preparation,
        planning: SolverBridge,
        with_rack: Callable[[Job], Job],
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self._with_rack = with_rack
        self._document, self._preparation, self._planning = document, preparation, planning
        self._background = Background("letterbed-referee", self)
        self._background.done.connect(self._take)
        self._background.failed.connect(self._fail)
        self._known: dict[int, tuple[KeptPlan, JobPlan]] = {}
        self._refereed: JobPlan | None = None  # the last plan with offcuts of its own
        self.plans: KeptPlans | None = None
        self.is_checked = True
        document.opened.connect(self._forget)
        document.changed.connect(self._job_changed)
        preparation.changed.connect(self._prepared_changed)
        planning.finished.connect(self.accept)
        planning.state_changed.connect(self._state_changed)

    @property
    def can_edit(self) -> bool:
        """Whether parts may be moved by hand: the plan is final, of the job as it stands, and no run is under way."""
        job, planning = self._document.job, self._planning
        return (
            job is not None
            and job.plan is not None
            and planning.plan is not None
            and not planning.is_running
            and not planning.is_preview
            and planning.fits(job)
            and self._preparation.prepared is not None
            and not self._preparation.is_busy
        )

    def accept(self, plan: JobPlan) -> None:
        """Keep a plan of the planner with the job."""
        from app.planning.kept_plan import kept_of

        job = self._document.job
        if job is None or not self._planning.fits(job):
            return
        # A run stopped at once has not looked for offcuts.
        self._refereed = None if self._planning.was_stopped_at_once else plan
        kept = kept_of(plan, is_by_hand=job.plan is not None and job.plan.has_locks)
        self._remember(kept, plan)
        if job.plan == kept and job.plan is not None:
            self._remember(job.plan, plan)
        self._document.edit("plan", lambda job: edits.set_plan(job, kept), initiator=self)
        self._get_plans_ready()

    def edit(self, text: str, change: Callable[[KeptPlan], KeptPlan], *, merge: str = "") -> None:
        """Change the kept plan as one undo step."""

        def changed(job: Job) -> Job:
            return job if job.plan is None else edits.set_plan(job, change(job.plan))

        self._document.edit(text, changed, initiator=self, merge=merge)

    def fit_to_job(self) -> None:
        """Keep of an older plan what still fits the job."""
        job = self._document.job
        if job is not None and job.plan is not None and self._preparation.prepared is not None:
            self._known.pop(id(job.plan), None)
            self._check(job.plan)

    def close(self) -> None:
        """End the thread."""
        self._background.close()

    # What it follows

    def _job_changed(self, before: Job | None, after: Job, _initiator: object) -> None:
        if before is None or before.plan is not after.plan:
            self._follow(after.plan)

    def _follow(self, kept: KeptPlan | None) -> None:
        if self._planning.is_running:
            return
        if kept is None:
            self._set_checked(True)
            self._planning.show(None)
            return
        found = self._known.get(id(kept))
        if found is not None:
            self._background.forget()
            self._refereed = found[1] if self._refereed is not None else None
            self._set_checked(True)
            self._planning.show(found[1])
        elif self._preparation.prepared is not None and not self._preparation.is_busy:
            self._check(kept)

    def _check(self, kept: KeptPlan) -> None:
        """Show a kept plan at once, as far as it is known, and have it refereed."""
        from app.planning.kept_plan import sketch

        prepared, job = self._preparation.prepared, self._document.job
        if prepared is None or job is None:
            return
        self._set_checked(False)
        prepared = replace(prepared, job=self._stocked(job))
        shown = self._planning.plan
        if shown is not None and self._planning.fits(job):
            self._planning.show(sketch(prepared, kept, shown))
        plans, before = self.plans, self._refereed
        self._background.start(lambda _report: _judge(prepared, plans, kept, before))

    def _take(self, answer: object) -> None:
        plans, kept, plan = answer
        job = self._document.job
        if plans.prepared.parts is self._parts():
            self.plans = plans
        if kept is None or job is None or job.plan is not kept:
            self.checked.emit()
            return
        self.is_checked = True
        if plan.findings and len(plan.findings) > len(plans.prepared.findings):
            # What does not fit the job any more leaves the kept plan too, so that both stay in step.
            from app.planning.kept_plan import kept_of

            kept = kept_of(plan, is_by_hand=True)
            self._remember(kept, plan)
            self._document.edit("keep what fits the job", lambda job: edits.set_plan(job, kept), initiator=self)
        self._remember(kept, plan)
        self._refereed = plan
        self._planning.show(plan)
        self.checked.emit()

    def _fail(self, error: object) -> None:
        if self.is_checked:
            return  # only getting ready; planning will say the same when it is asked for
        self._planning.show(None)
        self._set_checked(True)
        self.failed.emit(error)

    def _prepared_changed(self) -> None:
        self.plans = None
        job = self._document.job
        if job is None or job.plan is None or self._preparation.prepared is None or self._planning.is_running:
            return
        if self._planning.plan is None:
            self._follow(job.plan)
        else:
            self._get_plans_ready()

    def _state_changed(self) -> None:
        # A run that ends without a plan leaves the job's own in place.
        job, planning = self._document.job, self._planning
        if planning.is_running:
            self._get_plans_ready()
        if planning.plan is None and not planning.is_running and job is not None and job.plan is not None:
            self._follow(job.plan)

    def _get_plans_ready(self) -> None:
        """Outlines and neighbours for moving parts by hand, made ahead of the first grasp."""
        prepared, job = self._preparation.prepared, self._document.job
        if self.plans is None and prepared is not None and job is not None and self.is_checked:
            prepared = replace(prepared, job=self._stocked(job))
            self._background.start(lambda _report: _judge(prepared, None, None, None))

    def _forget(self) -> None:
        self._background.forget()
        self._known.clear()
        self.plans = self._refereed = None
        self._set_checked(True)

    def _stocked(self, job: Job) -> Job:
        """The job with the rack's pieces that its plan lies on."""
        plan = self._planning.plan
        if plan is not None and self._planning.fits(job):
            return replace(job, stock=plan.job.stock)
        kept = job.plan
        is_on_rack = kept is not None and any(sheet.stock.startswith(OFFCUT_PREFIX) for sheet in kept.sheets)
        return self._with_rack(job) if is_on_rack else job

    def _parts(self) -> object:
        prepared = self._preparation.prepared
        return prepared.parts if prepared is not None else None

    def _remember(self, kept: KeptPlan, plan: JobPlan) -> None:
        while len(self._known) >= MOST_KNOWN:
            self._known.pop(next(iter(self._known)))
        self._known[id(kept)] = (kept, plan)  # holding it keeps its id taken

    def _set_checked(self, is_checked: bool) -> None:
        if is_checked != self.is_checked:
            self.is_checked = is_checked
            self.checked.emit()


def _judge(prepared: Prepared, plans: KeptPlans | None, kept: KeptPlan | None, before: JobPlan | None) -> object:
    from app.planning.kept_plan import KeptPlans

    plans = KeptPlans(prepared) if plans is None else plans.for_job(prepared)
    return plans, kept, plans.plan(kept, before) if kept is not None else None

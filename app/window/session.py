"""Everything behind the window that is not a widget: the document and the long tasks around it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from app.job.document import Job
from app.window.autosave import Autosave
from app.window.background import Background
from app.window.document import Document
from app.window.drafts import drafts_place
from app.window.paths import PathCache
from app.window.plan_in_hand import PlanInHand
from app.window.preparation import Preparation
from app.window.rack_desk import RackDesk
from app.window.services import Services
from app.window.solver_bridge import SolverBridge
from app.window.trial import Trial

if TYPE_CHECKING:
    from app.stock.cut_sheets import JobKey


class Session(QObject):
    """What the places of the window share.

    Signals
    -------
    fault : object
        An exception for the window to show.
    exported : Written
    closing : every thread and child ends now
    rack_use_changed : whether the next plan may use offcuts is different now
    """

    fault = Signal(object)
    exported = Signal(object)
    closing = Signal()
    rack_use_changed = Signal()

    def __init__(self, services: Services | None = None, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.services = services if services is not None else Services()
        self.paths = PathCache()
        self.document = Document(self)
        self.autosave = Autosave(self.document, drafts_place(), self)
        self.autosave.failed.connect(self.fault)
        self.preparation = Preparation(self.document, self.services, self)
        self.planning = SolverBridge(self.services, self)
        self.exporting = Background("letterbed-export", self)
        self.exporting.done.connect(self.exported)
        self.exporting.failed.connect(self.fault)
        self.rack = RackDesk(self)
        self.rack.failed.connect(self.fault)
        self.hand = PlanInHand(self.document, self.preparation, self.planning, self.with_pieces, self)
        self.hand.failed.connect(self.fault)
        self.recutting = SolverBridge(self.services, self)
        self.writing_recut = Background("letterbed-recut", self)
        self.writing_recut.failed.connect(self.fault)
        self.comparing = Trial("letterbed-compare", self)
        self.comparing.failed.connect(self.fault)
        self.ordering = Trial("letterbed-order", self)
        self.ordering.failed.connect(self.fault)
        self.uses_rack = False
        self._plans_when_ready = False
        self.document.opened.connect(self.planning.clear)
        self.document.opened.connect(self._other_job)
        self.preparation.changed.connect(self._prepared_changed)

    @property
    def can_plan(self) -> bool:
        """Whether there is something to plan and nothing in the way."""
        return self.document.job is not None and self.preparation.is_ready and not self.planning.is_running

    @property
    def can_export(self) -> bool:
        """Whether the plan in hand is final, of the job as it stands, and has passed the referee."""
        return (
            self.planning.fits(self.document.job)
            and not self.planning.is_preview
            and not self.planning.is_running
            and self.hand.is_checked
            and not self.planning.plan.faults
            and not self.exporting.is_busy
        )

    def plan(self) -> None:
        """Start planning."""
        prepared, job = self.preparation.prepared, self.document.job
        if self.can_plan and prepared is not None and job is not None:
            self._lock_what_is_cut()
            job = self.document.job or job
            self.planning.start(prepared, self.with_rack(job))

    def job_key(self) -> JobKey | None:
        """How the rack knows the job: by its file; None before it is saved."""
        from app.stock.cut_sheets import job_key

        job, path = self.document.job, self.document.path
        return job_key(path, job.name) if job is not None and path else None

    def cut_numbers(self) -> frozenset[int]:
        """Numbers of the sheets of the plan in hand that are booked as cut."""
        from app.planning.recut import booked_as_cut, sheet_cut
        from app.stock.cut_sheets import pieces_cut

        plan, key = self.planning.plan, self.job_key()
        pieces = () if plan is None or key is None else self.rack.read(lambda rack: pieces_cut(rack, key), ())
        if plan is None or key is None or not pieces:
            return frozenset()
        cuts = (sheet_cut(plan, sheet.number, key) for sheet in plan.sheets)
        return frozenset(cut.number for cut in cuts if booked_as_cut(cut, pieces) is not None)

    def _lock_what_is_cut(self) -> None:
        """Lock the sheets that were cut, should somebody have unlocked them: metal that is cut stays where it is."""
        from app.job.kept import KeptPlan, lock_sheet

        job, plan = self.document.job, self.planning.plan
        if job is None or job.plan is None or plan is None or not self.planning.fits(job):
            return
        loose = [number for number in self.cut_numbers() if not job.plan.sheets[number - 1].is_locked]

        def locked(kept: KeptPlan) -> KeptPlan:
            for number in loose:
                kept = lock_sheet(kept, number - 1, True)
            return kept

        if loose:
            self.hand.edit("lock what is cut", locked)

    def plan_when_ready(self) -> None:
        """Start planning now, or as soon as the parts of an edit just made are there."""
        self._plans_when_ready = self.preparation.is_busy
        if not self._plans_when_ready:
            self.plan()

    def with_rack(self, job: Job) -> Job:
        """The job as it is planned: with what the rack has for it, when it is to be used."""
        from app.planning.rack_stock import with_held

        return self.with_pieces(job) if self.uses_rack else self.rack.read(lambda rack: with_held(job, rack), job)

    def with_pieces(self, job: Job, *, takes_reserved: bool = True) -> Job:
        """The job with all the rack has for it; as `with_rack`."""
        from app.planning.rack_stock import with_rack

        return self.rack.read(lambda rack: with_rack(job, rack, takes_reserved=takes_reserved), job)

    def use_rack(self, is_used: bool) -> None:
        """Plan on the rack's offcuts from now on, or not."""
        if is_used != self.uses_rack:
            self.uses_rack = is_used
            self.rack_use_changed.emit()

    def export(self, folder: str) -> None:
        """Write the plan's files into a folder, on a thread; `exported` or `fault` follows."""
        plan, job = self.planning.plan, self.document.job
        if not self.can_export or plan is None or job is None:
            return
        # Units, name and notes may have changed since planning without touching the plan.
        plan = replace(plan, job=replace(job, stock=plan.job.stock))
        self.exporting.start(lambda report: self.services.write_plan(plan, folder, report))

    def close(self) -> None:
        """End every thread and child."""
        # The undo stack would tell of its own end, to a window that may be half gone.
        self.document.undo_stack.blockSignals(True)
        self.closing.emit()
        self.autosave.close()
        self.comparing.close()
        self.ordering.close()
        self.recutting.close()
        self.writing_recut.close()
        self.rack.close()
        self.planning.close()
        self.hand.close()
        self.preparation.close()
        self.exporting.close()

    def _prepared_changed(self) -> None:
        self.paths.clear()
        if self.preparation.error is not None:
            self.fault.emit(self.preparation.error)
        if self._plans_when_ready and not self.preparation.is_busy:
            self._plans_when_ready = False
            self.plan()

    def _other_job(self) -> None:
        self.comparing.forget()
        self.ordering.forget()
        self.recutting.clear()
        self._plans_when_ready = False
        self.use_rack(False)

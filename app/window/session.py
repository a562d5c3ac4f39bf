"""Everything behind the window that is not a widget: the document and the three long tasks around it."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QObject, Signal

from app.window.background import Background
from app.window.document import Document
from app.window.paths import PathCache
from app.window.preparation import Preparation
from app.window.services import Services
from app.window.solver_bridge import SolverBridge


class Session(QObject):
    """What the places of the window share.

    Signals
    -------
    fault : object
        An exception for the window to show.
    exported : Written
    """

    fault = Signal(object)
    exported = Signal(object)

    def __init__(self, services: Services | None = None, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.services = services if services is not None else Services()
        self.paths = PathCache()
        self.document = Document(self)
        self.preparation = Preparation(self.document, self.services, self)
        self.planning = SolverBridge(self.services, self)
        self.exporting = Background("letterbed-export", self)
        self.exporting.done.connect(self.exported)
        self.exporting.failed.connect(self.fault)
        self.document.opened.connect(self.planning.clear)
        self.preparation.changed.connect(self._prepared_changed)

    @property
    def can_plan(self) -> bool:
        """Whether there is something to plan and nothing in the way."""
        prepared = self.preparation.prepared
        return (
            self.document.job is not None
            and prepared is not None
            and bool(prepared.parts)
            and not self.preparation.is_busy
            and not self.planning.is_running
        )

    @property
    def can_export(self) -> bool:
        """Whether the plan in hand is final and of the job as it stands."""
        return (
            self.planning.fits(self.document.job)
            and not self.planning.is_preview
            and not self.planning.is_running
            and not self.exporting.is_busy
        )

    def plan(self) -> None:
        """Start planning."""
        prepared, job = self.preparation.prepared, self.document.job
        if self.can_plan and prepared is not None and job is not None:
            self.planning.start(prepared, job)

    def export(self, folder: str) -> None:
        """Write the plan's files into a folder, on a thread; `exported` or `fault` follows."""
        plan, job = self.planning.plan, self.document.job
        if not self.can_export or plan is None or job is None:
            return
        # Units, name and notes may have changed since planning without touching the plan.
        plan = replace(plan, job=job)
        self.exporting.start(lambda report: self.services.write_plan(plan, folder, report))

    def close(self) -> None:
        """End every thread and child."""
        # The undo stack would tell of its own end, to a window that may be half gone.
        self.document.undo_stack.blockSignals(True)
        self.planning.close()
        self.preparation.close()
        self.exporting.close()

    def _prepared_changed(self) -> None:
        self.paths.clear()
        if self.preparation.error is not None:
            self.fault.emit(self.preparation.error)

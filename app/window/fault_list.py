"""Why the plan cannot be cut as it stands: a sentence for each fault, which leads to its part."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QHBoxLayout, QWidget

from app.planning.job_plan import PlanFault
from app.window.facts import button, words
from app.window.part_marks import VERDICT_COLOURS, VERDICT_PATTERNS
from app.window.told_list import ToldList


class FaultList(ToldList):
    """The faults of a plan.

    Signals
    -------
    chosen : PlanFault
    """

    chosen = Signal(object)

    def __init__(self) -> None:
        super().__init__(spacing=2)

    def show_faults(self, faults: Sequence[PlanFault]) -> None:
        """Show these and no others."""
        more = f", the first {self.most} of {len(faults)}" if len(faults) > self.most else f" ({len(faults)})"
        self.tell(faults, "Not legal: no files can be written" + more)

    def row(self, thing: object) -> QWidget:
        """The sentence, with the mark its part carries on the drawing."""
        return _FaultRow(thing, self.chosen)


class _FaultRow(QWidget):
    """One fault with the mark its part carries on the drawing."""

    def __init__(self, fault: PlanFault, chosen: object) -> None:
        super().__init__()
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(6)
        row.addWidget(_VerdictSwatch(fault.kind), 0, Qt.AlignmentFlag.AlignTop)
        text = f"Sheet {fault.sheet}: {fault.message}" if fault.sheet else fault.message
        line = words(text)
        row.addWidget(line, 1)
        show = button("Show", "plain", tip="Show the part on its sheet", name=f"Show {text}")
        show.clicked.connect(lambda: chosen.emit(fault))
        show.setVisible(bool(fault.parts))
        row.addWidget(show, 0, Qt.AlignmentFlag.AlignTop)


class _VerdictSwatch(QWidget):
    """Colour and pattern of how a part stands."""

    def __init__(self, kind: str) -> None:
        super().__init__()
        self._kind = kind
        self.setFixedSize(16, 16)

    def paintEvent(self, event: QPaintEvent) -> None:
        """As on the drawing."""
        colour = QColor(VERDICT_COLOURS.get(self._kind, VERDICT_COLOURS["overlaps"]))
        painter = QPainter(self)
        painter.setPen(QPen(colour, 2.0))
        painter.setBrush(colour if self._kind == "clear" else VERDICT_PATTERNS.get(self._kind, Qt.BrushStyle.NoBrush))
        painter.drawRect(2, 2, 12, 12)
        painter.end()

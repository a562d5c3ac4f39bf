"""Findings of a place, worst first; choosing one asks for it to be shown on the drawing."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QColor, QIcon, QPainter, QPen, QPixmap
from PySide6.QtWidgets import QAbstractItemView, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from app.window.facts import set_look, words
from app.window.theme import Theme
from app.window.walk import Mark
from app.window.wording import count, sentence
from geometry.findings import Finding, Severity

ORDER = (Severity.ERROR, Severity.WARNING, Severity.NOTE)


def severity_icon(theme: Theme, severity: Severity) -> QIcon:
    """A mark that differs in shape as well as in colour: a cross, a triangle, a dot."""
    icon = QIcon()
    for ratio in (1, 2, 3):
        pixmap = QPixmap(16 * ratio, 16 * ratio)
        pixmap.setDevicePixelRatio(ratio)
        pixmap.fill(Qt.GlobalColor.transparent)
        painter = QPainter(pixmap)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        colour = QColor(theme.colours.severity(severity))
        painter.setPen(QPen(colour, 2.2, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin))
        if severity is Severity.ERROR:
            painter.drawLine(4, 4, 12, 12)
            painter.drawLine(12, 4, 4, 12)
        elif severity is Severity.WARNING:
            painter.drawPolyline([_point(8, 3), _point(14, 13), _point(2, 13), _point(8, 3)])
        else:
            painter.setBrush(colour)
            painter.drawEllipse(_point(8, 8), 2, 2)
        painter.end()
        icon.addPixmap(pixmap)
    return icon


class FindingsList(QWidget):
    """The list with its heading; hidden sentence instead when there is nothing to say.

    Signals
    -------
    chosen : Finding
    """

    chosen = Signal(object)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._findings: tuple[Finding, ...] = ()
        self._waiting = ""
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(6)
        self.heading = words("Findings", "section")
        self.nothing = words("Nothing to report.", "muted")
        self.list = QListWidget()
        self.list.setWordWrap(True)
        self.list.setTextElideMode(Qt.TextElideMode.ElideNone)
        self.list.setIconSize(QSize(16, 16))
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.list.setResizeMode(QListWidget.ResizeMode.Adjust)
        self.list.setAccessibleName("Findings")
        self.list.setToolTip("Choose a finding to see its place on the drawing")
        self.list.setMinimumHeight(110)
        self.list.itemClicked.connect(self._choose)
        self.list.itemActivated.connect(self._choose)
        box.addWidget(self.heading)
        box.addWidget(self.nothing)
        box.addWidget(self.list, 1)
        box.addStretch(0)
        theme.changed.connect(self._fill)
        self.show_findings(())

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What is listed, worst first."""
        return self._findings

    def show_waiting(self, why: str) -> None:
        """Say why nothing can be said yet ("Reading…"); empty when all is known."""
        self._waiting = why
        self._fill()

    def show_findings(self, findings: Sequence[Finding]) -> None:
        """List these and no others."""
        self._findings = tuple(sorted(findings, key=lambda one: ORDER.index(one.severity)))
        self._fill()

    def choose(self, finding: Finding) -> None:
        """Go to a finding in the list."""
        for index in range(self.list.count()):
            item = self.list.item(index)
            if item.data(Qt.ItemDataRole.UserRole) is finding:
                self.list.setCurrentItem(item)
                self.list.scrollToItem(item)

    def _fill(self) -> None:
        bad = sum(one.severity is Severity.ERROR for one in self._findings)
        warned = sum(one.severity is Severity.WARNING for one in self._findings)
        self.heading.setText(f"Findings: {summary(self._findings)}" if self._findings else "Findings")
        set_look(self.heading, "bad" if bad else "warn" if warned else "section")
        # What is listed while all is read anew is about to be replaced.
        self.nothing.setText(self._waiting or "Nothing to report.")
        self.nothing.setVisible(bool(self._waiting) or not self._findings)
        self.list.setVisible(bool(self._findings))
        self.list.clear()
        for finding in self._findings:
            text = sentence(finding.message) + (" Put right." if finding.fixed else "")
            item = QListWidgetItem(severity_icon(self._theme, finding.severity), text)
            item.setData(Qt.ItemDataRole.UserRole, finding)
            item.setData(Qt.ItemDataRole.AccessibleTextRole, f"{finding.severity.value}: {text}")
            self.list.addItem(item)

    def _choose(self, item: QListWidgetItem) -> None:
        self.chosen.emit(item.data(Qt.ItemDataRole.UserRole))


def summary(findings: Sequence[Finding]) -> str:
    """How many of each severity, in words."""
    names = {Severity.ERROR: "error", Severity.WARNING: "warning", Severity.NOTE: "note"}
    amounts = {severity: sum(one.severity is severity for one in findings) for severity in ORDER}
    return ", ".join(count(amount, names[severity]) for severity, amount in amounts.items() if amount)


def _point(x: float, y: float):
    from PySide6.QtCore import QPointF

    return QPointF(x, y)


def waiting_words(is_busy: bool, is_read: bool) -> str:
    """Why there is nothing to report yet; empty when all is known."""
    if is_busy:
        return "Reading…"
    return "" if is_read else "Nothing is read yet."


def worst(findings: Sequence[Finding]) -> Mark:
    """Mark of a place with these findings."""
    if any(one.severity is Severity.ERROR for one in findings):
        return Mark.FAULT
    if any(one.severity is Severity.WARNING for one in findings):
        return Mark.LOOK
    return Mark.DONE

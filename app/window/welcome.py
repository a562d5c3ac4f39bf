"""What is seen before a job is open: what to do, the sample jobs, the recent ones."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPaintEvent, QPen
from PySide6.QtWidgets import QHBoxLayout, QScrollArea, QSizePolicy, QVBoxLayout, QWidget

from app.fabrication.part import Role
from app.window.facts import Section, button, words
from app.window.job_files import job_name
from app.window.theme import Theme


class Welcome(QWidget):
    """The first page.

    Signals
    -------
    open_wanted, artwork_wanted, words_wanted : a dialog is asked for
    job_chosen : str
        Path of a job file.
    """

    open_wanted = Signal()
    artwork_wanted = Signal()
    words_wanted = Signal()
    job_chosen = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        column = QWidget()
        column.setMaximumWidth(460)
        box = QVBoxLayout(column)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(14)
        box.addStretch(1)
        box.addWidget(words("From sign artwork to cut files", "title"))
        box.addWidget(
            words(
                "Open a job, or begin one with the customer's artwork (SVG, DXF or PDF) or with words in a font. "
                "You can also drop a file here.",
                "muted",
            )
        )
        self.open = button("Open job…", "primary", tip="Open a job file (Ctrl+O)")
        self.open.clicked.connect(self.open_wanted)
        self.artwork = button("New job from artwork…", tip="Begin a job with an SVG, DXF or PDF file (Ctrl+N)")
        self.artwork.clicked.connect(self.artwork_wanted)
        self.words = button("From words…", tip="Begin a job with words set in a font file (Ctrl+Shift+N)")
        self.words.clicked.connect(self.words_wanted)
        row = QHBoxLayout()
        row.setSpacing(10)
        row.addWidget(self.open)
        row.addWidget(self.artwork)
        row.addWidget(self.words)
        row.addStretch(1)
        box.addLayout(row)
        box.addSpacing(8)
        self.recent = Section("Recent jobs")
        self.samples = Section("Sample jobs")
        box.addWidget(self.recent)
        box.addWidget(self.samples)
        box.addStretch(2)
        holder = QWidget()
        holder.setObjectName("panelBody")
        middle = QHBoxLayout(holder)
        middle.setContentsMargins(48, 36, 40, 36)
        middle.addStretch(1)
        middle.addWidget(column, 6)
        scroll = QScrollArea()
        scroll.setWidget(holder)
        scroll.setAccessibleName("First page")
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QScrollArea.Shape.NoFrame)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        whole = QHBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addWidget(scroll, 6)
        whole.addWidget(_Emblem(theme), 5)

    def show_jobs(self, recent: Sequence[str], samples: Sequence[tuple[str, str]]) -> None:
        """Offer these jobs."""
        self._offer(self.recent, [(job_name(Path(path)) or os.path.basename(path), path) for path in recent[:4]])
        self._offer(self.samples, list(samples))

    def _offer(self, section: Section, jobs: list[tuple[str, str]]) -> None:
        while section.box.count() > 1:
            card = section.box.takeAt(1).widget()
            card.setParent(None)
            card.deleteLater()
        for name, path in jobs:
            made = button(name, "card", tip=path, name=f"Open {name}")
            made.clicked.connect(lambda _checked=False, path=path: self.job_chosen.emit(path))
            section.box.addWidget(made)
        section.setVisible(bool(jobs))


class _Emblem(QWidget):
    """A letter taken apart: backer, face and ring, drawn from arcs and lines."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        theme.changed.connect(self.update)

    def sizeHint(self) -> QSize:
        return QSize(360, 400)

    def paintEvent(self, event: QPaintEvent) -> None:
        colours = self._theme.colours
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(colours.bench))
        unit = min(self.width() / 7.2, self.height() / 8.4)
        painter.translate(self.width() / 2, self.height() / 2)
        for role, shift, inset, ring in (
            (Role.BACKER, (-0.95, 0.75), 0.0, False),
            (Role.FACE, (0.0, 0.0), 0.09, False),
            (Role.RETAINER, (0.95, -0.75), 0.0, True),
        ):
            painter.save()
            painter.translate(shift[0] * unit, shift[1] * unit)
            path = _letter_path(inset, unit)
            if ring:
                path = path.subtracted(_letter_path(0.3, unit))
            fill = colours.role_fill(role)
            painter.setBrush(fill)
            pen = QPen(colours.role_edge(role), 1.6)
            painter.setPen(pen)
            painter.drawPath(path)
            painter.restore()
        painter.end()


def _letter_path(inset: float, unit: float) -> QPainterPath:
    """A round letter with a slot; y down. In pixels, since Qt cuts curves into pieces of about one unit here."""
    outer, inner = (2.4 - inset) * unit, (1.0 + inset) * unit
    path = QPainterPath()
    path.setFillRule(Qt.FillRule.OddEvenFill)
    path.addEllipse(QPointF(0, 0), outer, outer)
    path.addEllipse(QPointF(0, 0), inner, inner)
    slot = QPainterPath()
    slot.addRect(QRectF(0, (-0.62 - inset) * unit, 3 * unit, (1.24 + 2 * inset) * unit))
    return path.subtracted(slot)

"""Findings where they are: a small sign on the drawing at each place a finding speaks of."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Final

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen, QTransform
from PySide6.QtWidgets import QGraphicsItem, QGraphicsScene, QStyleOptionGraphicsItem, QWidget

from app.window.picture import Look, Picture, Thing
from app.window.theme import Theme
from app.window.wording import sentence
from geometry.findings import Finding, Severity

SIGN_PX: Final = 8.0
"""Half of a sign's width on screen."""
NOTES_FROM_PX: Final = 0.2
"""Pixels per mm from which notes are marked too: over a whole sign at once they would hide it."""


class FindingMark(Thing):
    """The sign of one finding: a cross, a triangle or a dot, as in the list; the same size at every zoom."""

    def __init__(self, theme: Theme, finding: Finding, at: QPointF) -> None:
        look = Look(lambda colours: QColor(colours.panel), lambda colours: QColor(colours.severity(finding.severity)))
        text = sentence(finding.message)
        super().__init__(theme, f"finding {finding.code}", QPainterPath(), look, tip=text, facts=())
        self.finding = finding
        self.setFlag(QGraphicsItem.GraphicsItemFlag.ItemIgnoresTransformations)
        self.setPos(at)
        self.setZValue(8.0)

    def area(self) -> QRectF:
        """Its place, without extent."""
        return QRectF(self.pos(), self.pos())

    def holds(self, point: QPointF, slop: float) -> bool:
        """Whether a point is near; signs are easier to hit than they are large."""
        scene = self.scene()
        if scene is None or not self._is_shown(scene):
            return False
        away = point - self.pos()
        return abs(away.x()) <= 3.0 * slop and abs(away.y()) <= 3.0 * slop

    def set_selected(self, is_selected: bool) -> None:
        """Nothing of its own: the ring shows which finding is looked at."""

    def boundingRect(self) -> QRectF:
        """The sign with its rim, pixels."""
        reach = SIGN_PX + 3.0
        return QRectF(-reach, -reach, 2 * reach, 2 * reach)

    def _is_shown(self, scene: QGraphicsScene) -> bool:
        if self.finding.severity is not Severity.NOTE or not scene.views():
            return True
        board = scene.views()[0].transform()
        return math.hypot(board.m11(), board.m12()) >= NOTES_FROM_PX

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        """The sign on a rim of the panel's colour, so that it shows on any fill."""
        if not self._is_shown(self.scene()):
            return
        colours = self._theme.colours
        colour, severity = QColor(colours.severity(self.finding.severity)), self.finding.severity
        rim = QColor(colours.panel)
        for pen in (_pen(rim, 6.5), _pen(colour, 2.4)):
            painter.setPen(pen)
            painter.setBrush(rim if severity is Severity.WARNING else Qt.BrushStyle.NoBrush)
            if severity is Severity.ERROR:
                painter.drawLine(QPointF(-5, -5), QPointF(5, 5))
                painter.drawLine(QPointF(5, -5), QPointF(-5, 5))
            elif severity is Severity.WARNING:
                painter.drawPolygon([QPointF(0, -7), QPointF(7, 6), QPointF(-7, 6)])
            else:
                painter.setBrush(pen.color())
                painter.drawEllipse(QPointF(0, 0), 2.5, 2.5)
        if severity is Severity.WARNING:
            painter.drawLine(QPointF(0, -2), QPointF(0, 1.5))
            painter.drawPoint(QPointF(0, 4))


def mark_findings(picture: Picture, findings: Iterable[Finding], frame: QTransform | None = None) -> None:
    """Put a sign on the picture for every finding that has a place in it.

    Places are told in `frame`, or, without one, in that of the letter or part the finding speaks of.
    """
    for finding in findings:
        own = picture.frames.get(finding.subject) if frame is None else frame
        if finding.where is not None and own is not None:
            picture.add_mark(FindingMark(picture.theme, finding, own.map(QPointF(*finding.where))))


def _pen(colour: QColor, width: float) -> QPen:
    return QPen(colour, width, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin)

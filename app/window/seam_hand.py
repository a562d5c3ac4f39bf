"""Changing the seams of one part on the drawing: dragged, turned by an end, added, removed, judged as they move."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent, QMouseEvent, QPainter, QPainterPath, QPen, QPolygonF, QTransform
from PySide6.QtWidgets import QGraphicsScene, QStyleOptionGraphicsItem, QWidget

from app.job.document import Seam
from app.window.hand import Hand, take_off_board
from app.window.picture import Item
from app.window.theme import Theme

if TYPE_CHECKING:
    from app.fabrication.seam_desk import SeamCheck, SeamDesk

TURN_STEP: Final = 15.0
"""Degrees; a seam turned by an end snaps to these, unless Ctrl is held."""
END_PX: Final = 11.0
"""An end is taken hold of this near to it."""


class SeamHand(Hand):
    """Takes hold of seams. Keys: full stop and comma choose one, arrows move it, Delete removes it, Insert adds one.

    Signals
    -------
    judged : SeamCheck
        What the seams are worth now; on every move.
    changed : tuple of Seam, str
        The seams as they were let go of, and the key of the gesture.
    ended : no more of it
    """

    judged = Signal(object)
    changed = Signal(object, str)
    ended = Signal()

    def __init__(self, theme: Theme, desk: SeamDesk, frame: QTransform, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme, self._frame = theme, frame
        self._back = frame.inverted()[0]
        self._item: _SeamsItem | None = None
        self._held: tuple[int, str] | None = None
        self._from: tuple[tuple[float, float], tuple[Seam, ...]] | None = None
        self._is_adding = False
        self._gesture = 0
        self._cursor = Qt.CursorShape.ArrowCursor
        self.chosen = 0
        self.take_desk(desk)

    def take_desk(self, desk: SeamDesk) -> None:
        """Go on with a part that was made anew."""
        self.desk = desk
        self.show_seams(desk.now)

    def show_seams(self, seams: Sequence[Seam]) -> None:
        """Show other seams, as after an undo."""
        self.seams = tuple(seams)
        self.chosen = min(self.chosen, max(len(self.seams) - 1, 0))
        self._judge()

    def begin_adding(self) -> None:
        """Let the next click add a seam: upright, or level with Shift."""
        self._is_adding = True

    def remove(self) -> None:
        """Take the seam away that is chosen."""
        if self.seams:
            self._let_go(tuple(one for index, one in enumerate(self.seams) if index != self.chosen))

    def attach(self, scene: QGraphicsScene) -> None:
        """Draw the seams over the parts."""
        self._item = _SeamsItem(self._theme, self._frame)
        scene.addItem(self._item)
        self._judge()

    def detach(self) -> None:
        """Take them off the board."""
        take_off_board(self._item)
        self._item = None

    def press(self, at: QPointF, slop: float, event: QMouseEvent) -> bool:
        """Take hold of a seam or of its end, or add one."""
        if event.button() != Qt.MouseButton.LeftButton:
            return False
        here = self._here(at)
        if self._is_adding:
            self._is_adding = False
            level = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
            self._add(here, 0.0 if level else 90.0)
            return True
        found = self._at(here, slop)
        if found is None:
            return False
        self._held, self.chosen = found, found[0]
        self._from = (here, self.seams)
        self._gesture += 1
        self._judge()
        return True

    def move(self, at: QPointF, slop: float, event: QMouseEvent) -> bool:
        """Drag what is held, or show what could be."""
        here = self._here(at)
        if self._held is None or self._from is None:
            found = self._at(here, slop)
            self._cursor = _cursor_of(self.seams, found) if not self._is_adding else Qt.CursorShape.CrossCursor
            return found is not None or self._is_adding
        number, what = self._held
        start, seams = self._from
        if what == "line":
            self.seams = self.desk.moved(seams, number, _to_left(seams[number], start, here))
        else:
            free = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
            self.seams = self._turned(seams, number, what, here, free=free)
        self._judge()
        return True

    def release(self, at: QPointF, slop: float, event: QMouseEvent) -> bool:
        """Let go."""
        if self._held is None or self._from is None:
            return False
        before = self._from[1]
        self._held = self._from = None
        if self.seams != before:
            self._let_go(self.seams)
        return True

    def key(self, event: QKeyEvent) -> bool:
        """The same without a mouse."""
        step = self.desk.limits.step * (10.0 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1.0)
        keys = {Qt.Key.Key_Left: (-step, 0.0), Qt.Key.Key_Right: (step, 0.0), Qt.Key.Key_Up: (0.0, step)}
        keys[Qt.Key.Key_Down] = (0.0, -step)
        if event.key() in keys and self.seams:
            dx, dy = keys[Qt.Key(event.key())]
            by = _to_left(self.seams[self.chosen], (0.0, 0.0), (dx, dy))
            if by:
                self._let_go(self.desk.moved(self.seams, self.chosen, by), f"keys {self.chosen}")
        elif event.key() in (Qt.Key.Key_Period, Qt.Key.Key_Comma) and self.seams:
            self.chosen = (self.chosen + (1 if event.key() == Qt.Key.Key_Period else -1)) % len(self.seams)
            self._judge()
        elif event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self.remove()
        elif event.key() == Qt.Key.Key_Insert:
            self.add_in_middle()
        elif event.key() == Qt.Key.Key_Escape:
            if self._is_adding:
                self._is_adding = False
            else:
                self.ended.emit()
        else:
            return False
        return True

    def add_in_middle(self) -> None:
        """Add an upright seam through the middle of the largest piece."""
        pieces = self.check.pieces
        if pieces:
            largest = max(pieces, key=lambda one: one.width * one.height)
            outer = largest.outline.outer
            xs, ys = outer[:, 0], outer[:, 1]
            self._add((float(xs.min() + xs.max()) / 2, float(ys.min() + ys.max()) / 2), 90.0)

    def cursor(self) -> Qt.CursorShape:
        """Arrows across a seam that can be moved."""
        return Qt.CursorShape.CrossCursor if self._is_adding else self._cursor

    def _add(self, at: tuple[float, float], angle: float) -> None:
        seam = self.desk.through(at, angle, self.seams)
        if seam is not None:
            self.chosen = len(self.seams)
            self._gesture += 1
            self._let_go((*self.seams, seam))

    def _turned(
        self, seams: tuple[Seam, ...], number: int, end: str, here: tuple[float, float], *, free: bool
    ) -> tuple[Seam, ...]:
        fixed = seams[number].end if end == "start" else seams[number].start
        angle = math.degrees(math.atan2(here[1] - fixed[1], here[0] - fixed[0]))
        if not free:
            angle = round(angle / TURN_STEP) * TURN_STEP
        rest = (*seams[:number], *seams[number + 1 :])
        reach = math.dist(seams[number].start, seams[number].end) / 2
        way = math.radians(angle)
        through = (fixed[0] + reach * math.cos(way), fixed[1] + reach * math.sin(way))
        found = self.desk.through(through, angle, rest)
        return seams if found is None else (*seams[:number], found, *seams[number + 1 :])

    def _let_go(self, seams: tuple[Seam, ...], merge: str = "") -> None:
        self.seams = seams
        self.chosen = min(self.chosen, max(len(seams) - 1, 0))
        self._judge()
        self.changed.emit(seams, merge or f"seam drag {id(self)} {self._gesture}")

    def _judge(self) -> None:
        self.check: SeamCheck = self.desk.check(self.seams)
        if self._item is not None:
            self._item.show_check(self.check, self.chosen, self.desk.beside)
        self.judged.emit(self.check)

    def _here(self, at: QPointF) -> tuple[float, float]:
        here = self._back.map(at)
        return here.x(), here.y()

    def _at(self, here: tuple[float, float], slop: float) -> tuple[int, str] | None:
        """The seam under the cursor, and whether it is held by an end or as a line."""
        for number, seam in enumerate(self.seams):
            for name, end in (("start", seam.start), ("end", seam.end)):
                if math.dist(here, end) <= slop * END_PX / 9.0:
                    return number, name
        near = [(_away(here, seam), number) for number, seam in enumerate(self.seams)]
        best = min(near, default=(math.inf, -1))
        return (best[1], "line") if best[0] <= slop else None


class _SeamsItem(Item):
    """The pieces, the seams with their ends, and faintly the seams of other layers."""

    def __init__(self, theme: Theme, frame: QTransform) -> None:
        super().__init__(theme)
        self._check: SeamCheck | None = None
        self._beside: tuple[Seam, ...] = ()
        self._chosen = 0
        self._box = QRectF()
        self.setTransform(frame)
        self.setZValue(6.0)

    def show_check(self, check: SeamCheck, chosen: int, beside: tuple[Seam, ...]) -> None:
        """Show these."""
        self.prepareGeometryChange()
        self._check, self._chosen, self._beside = check, chosen, beside
        self._paths = [(_path(piece.outline), piece) for piece in check.pieces]
        self._box = QRectF()
        for path, _piece in self._paths:
            self._box = self._box.united(path.boundingRect())
        for one in (*[verdict.seam for verdict in check.seams], *beside):
            self._box = self._box.united(QRectF(QPointF(*one.start), QPointF(*one.end)).normalized())
        self.update()

    def boundingRect(self) -> QRectF:
        """All of it, with room for the ends."""
        slack = 0.05 * max(self._box.width(), self._box.height(), 1.0)
        return self._box.adjusted(-slack, -slack, slack, slack)

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        """Pieces no sheet holds are hatched; sound seams and others differ in colour and in line."""
        if self._check is None:
            return
        colours = self._theme.colours
        board = painter.worldTransform()
        for path, piece in self._paths:
            pen = QPen(QColor(colours.ink), 1.2)
            pen.setCosmetic(True)
            painter.setPen(pen)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            if not piece.fits:
                brush = QColor(colours.error)
                painter.save()
                fill = painter.brush()
                fill.setStyle(Qt.BrushStyle.BDiagPattern)
                fill.setColor(brush)
                fill.setTransform(board.inverted()[0])
                painter.setBrush(fill)
                painter.drawPath(path)
                painter.restore()
            else:
                painter.drawPath(path)
        faint = QPen(QColor(colours.muted), 1.2, Qt.PenStyle.DotLine)
        faint.setCosmetic(True)
        painter.setPen(faint)
        for seam in self._beside:
            painter.drawLine(QPointF(*seam.start), QPointF(*seam.end))
        painter.save()
        painter.resetTransform()
        for number, verdict in enumerate(self._check.seams):
            start, end = board.map(QPointF(*verdict.seam.start)), board.map(QPointF(*verdict.seam.end))
            colour = QColor(colours.good if verdict.is_sound else colours.error)
            style = Qt.PenStyle.SolidLine if verdict.is_sound else Qt.PenStyle.DashLine
            width = 3.4 if number == self._chosen else 2.2
            painter.setPen(QPen(QColor(colours.panel), width + 3.0))
            painter.drawLine(start, end)
            painter.setPen(QPen(colour, width, style))
            painter.drawLine(start, end)
            painter.setPen(QPen(QColor(colours.panel), 1.5))
            painter.setBrush(colour)
            reach = 6.0 if number == self._chosen else 4.0
            for spot in (start, end):
                painter.drawEllipse(spot, reach, reach)
        painter.restore()


def _path(outline: object) -> QPainterPath:
    path = QPainterPath()
    path.setFillRule(Qt.FillRule.OddEvenFill)
    for ring in (outline.outer, *outline.holes):
        path.addPolygon(QPolygonF([QPointF(x, y) for x, y in ring.tolist()]))
        path.closeSubpath()
    return path


def _to_left(seam: Seam, start: tuple[float, float], end: tuple[float, float]) -> float:
    """How far a movement goes to the left of a seam, seen from its start."""
    dx, dy = seam.end[0] - seam.start[0], seam.end[1] - seam.start[1]
    length = math.hypot(dx, dy)
    return ((end[1] - start[1]) * dx - (end[0] - start[0]) * dy) / length if length else 0.0


def _away(here: tuple[float, float], seam: Seam) -> float:
    """Distance of a point from a seam."""
    dx, dy = seam.end[0] - seam.start[0], seam.end[1] - seam.start[1]
    along = ((here[0] - seam.start[0]) * dx + (here[1] - seam.start[1]) * dy) / max(dx * dx + dy * dy, 1e-12)
    along = min(max(along, 0.0), 1.0)
    return math.hypot(here[0] - seam.start[0] - along * dx, here[1] - seam.start[1] - along * dy)


def _cursor_of(seams: Sequence[Seam], found: tuple[int, str] | None) -> Qt.CursorShape:
    if found is None:
        return Qt.CursorShape.ArrowCursor
    if found[1] != "line":
        return Qt.CursorShape.PointingHandCursor
    seam = seams[found[0]]
    is_upright = abs(seam.end[1] - seam.start[1]) > abs(seam.end[0] - seam.start[0])
    return Qt.CursorShape.SizeHorCursor if is_upright else Qt.CursorShape.SizeVerCursor

"""The drawing board: shows a scene in mm with y up; wheel zooms about the cursor, dragging pans, a click selects."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from PySide6.QtCore import QPoint, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFocusEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPen,
    QResizeEvent,
    QTransform,
    QWheelEvent,
)
from PySide6.QtWidgets import QFrame, QGraphicsScene, QGraphicsView, QWidget

from app.job.document import DisplayUnits
from app.window.hand import Hand
from app.window.picture import FIT_MARGIN_PX, Picture, Thing
from app.window.theme import Theme
from geometry.units import MM_PER

ZOOM_STEP: Final = 1.2
MOST_PX_PER_MM: Final = 400.0
CLICK_SLOP_PX: Final = 4
HAND_SLOP_PX: Final = 9.0
"""What a hand takes hold of is this near to the cursor."""
GRID_LEAST_PX: Final = 56


def round_step(least_mm: float, units: DisplayUnits) -> float:
    """The smallest handy length (mm) that is at least `least_mm`: 1, 2, 5 in mm; fractions, inches or feet in inches.

    Examples
    --------
    >>> round_step(30.0, DisplayUnits.MILLIMETRES)
    50.0
    >>> round_step(30.0, DisplayUnits.INCHES) / 25.4
    2.0
    """
    if units is DisplayUnits.MILLIMETRES:
        power = 10.0 ** math.floor(math.log10(least_mm))
        return next(power * factor for factor in (1.0, 2.0, 5.0, 10.0, 20.0) if power * factor >= least_mm * (1 - 1e-9))
    inch = MM_PER["in"]
    steps = [inch / 64 * 2**power for power in range(6)] + [inch * count for count in (1, 2, 3, 6, 12, 24, 36, 60, 120)]
    for step in steps:
        if step >= least_mm * (1 - 1e-9):
            return step
    return 120 * inch * math.ceil(least_mm / (120 * inch))


class DrawingView(QGraphicsView):
    """A board for one picture at a time.

    Signals
    -------
    pointer_moved : QPointF or None
        Cursor in the picture's mm, y up.
    zoomed : the scale changed
    resized : the board has another size
    hovered : Thing or None
    selected : Thing or None
        The one selected last; `selections` has them all.
    """

    pointer_moved = Signal(object)
    zoomed = Signal()
    resized = Signal()
    hovered = Signal(object)
    selected = Signal(object)

    def __init__(self, theme: Theme, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._picture: Picture | None = None
        self._hover: Thing | None = None
        self._selections: list[Thing] = []
        self._hand: Hand | None = None
        self._pressed_at: QPoint | None = None
        self._is_panning = False
        self._is_fitted = True
        self._is_turned = False
        self._shows_focus = False
        self.units = DisplayUnits.INCHES
        self.setScene(QGraphicsScene(self))
        self.setAccessibleName(name)
        self.setAccessibleDescription(
            "Drawing. Arrow keys pan, plus and minus zoom, F fits, comma and full stop select."
        )
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setRenderHint(QPainter.RenderHint.Antialiasing)
        self.setMouseTracking(True)
        self.setAcceptDrops(False)  # files are for the window
        self.viewport().setAcceptDrops(False)
        self.viewport().setMouseTracking(True)
        self.setTransformationAnchor(QGraphicsView.ViewportAnchor.NoAnchor)
        self.setResizeAnchor(QGraphicsView.ViewportAnchor.NoAnchor)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setViewportUpdateMode(QGraphicsView.ViewportUpdateMode.FullViewportUpdate)
        self.setOptimizationFlag(QGraphicsView.OptimizationFlag.DontAdjustForAntialiasing)
        self.viewport().setCursor(Qt.CursorShape.ArrowCursor)
        theme.changed.connect(self._repaint)
        self.zoomed.connect(self._settle_words)

    @property
    def picture(self) -> Picture | None:
        """What is on the board."""
        return self._picture

    @property
    def scale_px(self) -> float:
        """Pixels per mm."""
        return math.hypot(self.transform().m11(), self.transform().m12())

    @property
    def is_turned(self) -> bool:
        """Whether the picture lies on its side: its y to the right, its x down."""
        return self._is_turned

    @property
    def is_fitted(self) -> bool:
        """Whether the whole picture is shown, as it stays when the window changes."""
        return self._is_fitted

    @property
    def selection(self) -> Thing | None:
        """What was selected last."""
        return self._selections[-1] if self._selections else None

    @property
    def selections(self) -> tuple[Thing, ...]:
        """All that is selected, in the order it was."""
        return tuple(self._selections)

    @property
    def hand(self) -> Hand | None:
        """What takes the mouse first."""
        return self._hand

    def take_up(self, hand: Hand | None) -> None:
        """Give the mouse to a hand, or back."""
        if hand is self._hand:
            return
        if self._hand is not None:
            self._hand.detach()
        self._hand = hand
        if hand is not None:
            hand.attach(self.scene())
        self._show_cursor()

    def show_picture(self, picture: Picture | None, *, keep_view: bool = False) -> None:
        """Put another picture on the board; the selection stays when a thing with its key is still there.

        `keep_view` leaves zoom and place as they are, for a picture that is the same one redrawn.
        """
        keys = [thing.key for thing in self._selections]
        self._hover, self._selections = None, []
        self._picture = picture
        old = self.scene()
        scene = QGraphicsScene(self)
        scene.setItemIndexMethod(QGraphicsScene.ItemIndexMethod.NoIndex)  # pictures are rebuilt, never searched
        if picture is not None:
            for item in picture.items:
                scene.addItem(item)
        self.setScene(scene)
        old.deleteLater()
        if picture is not None:
            bounds = picture.bounds
            reach = max(bounds.width(), bounds.height(), 1.0) * 1.5
            scene.setSceneRect(bounds.adjusted(-reach, -reach, reach, reach))
            if not keep_view or self._is_fitted:
                self.fit()
            self._settle_words()
            self._set_selections([thing for key in keys if (thing := picture.thing(key)) is not None])
        if self._hand is not None:
            self._hand.attach(scene)
        if keys and not self._selections:
            self.selected.emit(None)

    def turn(self, is_turned: bool) -> None:
        """Lay the picture on its side, or stand it up again; coordinates stay the picture's own."""
        if is_turned != self._is_turned:
            self._is_turned = is_turned
            self.fit()

    def fit(self) -> None:
        """Show the whole picture."""
        if self._picture is not None:
            self._show_area(self._picture.bounds)
            self._is_fitted = True

    def show_place(self, area: QRectF, *, around: float = 0.6) -> None:
        """Bring an area (mm) to the middle, with some of what surrounds it, told as a share of its longer side."""
        if self._picture is None:
            return
        grow = max(area.width(), area.height()) * around + max(self._picture.bounds.width() * 0.02, 5.0)
        self._show_area(area.adjusted(-grow, -grow, grow, grow))
        self._is_fitted = False

    def mark(self, place: QPointF | None) -> None:
        """Ring a place, or none."""
        if self._picture is not None:
            self._picture.mark_place(self.scene(), place)

    def zoom(self, factor: float, about: QPointF | None = None) -> None:
        """Zoom about a point of the viewport (px), its centre when none is given."""
        if self._picture is None:
            return
        about = about if about is not None else QPointF(self.viewport().rect().center())
        size = max(self._picture.bounds.width(), self._picture.bounds.height(), 1.0)
        least = 0.1 * min(self.viewport().width(), self.viewport().height()) / size
        wanted = min(max(self.scale_px * factor, least), MOST_PX_PER_MM)
        fixed = self._to_scene(about)
        self.setTransform(self._board(wanted))
        self._pan_by(self._from_scene(fixed) - about)
        self._is_fitted = False
        self.zoomed.emit()

    def select(self, thing: Thing | None) -> None:
        """Select a thing, or none, and tell."""
        self.select_all([thing] if thing is not None else [])

    def select_all(self, things: Sequence[Thing]) -> None:
        """Select these and no others, and tell."""
        if list(things) != self._selections:
            self._set_selections(list(things))
            self.selected.emit(self.selection)

    def add_or_remove(self, thing: Thing | None) -> None:
        """Select a thing along with the others, or no longer."""
        if thing is not None:
            others = [one for one in self._selections if one is not thing]
            self.select_all(others if thing in self._selections else [*others, thing])

    def select_next(self, step: int) -> None:
        """Select the next thing (or the one before, for -1) in the picture's order."""
        if self._picture is None or not self._picture.things:
            return
        things = self._picture.things
        at = things.index(self.selection) + step if self.selection in things else (0 if step > 0 else -1)
        thing = things[at % len(things)]
        self.select(thing)
        area = thing.area()
        seen = self.viewportTransform().inverted()[0].mapRect(QRectF(self.viewport().rect()))
        if not seen.contains(area):
            self.show_place(area)

    # Qt's own calls

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Zoom about the cursor."""
        turns = event.angleDelta().y() / 120.0
        if turns:
            self.zoom(ZOOM_STEP**turns, event.position())
        event.accept()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Begin a click or a pan."""
        if self._hand is not None and self._hand.press(*self._told(event)):
            self._show_cursor()
        elif event.button() in (Qt.MouseButton.LeftButton, Qt.MouseButton.MiddleButton):
            self._pressed_at = event.position().toPoint()
        event.accept()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Pan, or tell what is under the cursor."""
        at = event.position().toPoint()
        if self._pressed_at is None and self._hand is not None and self._hand.move(*self._told(event)):
            self._set_hover(None)
            self._show_cursor()
        elif self._pressed_at is not None:
            moved = at - self._pressed_at
            if self._is_panning or moved.manhattanLength() > CLICK_SLOP_PX:
                self._is_panning = True
                self._is_fitted = False
                self.viewport().setCursor(Qt.CursorShape.ClosedHandCursor)
                self._pan_by(QPointF(-moved))
                self._pressed_at = at
        elif self._picture is not None:
            self._show_cursor()
            self._set_hover(self._picture.at(self._to_scene(event.position()), 3.0 / self.scale_px))
        self.pointer_moved.emit(self._to_scene(event.position()))
        event.accept()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """End a pan, or take it as a click."""
        if self._pressed_at is None and self._hand is not None and self._hand.release(*self._told(event)):
            self._show_cursor()
            event.accept()
            return
        was_click = self._pressed_at is not None and not self._is_panning
        self._pressed_at, self._is_panning = None, False
        self._show_cursor()
        if was_click and event.button() == Qt.MouseButton.LeftButton and self._picture is not None:
            thing = self._picture.at(self._to_scene(event.position()), 3.0 / self.scale_px)
            if event.modifiers() & (Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier):
                self.add_or_remove(thing)
            else:
                self.select(thing)
        event.accept()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Bring the thing under the cursor close, or fit the whole."""
        thing = self._picture.at(self._to_scene(event.position()), 3.0 / self.scale_px) if self._picture else None
        if thing is not None:
            self.show_place(thing.area())
        else:
            self.fit()
        event.accept()

    def leaveEvent(self, event: object) -> None:
        """The cursor has gone."""
        self._set_hover(None)
        self.pointer_moved.emit(None)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Pan with the arrows, select with comma and full stop."""
        if self._hand is not None and self._hand.key(event):
            self._show_cursor()
            event.accept()
            return
        step = 60.0
        moves = {
            Qt.Key.Key_Left: QPointF(-step, 0),
            Qt.Key.Key_Right: QPointF(step, 0),
            Qt.Key.Key_Up: QPointF(0, -step),
            Qt.Key.Key_Down: QPointF(0, step),
        }
        if event.key() in moves:
            self._is_fitted = False
            self._pan_by(moves[Qt.Key(event.key())])
        elif event.key() in (Qt.Key.Key_Comma, Qt.Key.Key_Period):
            self.select_next(1 if event.key() == Qt.Key.Key_Period else -1)
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep a fitted picture fitted."""
        super().resizeEvent(event)
        if self._is_fitted:
            self.fit()
        self.resized.emit()

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Show the focus when it came by a key; who clicks sees where they are."""
        reasons = Qt.FocusReason
        keys = (reasons.TabFocusReason, reasons.BacktabFocusReason, reasons.ShortcutFocusReason)
        self._shows_focus = event.reason() in keys
        super().focusInEvent(event)
        self.viewport().update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """It has gone elsewhere."""
        self._shows_focus = False
        super().focusOutEvent(event)
        self.viewport().update()

    def drawForeground(self, painter: QPainter, rect: QRectF) -> None:
        """A frame inside the edge, for the focus."""
        if not self._shows_focus:
            return
        painter.save()
        painter.resetTransform()
        painter.setPen(QPen(QColor(self._theme.colours.accent), 2))
        painter.drawRect(QRectF(self.viewport().rect()).adjusted(2, 2, -2, -2))
        painter.restore()

    def drawBackground(self, painter: QPainter, rect: QRectF) -> None:
        """Bench and grid; the grid's step is a round length in the job's units."""
        colours = self._theme.colours
        painter.fillRect(rect, QColor(colours.bench))
        if self._picture is None:
            return
        step = round_step(GRID_LEAST_PX / self.scale_px, self.units)
        pen = QPen(QColor(colours.grid), 1)
        pen.setCosmetic(True)
        painter.setPen(pen)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        x = math.floor(rect.left() / step) * step
        while x < rect.right():
            painter.drawLine(QPointF(x, rect.top()), QPointF(x, rect.bottom()))
            x += step
        y = math.floor(rect.top() / step) * step
        while y < rect.bottom():
            painter.drawLine(QPointF(rect.left(), y), QPointF(rect.right(), y))
            y += step
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)

    # What they lean on

    def _to_scene(self, point: QPointF) -> QPointF:
        inverse, _ok = self.viewportTransform().inverted()
        return inverse.map(point)

    def _from_scene(self, point: QPointF) -> QPointF:
        return self.viewportTransform().map(point)

    def _show_area(self, area: QRectF) -> None:
        room_x = max(self.viewport().width() - 2 * FIT_MARGIN_PX, 20)
        room_y = max(self.viewport().height() - 2 * FIT_MARGIN_PX, 20)
        across, up = (area.height(), area.width()) if self._is_turned else (area.width(), area.height())
        wanted = min(room_x / max(across, 1e-3), room_y / max(up, 1e-3), MOST_PX_PER_MM)
        self.setTransform(self._board(wanted))
        self.centerOn(area.center())
        self.zoomed.emit()

    def _board(self, scale: float) -> QTransform:
        if self._is_turned:
            return QTransform(0.0, scale, scale, 0.0, 0.0, 0.0)
        return QTransform.fromScale(scale, -scale)

    def _pan_by(self, pixels: QPointF) -> None:
        across, down = self.horizontalScrollBar(), self.verticalScrollBar()
        across.setValue(across.value() + round(pixels.x()))
        down.setValue(down.value() + round(pixels.y()))

    def _set_hover(self, thing: Thing | None) -> None:
        if thing is self._hover:
            return
        if self._hover is not None:
            self._hover.set_hovered(False)
        self._hover = thing
        if thing is not None:
            thing.set_hovered(True)
        self.viewport().setToolTip(thing.tip if thing is not None else "")
        self.hovered.emit(thing)

    def _set_selections(self, things: list[Thing]) -> None:
        for thing in self._selections:
            thing.set_selected(False)
        self._selections = things
        for thing in things:
            thing.set_selected(True)

    def _told(self, event: QMouseEvent) -> tuple[QPointF, float, QMouseEvent]:
        """An event as a hand is told of it."""
        return self._to_scene(event.position()), HAND_SLOP_PX / self.scale_px, event

    def _show_cursor(self) -> None:
        if not self._is_panning:
            shape = self._hand.cursor() if self._hand is not None else Qt.CursorShape.ArrowCursor
            self.viewport().setCursor(shape)

    def _settle_words(self) -> None:
        if self._picture is not None:
            self._picture.settle_words(self.transform())

    def _repaint(self) -> None:
        self.viewport().update()

"""What can be put on the drawing board: a picture is a list of items, some of which can be pointed at."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetricsF, QPainter, QPainterPath, QPen, QTransform
from PySide6.QtWidgets import QGraphicsItem, QGraphicsScene, QStyleOptionGraphicsItem, QWidget

from app.window.theme import Colours, Theme

LABEL_LEAST_PX: Final = 26
"""A thing smaller than this on screen carries no label."""

Fact = tuple[str, str]
"""What is known and its value, both in words."""


@dataclass(frozen=True, slots=True)
class Look:
    """How a thing is painted; colours are asked for at paint time so that a change of theme needs no new picture."""

    fill: Callable[[Colours], QColor]
    edge: Callable[[Colours], QColor]
    edge_px: float = 1.2


class Item(QGraphicsItem):
    """Base: knows the theme, takes no mouse events (the view asks the picture what is where)."""

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)


class Thing(Item):
    """A shape that can be pointed at and selected.

    Fields
    ------
    key : str
        The same for the same thing in a redrawn picture.
    tip : str
        What the tool tip says.
    facts : tuple of (what, value)
    """

    def __init__(
        self,
        theme: Theme,
        key: str,
        path: QPainterPath,
        look: Look,
        *,
        tip: str = "",
        facts: tuple[Fact, ...] = (),
        label: str = "",
        label_at: Callable[[], QPointF] | None = None,
        extra: QPainterPath | None = None,
    ) -> None:
        super().__init__(theme)
        self.key, self.tip, self.facts = key, tip, facts
        self._path, self._look = path, look
        self._label, self._label_at = label, label_at
        self._extra = extra
        self._bounds = path.boundingRect()
        self._is_hovered = self._is_selected = False

    def area(self) -> QRectF:
        """Bounds in the picture, mm."""
        return self.mapRectToScene(self._bounds)

    def holds(self, point: QPointF, slop: float) -> bool:
        """Whether a point of the picture is in the material, or within `slop` mm of it."""
        here = self.mapFromScene(point)
        if not self._bounds.adjusted(-slop, -slop, slop, slop).contains(here):
            return False
        around = QRectF(here.x() - slop, here.y() - slop, 2 * slop, 2 * slop)
        return self._path.contains(here) or (slop > 0 and self._path.intersects(around))

    def set_hovered(self, is_hovered: bool) -> None:
        """Show that the cursor is on it."""
        self._is_hovered = is_hovered
        self.update()

    def set_selected(self, is_selected: bool) -> None:
        """Show that it is selected."""
        self._is_selected = is_selected
        self.setZValue(1.0 if is_selected else 0.0)
        self.update()

    def boundingRect(self) -> QRectF:
        """Bounds with room for the edge."""
        return self._bounds.adjusted(-2, -2, 2, 2)

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        """Fill, edge, drilled holes and marks, and a label when there is room for one."""
        colours = self._theme.colours
        fill = self._look.fill(colours)
        if self._is_hovered:
            fill = fill.lighter(112) if fill.lightnessF() < 0.85 else fill.darker(106)
        pen = QPen(self._look.edge(colours), self._look.edge_px)
        if self._is_selected:
            pen = QPen(QColor(colours.accent), 3.5)
        pen.setCosmetic(True)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        painter.setPen(pen)
        painter.setBrush(fill)
        painter.drawPath(self._path)
        scale = painter.worldTransform().m11() ** 2 + painter.worldTransform().m12() ** 2
        size_px = min(self._bounds.width(), self._bounds.height()) * scale**0.5
        if self._extra is not None and size_px > 12:
            thin = QPen(self._look.edge(colours), 1.0)
            thin.setCosmetic(True)
            painter.setPen(thin)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawPath(self._extra)
        if self._label and size_px > LABEL_LEAST_PX:
            self._paint_label(painter, fill)

    def _paint_label(self, painter: QPainter, fill: QColor) -> None:
        font = QFont(painter.font())
        font.setPixelSize(11)
        width = QFontMetricsF(font).horizontalAdvance(self._label)
        across = painter.worldTransform().mapRect(self._bounds).width()
        if width > across * 0.95:
            return
        at = painter.worldTransform().map(self._label_at() if self._label_at is not None else self._bounds.center())
        box = QRectF(at.x() - width / 2 - 4, at.y() - 8, width + 8, 16)
        painter.save()
        painter.resetTransform()
        painter.setFont(font)
        painter.setPen(Qt.PenStyle.NoPen)
        plate = QColor(fill)
        plate.setAlpha(205)
        painter.setBrush(plate)
        painter.drawRoundedRect(box, 3, 3)
        painter.setPen(QColor("#101416") if fill.lightnessF() > 0.38 else QColor("#F4F6F6"))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, self._label)
        painter.restore()


class Backdrop(Item):
    """A shape that only stands there: a sheet's edge, its margin, an offcut. Painted below the things."""

    def __init__(
        self,
        theme: Theme,
        path: QPainterPath,
        *,
        fill: Callable[[Colours], QBrush] | None = None,
        edge: Callable[[Colours], QPen] | None = None,
        z: float = -1.0,
    ) -> None:
        super().__init__(theme)
        self._path, self._fill, self._edge = path, fill, edge
        self.setZValue(z)

    def boundingRect(self) -> QRectF:
        """Bounds with room for the edge."""
        return self._path.boundingRect().adjusted(-2, -2, 2, 2)

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        """Fill and edge."""
        colours = self._theme.colours
        if self._fill is not None:
            brush = self._fill(colours)
            # A pattern is meant in pixels: undo the view's scale, or hatching would be as coarse as the zoom.
            brush.setTransform(painter.worldTransform().inverted()[0])
            painter.setBrush(brush)
        else:
            painter.setBrush(Qt.BrushStyle.NoBrush)
        if self._edge is not None:
            pen = self._edge(colours)
            pen.setCosmetic(True)
            painter.setPen(pen)
        else:
            painter.setPen(Qt.PenStyle.NoPen)
        painter.drawPath(self._path)


class Words(Item):
    """Text of a fixed size on screen, standing at a place of the picture; left out when there is no room for it."""

    def __init__(
        self,
        theme: Theme,
        text: str,
        at: QPointF,
        *,
        align: Qt.AlignmentFlag = Qt.AlignmentFlag.AlignHCenter,
        px: int = 12,
        bold: bool = False,
        room: float | None = None,
        is_muted: bool = True,
        turned: bool = False,
    ) -> None:
        super().__init__(theme)
        self._text, self._align, self._room, self._is_muted, self._turned = text, align, room, is_muted, turned
        self._font_px, self._bold = px, bold
        self.setFlag(QGraphicsItem.GraphicsItemFlag.ItemIgnoresTransformations)
        self.setPos(at)
        metrics = QFontMetricsF(self._font())
        self._width, self._height = metrics.horizontalAdvance(text), metrics.height()
        self.setZValue(3.0)

    def boundingRect(self) -> QRectF:
        """Bounds in pixels about the anchor, whichever way the words run."""
        reach = self._width + self._height
        return QRectF(-reach, -reach, 2 * reach, 2 * reach)

    def _box(self) -> QRectF:
        left = 0.0 if self._align == Qt.AlignmentFlag.AlignLeft else -self._width / 2
        return QRectF(left - 3, -self._height / 2 - 1, self._width + 6, self._height + 2)

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        """The text, level or upright as the view lies."""
        colours = self._theme.colours
        scene = self.scene()
        is_upright = self._turned
        if scene is not None and scene.views():
            board = scene.views()[0].transform()
            if self._room is not None and self._width > self._room * math.hypot(board.m11(), board.m12()):
                return
            is_upright = self._turned != (board.m11() == 0.0)
        if is_upright:
            painter.rotate(-90)
        painter.setFont(self._font())
        painter.setPen(QColor(colours.muted if self._is_muted else colours.ink))
        painter.drawText(self._box(), Qt.AlignmentFlag.AlignCenter, self._text)

    def _font(self) -> QFont:
        font = QFont()
        font.setPixelSize(self._font_px)
        font.setBold(self._bold)
        return font


class Measure(Item):
    """A dimension line with its words, beside what it measures."""

    def __init__(self, theme: Theme, start: QPointF, end: QPointF) -> None:
        super().__init__(theme)
        self._start, self._end = start, end
        self.setZValue(2.0)

    def boundingRect(self) -> QRectF:
        """Bounds with room for the ends."""
        box = QRectF(self._start, self._end).normalized()
        slack = max(box.width(), box.height()) * 0.05 + 1.0
        return box.adjusted(-slack, -slack, slack, slack)

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        """The line with a short stroke across each end."""
        transform = painter.worldTransform()
        start, end = transform.map(self._start), transform.map(self._end)
        along = end - start
        length = (along.x() ** 2 + along.y() ** 2) ** 0.5
        if length < 1.0:
            return
        across = QPointF(-along.y() / length * 5, along.x() / length * 5)
        painter.save()
        painter.resetTransform()
        painter.setPen(QPen(QColor(self._theme.colours.muted), 1.2))
        painter.drawLine(start, end)
        painter.drawLine(start - across, start + across)
        painter.drawLine(end - across, end + across)
        painter.restore()


class _Ring(Item):
    """The ring round a place a finding speaks of; the same size at every zoom."""

    def __init__(self, theme: Theme, at: QPointF) -> None:
        super().__init__(theme)
        self.setFlag(QGraphicsItem.GraphicsItemFlag.ItemIgnoresTransformations)
        self.setPos(at)
        self.setZValue(9.0)

    def boundingRect(self) -> QRectF:
        return QRectF(-20, -20, 40, 40)

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        colours = self._theme.colours
        for width, colour in ((6.0, QColor(colours.panel)), (2.5, QColor(colours.error))):
            painter.setPen(QPen(colour, width))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawEllipse(QPointF(0, 0), 14, 14)
            painter.drawLine(QPointF(0, -18), QPointF(0, -10))
            painter.drawLine(QPointF(0, 18), QPointF(0, 10))
            painter.drawLine(QPointF(-18, 0), QPointF(-10, 0))
            painter.drawLine(QPointF(18, 0), QPointF(10, 0))


@dataclass(slots=True)
class Picture:
    """Items in mm, y up, and what of them can be pointed at (`things`, last on top).

    Fields
    ------
    items : list of Item
    things : list of Thing
    bounds : QRectF
        What "fit" shows.
    frames : dict
        Where the frame of a letter, part or artwork lies in the picture, by its id.
    """

    theme: Theme
    items: list[Item] = field(default_factory=list)
    things: list[Thing] = field(default_factory=list)
    bounds: QRectF = field(default_factory=QRectF)
    frames: dict[str, QTransform] = field(default_factory=dict)
    _ring: _Ring | None = None

    def add(self, item: Item) -> None:
        """Put an item on the picture."""
        self.items.append(item)
        if isinstance(item, Thing):
            self.things.append(item)

    def thing(self, key: str) -> Thing | None:
        """The thing with this key."""
        return next((thing for thing in self.things if thing.key == key), None)

    def at(self, point: QPointF, slop: float) -> Thing | None:
        """The thing at a point: exactly there, else within `slop` mm."""
        for reach in (0.0, slop):
            for thing in reversed(self.things):
                if thing.holds(point, reach):
                    return thing
        return None

    def mark_place(self, scene: QGraphicsScene, place: QPointF | None) -> None:
        """Ring a place, or take the ring away."""
        if self._ring is not None:
            scene.removeItem(self._ring)
            self._ring = None
        if place is not None:
            self._ring = _Ring(self.theme, place)
            scene.addItem(self._ring)

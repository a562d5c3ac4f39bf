"""What can be put on the drawing board: a picture is a list of items, some of which can be pointed at."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetricsF, QPainter, QPainterPath, QPen, QTransform
from PySide6.QtWidgets import QGraphicsItem, QGraphicsScene, QStyleOptionGraphicsItem, QWidget

from app.window.paths import Spot
from app.window.theme import Colours, Theme

FIT_MARGIN_PX: Final = 28
"""Kept free round a picture that is shown whole."""
LABEL_PX: Final = 11
LABEL_LEAST_PX: Final = 22
"""A thing smaller than this on screen carries no label."""
FINE_BELOW_PX: Final = 40
"""A thing smaller than this on screen has no edge of its own, or edges are all one would see."""

Fact = tuple[str, str]
"""What is known and its value, both in words."""


@dataclass(frozen=True, slots=True)
class Look:
    """How a thing is painted; colours are asked for at paint time so that a change of theme needs no new picture."""

    fill: Callable[[Colours], QColor]
    edge: Callable[[Colours], QColor]
    edge_px: float = 1.0


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
    labels : tuple of str
        From long to short; the first that fits at the label's spot is shown.
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
        labels: tuple[str, ...] = (),
        label_spot: Callable[[], Spot] | None = None,
        extra: QPainterPath | None = None,
    ) -> None:
        super().__init__(theme)
        self.key, self.tip, self.facts = key, tip, facts
        self._path, self._look = path, look
        self._labels, self._label_spot = labels, label_spot
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
        board = painter.worldTransform()
        scale = math.hypot(board.m11(), board.m12())
        size_px = min(self._bounds.width(), self._bounds.height()) * scale
        is_fine = size_px < FINE_BELOW_PX
        pen = QPen(fill, 0.6) if is_fine else QPen(self._look.edge(colours), self._look.edge_px)
        if self._is_selected:
            pen = QPen(QColor(colours.ink), 3.0)
        pen.setCosmetic(True)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        painter.setPen(pen)
        painter.setBrush(fill)
        painter.drawPath(self._path)
        if self._extra is not None and not is_fine:
            thin = QPen(self._look.edge(colours), 1.0)
            thin.setCosmetic(True)
            painter.setPen(thin)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawPath(self._extra)
        if self._labels and self._label_spot is not None and size_px > LABEL_LEAST_PX:
            self._paint_label(painter, fill, scale)

    def _paint_label(self, painter: QPainter, fill: QColor, scale: float) -> None:
        spot = self._label_spot()
        room_px = spot.radius * scale
        font = QFont(painter.font())
        font.setPixelSize(LABEL_PX)
        metrics = QFontMetricsF(font)
        fits = (text for text in self._labels if math.hypot(metrics.horizontalAdvance(text), LABEL_PX) / 2 < room_px)
        text = next(fits, "")
        if not text:
            return
        at = painter.worldTransform().map(spot.middle)
        width = metrics.horizontalAdvance(text) + 4
        painter.save()
        painter.resetTransform()
        painter.setFont(font)
        if self._extra is not None:  # or a drilled hole or a mark would run through the text
            painter.fillRect(QRectF(at.x() - width / 2, at.y() - 6, width, 12), fill)
        painter.setPen(QColor("#101416") if fill.lightnessF() > 0.3 else QColor("#F4F6F6"))
        painter.drawText(QRectF(at.x() - width / 2, at.y() - 8, width, 16), Qt.AlignmentFlag.AlignCenter, text)
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
    """Text of a fixed size on screen, standing at or beside a place of the picture.

    Fields
    ------
    align : from its left end or about its middle
    shift_px : right and down from the place
    rank : the lower, the longer it stays where words are in each other's way
    is_beside : never shown over a thing, as words that only describe it
    room : float or None
        Length (mm) the text has. Where that is too little the first `shorter` text that fits is shown, or the text
        with an end left off when it `may_shorten`, or nothing.
    is_muted, is_bad : colour of less weight, or of an error
    turned : read from below to above
    """

    def __init__(
        self,
        theme: Theme,
        text: str,
        at: QPointF,
        *,
        align: Qt.AlignmentFlag = Qt.AlignmentFlag.AlignHCenter,
        shift_px: tuple[float, float] = (0.0, 0.0),
        px: int = 12,
        bold: bool = False,
        room: float | None = None,
        shorter: tuple[str, ...] = (),
        rank: int = 1,
        is_beside: bool = False,
        may_shorten: bool = False,
        is_muted: bool = True,
        is_bad: bool = False,
        turned: bool = False,
    ) -> None:
        super().__init__(theme)
        self._text, self._align, self._shift, self._room = text, align, shift_px, room
        self._shorter, self._may_shorten, self._turned = shorter, may_shorten, turned
        self._is_muted, self._is_bad = is_muted, is_bad
        self.rank, self.is_beside = rank, is_beside
        self._font_px, self._bold = px, bold
        self.setFlag(QGraphicsItem.GraphicsItemFlag.ItemIgnoresTransformations)
        self.setPos(at)
        metrics = QFontMetricsF(self._font())
        self._width, self._height = metrics.horizontalAdvance(text), metrics.height()
        self.setZValue(3.0)

    def boundingRect(self) -> QRectF:
        """Bounds in pixels about the anchor, whichever way the words run."""
        reach = self._width + self._height + max(abs(self._shift[0]), abs(self._shift[1]))
        return QRectF(-reach, -reach, 2 * reach, 2 * reach)

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        """The text, level or upright as the view lies."""
        scene = self.scene()
        if scene is None or not scene.views():
            return
        board = scene.views()[0].transform()
        colours = self._theme.colours
        text = self.text_at(board)
        width = QFontMetricsF(self._font()).horizontalAdvance(text)
        is_upright = self._is_upright(board)
        painter.translate(*self._shift)
        if is_upright:
            painter.rotate(-90)
        painter.setFont(self._font())
        painter.setPen(QColor(colours.error if self._is_bad else colours.muted if self._is_muted else colours.ink))
        left = 0.0 if self._align == Qt.AlignmentFlag.AlignLeft else -width / 2
        box = QRectF(left - 1, -self._height / 2 - 1, width + 2, self._height + 2)
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)

    @property
    def text(self) -> str:
        """The whole text."""
        return self._text

    def text_at(self, board: QTransform) -> str:
        """What of the text is shown at this zoom; nothing where there is no room."""
        if self._room is None:
            return self._text
        room_px = self._room * math.hypot(board.m11(), board.m12())
        if self._width <= room_px:
            return self._text
        metrics = QFontMetricsF(self._font())
        if self._may_shorten and room_px >= 40:
            return metrics.elidedText(self._text, Qt.TextElideMode.ElideRight, room_px)
        return next((text for text in self._shorter if metrics.horizontalAdvance(text) <= room_px), "")

    def area_px(self, board: QTransform) -> QRectF:
        """Where the text stands at this zoom, in pixels of the board; empty when nothing is shown."""
        text = self.text_at(board)
        if not text:
            return QRectF()
        width = QFontMetricsF(self._font()).horizontalAdvance(text)
        left = 0.0 if self._align == Qt.AlignmentFlag.AlignLeft else -width / 2
        box = QRectF(left, -self._height / 2, width, self._height)
        if self._is_upright(board):
            box = QRectF(box.y(), -box.right(), box.height(), box.width())
        return box.translated(board.map(self.pos()) + QPointF(*self._shift))

    def _is_upright(self, board: QTransform) -> bool:
        return self._turned != (board.m11() == 0.0)

    def _font(self) -> QFont:
        font = QFont()
        font.setPixelSize(self._font_px)
        font.setBold(self._bold)
        return font


def heading(theme: Theme, text: str, at: QPointF, *, lift_px: int, room: float | None = None) -> Words:
    """Bold words that begin over a place; cut short where they have a length (mm) and that is too little."""
    return Words(
        theme,
        text,
        at,
        align=Qt.AlignmentFlag.AlignLeft,
        shift_px=(0, -lift_px),
        px=13,
        bold=True,
        is_muted=False,
        room=room,
        may_shorten=room is not None,
        rank=0,
        is_beside=True,
    )


class Measure(Item):
    """A dimension line some pixels off what it measures, with a short stroke across each end."""

    def __init__(self, theme: Theme, start: QPointF, end: QPointF, shift_px: tuple[float, float]) -> None:
        super().__init__(theme)
        self._start, self._end, self._shift = start, end, QPointF(*shift_px)
        self.setZValue(2.0)

    def boundingRect(self) -> QRectF:
        """Bounds with room for the ends at any zoom that shows them."""
        box = QRectF(self._start, self._end).normalized()
        slack = max(box.width(), box.height()) + 1.0
        return box.adjusted(-slack, -slack, slack, slack)

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        """The line and its ends."""
        transform = painter.worldTransform()
        start, end = transform.map(self._start) + self._shift, transform.map(self._end) + self._shift
        along = end - start
        length = math.hypot(along.x(), along.y())
        if length < 24.0:
            return
        across = QPointF(-along.y() / length * 5, along.x() / length * 5)
        painter.save()
        painter.resetTransform()
        painter.setPen(QPen(QColor(self._theme.colours.muted), 1.2))
        painter.drawLine(start, end)
        painter.drawLine(start - across, start + across)
        painter.drawLine(end - across, end + across)
        painter.restore()


class Origin(Item):
    """Where 0, 0 is and which way x and y go."""

    def __init__(self, theme: Theme, reach: float) -> None:
        super().__init__(theme)
        self._reach = reach
        self.setZValue(4.0)

    def boundingRect(self) -> QRectF:
        """Bounds with room for the arrows at any zoom that shows them."""
        return QRectF(-self._reach, -self._reach, 2 * self._reach, 2 * self._reach)

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        """Two arrows from just outside the corner."""
        transform = painter.worldTransform()
        zero = transform.map(QPointF(0, 0))
        ways = []
        for name, ahead in (("x", QPointF(1, 0)), ("y", QPointF(0, 1))):
            step = transform.map(ahead) - zero
            length = math.hypot(step.x(), step.y())
            ways.append((name, step / length))
        at = zero - (ways[0][1] + ways[1][1]) * 9
        font = QFont()
        font.setPixelSize(11)
        painter.save()
        painter.resetTransform()
        painter.setFont(font)
        painter.setPen(QPen(QColor(self._theme.colours.muted), 1.4))
        for name, way in ways:
            tip = at + way * 26
            side = QPointF(-way.y(), way.x())
            painter.drawLine(at, tip)
            painter.drawLine(tip, tip - way * 5 + side * 3)
            painter.drawLine(tip, tip - way * 5 - side * 3)
            spot = tip + way * 9
            painter.drawText(QRectF(spot.x() - 8, spot.y() - 8, 16, 16), Qt.AlignmentFlag.AlignCenter, name)
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
    marks : list of Thing
        Signs over the things, pointed at before them.
    """

    theme: Theme
    items: list[Item] = field(default_factory=list)
    things: list[Thing] = field(default_factory=list)
    bounds: QRectF = field(default_factory=QRectF)
    frames: dict[str, QTransform] = field(default_factory=dict)
    marks: list[Thing] = field(default_factory=list)
    _ring: _Ring | None = None

    def add(self, item: Item) -> None:
        """Put an item on the picture."""
        self.items.append(item)
        if isinstance(item, Thing):
            self.things.append(item)

    def add_mark(self, mark: Thing) -> None:
        """Put a sign over the things."""
        self.items.append(mark)
        self.marks.append(mark)

    def mark_of(self, finding: object) -> Thing | None:
        """The sign of a finding, where it has one."""
        return next((mark for mark in self.marks if mark.finding is finding), None)

    def thing(self, key: str) -> Thing | None:
        """The thing with this key."""
        return next((thing for thing in self.things if thing.key == key), None)

    def at(self, point: QPointF, slop: float) -> Thing | None:
        """The thing at a point: exactly there, else within `slop` mm. A sign comes first."""
        for mark in reversed(self.marks):
            if mark.holds(point, slop):
                return mark
        for reach in (0.0, slop):
            for thing in reversed(self.things):
                if thing.holds(point, reach):
                    return thing
        return None

    def settle_words(self, board: QTransform) -> None:
        """Show the words that have room at this zoom: of two in each other's way the one of lower rank."""
        words = sorted((item for item in self.items if isinstance(item, Words)), key=lambda one: one.rank)
        taken: list[QRectF] = []
        things = [board.mapRect(thing.area()) for thing in self.things] if any(one.is_beside for one in words) else []
        for one in words:
            area = one.area_px(board)
            is_free = not any(area.intersects(other) for other in taken)
            if is_free and one.is_beside:
                core = area.adjusted(1, 3, -1, -3)  # letters do not fill the height of a line
                is_free = not any(core.intersects(other) for other in things)
            one.setVisible(is_free and not area.isEmpty())
            if one.isVisible():
                taken.append(area)

    def mark_place(self, scene: QGraphicsScene, place: QPointF | None) -> None:
        """Ring a place, or take the ring away."""
        if self._ring is not None:
            scene.removeItem(self._ring)
            self._ring = None
        if place is not None:
            self._ring = _Ring(self.theme, place)
            scene.addItem(self._ring)

"""The width and height of the part that is selected, drawn beside it."""

from __future__ import annotations

from PySide6.QtCore import QPointF, Qt
from PySide6.QtWidgets import QGraphicsItem, QGraphicsScene

from app.job.document import DisplayUnits
from app.window.picture import Measure, Thing, Words
from app.window.theme import Theme
from geometry.units import format_both


class PartMeasures:
    """Dimension lines of one thing at a time."""

    def __init__(self, theme: Theme) -> None:
        self._theme = theme
        self._items: list[QGraphicsItem] = []

    def show_thing(self, scene: QGraphicsScene, thing: Thing | None, units: DisplayUnits) -> None:
        """Measure this, or nothing."""
        for item in self._items:
            if item.scene() is scene:
                scene.removeItem(item)
        self._items = []
        if thing is None:
            return
        box = thing.area()
        left, right, low, high = box.left(), box.right(), box.top(), box.bottom()
        zero, along, up = QPointF(left, low), QPointF(right, low), QPointF(left, high)
        self._items = [
            Measure(self._theme, zero, along, (0, 12)),
            Measure(self._theme, zero, up, (-12, 0)),
            Words(self._theme, format_both(box.width()), (zero + along) / 2, shift_px=(0, 24), px=13, is_muted=False),
            Words(
                self._theme,
                format_both(box.height()),
                (zero + up) / 2,
                shift_px=(-24, 0),
                px=13,
                is_muted=False,
                turned=True,
                align=Qt.AlignmentFlag.AlignHCenter,
            ),
        ]
        for item in self._items:
            scene.addItem(item)
            item.setZValue(7.0)

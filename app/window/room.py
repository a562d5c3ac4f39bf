"""Whether a part has room on a sheet at all, turned as it may be: a first look, long before anything is nested."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, Final

from PySide6.QtGui import QTransform

from app.fabrication.part import CutPart
from app.stock.book import StockSheet
from app.window.paths import PathCache
from geometry.contour import Region

if TYPE_CHECKING:
    import numpy as np

STEP_DEGREES: Final = 1.0
"""Parts that may turn to any angle are tried at these steps."""
SLACK: Final = 1e-6
"""mm; sizes that are equal fit."""


class Room:
    """Answers by the box of a part at each angle it may have; boxes are kept, since sheets are asked about in turn."""

    def __init__(self, paths: PathCache) -> None:
        self._paths = paths
        self._boxes: dict[tuple[int, tuple[float, ...] | None], tuple[Region, np.ndarray]] = {}

    def fits(self, part: CutPart, sheet: StockSheet, margin: float) -> bool:
        """Whether the part fits on the bare sheet inside its margin."""
        boxes = self._boxes_of(part)
        wide, high = sheet.width - 2 * margin + SLACK, sheet.height - 2 * margin + SLACK
        return bool(((boxes[:, 0] <= wide) & (boxes[:, 1] <= high)).any())

    def fitting(self, parts: Iterable[CutPart], sheet: StockSheet, margin: float) -> int:
        """How many of the parts fit."""
        return sum(self.fits(part, sheet, margin) for part in parts)

    def clear(self) -> None:
        """Forget all boxes."""
        self._boxes.clear()

    def _boxes_of(self, part: CutPart) -> np.ndarray:
        key = (id(part.region), part.rotations)
        found = self._boxes.get(key)
        if found is None:
            found = self._boxes[key] = (part.region, self._turned(part))  # holding the region keeps its id taken
        return found[1]

    def _turned(self, part: CutPart) -> np.ndarray:
        """Width and height at each angle."""
        import numpy as np

        outlines = self._paths.of(part.region).toSubpathPolygons(QTransform())
        points = np.array([(point.x(), point.y()) for polygon in outlines for point in polygon])
        angles = np.arange(0.0, 180.0, STEP_DEGREES) if part.rotations is None else np.array(part.rotations)
        cos, sin = np.cos(angles * (math.pi / 180.0)), np.sin(angles * (math.pi / 180.0))
        across = np.outer(cos, points[:, 0]) - np.outer(sin, points[:, 1])
        up = np.outer(sin, points[:, 0]) + np.outer(cos, points[:, 1])
        return np.stack((np.ptp(across, axis=1), np.ptp(up, axis=1)), axis=1)

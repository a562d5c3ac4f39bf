"""Pages of a PDF as pictures. Used from one thread at a time."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QImage, QPainter
from PySide6.QtWidgets import QStyleOptionGraphicsItem, QWidget

from app.errors import AppError
from app.window.picture import Item, Picture
from app.window.theme import Theme

DOTS_PER_INCH: Final = 170
"""Enough to read the smallest text on the page when zoomed in."""
MM_PER_POINT: Final = 25.4 / 72.0


class PageError(AppError):
    """A PDF that cannot be shown."""


@dataclass(frozen=True, slots=True, eq=False)
class Page:
    """A page drawn: which (from 0) of how many, its size in mm, and the picture."""

    index: int
    count: int
    width: float
    height: float
    image: QImage


def draw_page(path: str, index: int) -> Page:
    """Draw one page of a file; the last when there are fewer.

    Raises
    ------
    PageError
        When the file cannot be read, or the library that draws pages is not there.
    """
    try:
        import pypdfium2
    except ImportError as error:
        raise PageError("pages cannot be drawn here: pypdfium2 is not installed; open the file instead") from error
    try:
        document = pypdfium2.PdfDocument(path)
    except (OSError, pypdfium2.PdfiumError) as error:
        raise PageError(f"'{path}' cannot be shown: {error}") from error
    try:
        count = len(document)
        index = min(max(index, 0), count - 1)
        page = document[index]
        width, height = page.get_size()
        bitmap = page.render(scale=DOTS_PER_INCH / 72.0)
        kind = {1: QImage.Format.Format_Grayscale8, 3: QImage.Format.Format_BGR888, 4: QImage.Format.Format_RGB32}
        shown = QImage(bitmap.buffer, bitmap.width, bitmap.height, bitmap.stride, kind[bitmap.n_channels])
        image = shown.copy()  # the bitmap's memory goes with the document
        return Page(index, count, width * MM_PER_POINT, height * MM_PER_POINT, image)
    finally:
        document.close()


def page_picture(page: Page, theme: Theme) -> Picture:
    """A page as a picture to zoom and move, in mm."""
    picture = Picture(theme)
    picture.add(_Sheet(theme, page))
    picture.bounds = QRectF(0.0, 0.0, page.width, page.height)
    return picture


class _Sheet(Item):
    """The page itself; white paper in any theme."""

    def __init__(self, theme: Theme, page: Page) -> None:
        super().__init__(theme)
        self._page = page
        self._scaled = page.image

    def boundingRect(self) -> QRectF:
        return QRectF(0.0, 0.0, self._page.width, self._page.height)

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        board = painter.worldTransform()
        scale = math.hypot(board.m11(), board.m12()) * painter.device().devicePixelRatioF()
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        painter.scale(1.0, -1.0)  # pictures have y up
        painter.drawImage(QRectF(0.0, -self._page.height, self._page.width, self._page.height), self._fit(scale))
        painter.restore()

    def _fit(self, scale: float) -> QImage:
        """The picture as large as it stands on the screen: averaged down, or small text would break up."""
        wide = round(self._page.width * scale)
        if wide >= self._page.image.width():
            return self._page.image
        if self._scaled.width() != wide:
            self._scaled = self._page.image.scaledToWidth(max(wide, 1), Qt.TransformationMode.SmoothTransformation)
        return self._scaled

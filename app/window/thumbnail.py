"""Small pictures of sheets for the list beside the drawing."""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPen, QPixmap, QTransform

from app.planning.job_plan import PlannedSheet
from app.window.paths import PathCache, placement_transform
from app.window.sheet_picture import net_yield
from app.window.theme import Colours
from app.window.wording import share

WIDTH: Final = 184
WORDS_HEIGHT: Final = 36
TALLEST: Final = 150
THUMB_LIMIT: Final = QSize(WIDTH, TALLEST + WORDS_HEIGHT)


def thumbnail(sheet: PlannedSheet, paths: PathCache, colours: Colours, ratio: float, font: QFont) -> QPixmap:
    """Small picture of a sheet, lying on its long side, over its number, size and yield."""
    width, height = sheet.stock.width, sheet.stock.height
    lies = height > width
    across, up = (height, width) if lies else (width, height)
    scale = min((WIDTH - 4) / across, (TALLEST - 4) / up)
    tall = round(up * scale) + 4 + WORDS_HEIGHT
    pixmap = QPixmap(round(WIDTH * ratio), round(tall * ratio))
    pixmap.setDevicePixelRatio(ratio)
    pixmap.fill(Qt.GlobalColor.transparent)
    painter = QPainter(pixmap)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.save()
    painter.translate(2, 2)
    if lies:
        painter.setTransform(QTransform(0.0, scale, scale, 0.0, 0.0, 0.0), True)
    else:
        painter.translate(0, height * scale)
        painter.scale(scale, -scale)
    pen = QPen(QColor(colours.muted), 1)
    pen.setCosmetic(True)
    painter.setPen(pen)
    painter.setBrush(QColor(colours.sheet))
    painter.drawRect(0, 0, round(width), round(height))
    painter.setPen(Qt.PenStyle.NoPen)
    for placed in sheet.placed:
        painter.save()
        painter.setTransform(placement_transform(placed.placement), True)
        painter.setBrush(colours.role_fill(placed.part.role))
        painter.drawPath(paths.of(placed.part.region))
        painter.restore()
    painter.restore()
    _write(painter, sheet, colours, font, tall - WORDS_HEIGHT)
    painter.end()
    return pixmap


def _write(painter: QPainter, sheet: PlannedSheet, colours: Colours, font: QFont, top: int) -> None:
    bold, small = QFont(font), QFont(font)
    bold.setPixelSize(12)
    bold.setBold(True)
    small.setPixelSize(11)
    painter.setPen(QColor(colours.ink))
    painter.setFont(bold)
    painter.drawText(2, top + 15, f"{sheet.number}")
    painter.setFont(small)
    metrics = painter.fontMetrics()
    painter.drawText(24, top + 15, sheet.stock.name)
    shown = share(net_yield(sheet))
    painter.drawText(WIDTH - 2 - metrics.horizontalAdvance(shown), top + 15, shown)
    painter.setPen(QColor(colours.muted))
    painter.drawText(24, top + 30, metrics.elidedText(sheet.material.name, Qt.TextElideMode.ElideRight, WIDTH - 26))

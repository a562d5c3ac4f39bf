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

THUMB: Final = QSize(196, 96)


def thumbnail(sheet: PlannedSheet, paths: PathCache, colours: Colours, ratio: float, font: QFont) -> QPixmap:
    """Small picture of a sheet over its number, size and yield, for the list."""
    pixmap = QPixmap(round(THUMB.width() * ratio), round(THUMB.height() * ratio))
    pixmap.setDevicePixelRatio(ratio)
    pixmap.fill(Qt.GlobalColor.transparent)
    painter = QPainter(pixmap)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    width, height = sheet.stock.width, sheet.stock.height
    lies = height > width
    across, up = (height, width) if lies else (width, height)
    room_x, room_y = THUMB.width() - 4.0, THUMB.height() - 36.0
    scale = min(room_x / across, room_y / up)
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
    bold, small = QFont(font), QFont(font)
    bold.setPixelSize(12)
    bold.setBold(True)
    small.setPixelSize(11)
    painter.setPen(QColor(colours.ink))
    painter.setFont(bold)
    line = THUMB.height() - 18
    painter.drawText(2, line, f"{sheet.number}")
    painter.setFont(small)
    painter.drawText(24, line, sheet.stock.name)
    yield_text = share(net_yield(sheet))
    painter.drawText(THUMB.width() - 4 - painter.fontMetrics().horizontalAdvance(yield_text), line, yield_text)
    painter.setPen(QColor(colours.muted))
    name = painter.fontMetrics().elidedText(sheet.material.name, Qt.TextElideMode.ElideRight, THUMB.width() - 28)
    painter.drawText(24, line + 14, name)
    painter.end()
    return pixmap

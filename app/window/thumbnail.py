"""Small pictures of sheets for the list beside the drawing."""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPen, QPixmap, QTransform

from app.planning.job_plan import PlannedSheet
from app.window.paths import PathCache, placement_transform
from app.window.sheet_picture import draw_padlock, net_yield, stock_path
from app.window.theme import Colours
from app.window.wording import share

WIDTH: Final = 184
WORDS_HEIGHT: Final = 36
TALLEST: Final = 150
THUMB_LIMIT: Final = QSize(WIDTH, TALLEST + WORDS_HEIGHT)


def thumbnail(
    sheet: PlannedSheet,
    paths: PathCache,
    colours: Colours,
    ratio: float,
    font: QFont,
    *,
    is_bad: bool = False,
    is_cut: bool = False,
) -> QPixmap:
    """Small picture of a sheet, lying on its long side, over its number, size and yield.

    A locked sheet has a padlock; of one that is cut, or bad, with parts where they may not lie, it is said.
    """
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
    painter.drawPath(stock_path(sheet.stock))
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(colours.error))
    painter.setOpacity(0.35)
    for zone in sheet.stock.keep_outs:
        painter.drawRect(QRectF(zone.x, zone.y, zone.width, zone.height))
    painter.setOpacity(1.0)
    painter.setClipRect(QRectF(0, 0, width, height))  # a part put beyond the edge must not run over the words
    for placed in sheet.placed:
        painter.save()
        painter.setTransform(placement_transform(placed.placement), True)
        painter.setBrush(colours.role_fill(placed.part.role))
        painter.drawPath(paths.of(placed.part.region))
        painter.restore()
    painter.restore()
    _write(painter, sheet, colours, font, tall - WORDS_HEIGHT, is_bad=is_bad, is_cut=is_cut)
    painter.end()
    return pixmap


def _write(
    painter: QPainter, sheet: PlannedSheet, colours: Colours, font: QFont, top: int, *, is_bad: bool, is_cut: bool
) -> None:
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
    left = 30 if is_cut else 24
    painter.drawText(WIDTH - 2 - metrics.horizontalAdvance(shown), top + 15, shown)
    if is_cut:
        painter.setFont(bold)
        painter.setPen(QColor(colours.accent))
        painter.drawText(2, top + 30, "cut")
        painter.setFont(small)
    elif sheet.is_locked:
        draw_padlock(painter, QPointF(8.0, top + 27.0), colours.ink, colours.panel)
    if is_bad:
        painter.setPen(QColor(colours.error))
        painter.drawText(left, top + 30, "not legal as it stands")
        return
    painter.setPen(QColor(colours.muted))
    name = metrics.elidedText(sheet.material.name, Qt.TextElideMode.ElideRight, WIDTH - 2 - left)
    painter.drawText(left, top + 30, name)

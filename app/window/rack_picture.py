"""The rack drawn: each piece by its true outline, with the rectangle to reckon with, to one scale."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainterPath, QPen, QPolygonF, QTransform

from app.job.document import DisplayUnits
from app.stock.rack_items import OffcutStatus, RackOffcut
from app.window.flow import Size, flow_with_words
from app.window.picture import FIT_MARGIN_PX, Backdrop, Fact, Look, Picture, Thing, Words
from app.window.theme import Colours, Theme
from app.window.wording import count, size
from geometry.units import format_length

HEAD_PX = 34.0
GAP_PX = (22.0, 44.0)


def state_in_words(piece: RackOffcut) -> str:
    """Where a piece is: "free", "reserved for hall", "taken"."""
    whom = f" for {piece.reserved_for}" if piece.reserved_for else ""
    return {OffcutStatus.KEPT: "free", OffcutStatus.USED: "cut into parts"}.get(piece.status, piece.status.value) + whom


def piece_facts(piece: RackOffcut, name: str, units: DisplayUnits, now: datetime) -> tuple[Fact, ...]:
    """What is known of a piece."""
    thickness = format_length(piece.thickness, units.value)
    if piece.measured is not None and piece.measured.thickness is not None:
        thickness += f", measured {format_length(piece.measured.thickness, units.value)}"
    is_box = len(piece.shape) == 4
    facts = [
        ("Offcut", str(piece.id)),
        ("Material", name),
        ("Thickness", thickness),
        ("Usable", size(piece.width, piece.height, units) + ("" if piece.measured else ", as planned")),
        ("Shape", "a rectangle" if is_box else f"{count(len(piece.shape), 'corner')}, drawn true"),
        ("State", state_in_words(piece)),
        ("Place", piece.slot or "not said"),
        ("Lot", piece.lot or "not known"),
        ("From job", piece.job or "not known"),
        ("Age", count(piece.age_days(now), "day")),
    ]
    if piece.parent is not None:
        facts.append(("Cut from", f"offcut {piece.parent}"))
    if piece.note:
        facts.append(("Note", piece.note))
    return tuple(facts)


def rack_picture(
    pieces: Sequence[RackOffcut],
    names: Mapping[str, str],
    units: DisplayUnits,
    now: datetime,
    theme: Theme,
    board_px: Size,
) -> Picture:
    """Pieces in rows under the names of their materials, laid out for a board of this size."""
    picture = Picture(theme)
    groups: dict[str, list[RackOffcut]] = {}
    for piece in pieces:
        groups.setdefault(piece.material, []).append(piece)
    sizes = [[_bounds(piece) for piece in group] for group in groups.values()]
    laid, mm_per_px = flow_with_words(sizes, gap_px=GAP_PX, head_px=HEAD_PX, edge_px=FIT_MARGIN_PX, board_px=board_px)
    for (material, group), corners, head in zip(groups.items(), laid.corners, laid.heads, strict=True):
        title = f"{names.get(material, material)}   {count(len(group), 'piece')}"
        at = QPointF(0.0, head - 0.5 * HEAD_PX * mm_per_px)
        left = Qt.AlignmentFlag.AlignLeft
        picture.add(Words(theme, title, at, align=left, px=13, bold=True, is_muted=False, rank=0))
        for piece, (x, y) in zip(group, corners, strict=True):
            width, height = _bounds(piece)
            frame = QTransform.fromTranslate(x, y - height)
            thing = Thing(
                theme,
                f"offcut {piece.id}",
                _outline(piece),
                _look(piece.status),
                tip=f"Offcut {piece.id}   {size(piece.width, piece.height, units)}   {state_in_words(piece)}",
                facts=piece_facts(piece, names.get(material, material), units, now),
            )
            thing.setTransform(frame)
            picture.add(thing)
            if len(piece.shape) != 4:
                usable = _box(QRectF(piece.usable.x, piece.usable.y, piece.usable.width, piece.usable.height))
                inner = Backdrop(theme, usable, edge=_usable_edge, z=1.5)
                inner.setTransform(frame)
                picture.add(inner)
            room = width + GAP_PX[0] * mm_per_px / 2
            foot = QPointF(x + width / 2, y - height)
            words = f"{piece.id}   {piece.slot}".rstrip()
            picture.add(
                Words(theme, words, foot, shift_px=(0, 11), px=12, is_muted=False, room=room, shorter=(str(piece.id),))
            )
            measures = size(piece.width, piece.height, units)
            picture.add(Words(theme, measures, foot, shift_px=(0, 26), px=11, room=room, rank=2))
    picture.bounds = QRectF(
        0, -laid.height - GAP_PX[1] * mm_per_px, max(laid.width, 1.0), laid.height + GAP_PX[1] * mm_per_px
    )
    return picture


def _bounds(piece: RackOffcut) -> Size:
    return max(x for x, _ in piece.shape), max(y for _, y in piece.shape)


def _outline(piece: RackOffcut) -> QPainterPath:
    path = QPainterPath()
    path.addPolygon(QPolygonF([QPointF(x, y) for x, y in piece.shape]))
    path.closeSubpath()
    return path


def _box(area: QRectF) -> QPainterPath:
    path = QPainterPath()
    path.addRect(area)
    return path


def _look(status: OffcutStatus) -> Look:
    """Bare sheet where it is free; tinted where it is spoken for; faint where it is gone."""

    def fill(colours: Colours) -> QColor:
        if status is OffcutStatus.KEPT:
            return QColor(colours.sheet)
        return QColor(colours.accent_wash if status is OffcutStatus.RESERVED else colours.bench)

    def edge(colours: Colours) -> QColor:
        return QColor(colours.accent if status is OffcutStatus.RESERVED else colours.muted)

    return Look(fill=fill, edge=edge, edge_px=1.4)


def _usable_edge(colours: Colours) -> QPen:
    return QPen(QColor(colours.good), 1.2, Qt.PenStyle.DashLine)

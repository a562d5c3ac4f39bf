"""One planned sheet, or all of them side by side."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from functools import lru_cache
from typing import Final

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPainterPath, QPen, QPolygonF, QTransform

from app.fabrication.part import CutPart
from app.job.document import DisplayUnits, Job
from app.planning.job_plan import PlannedSheet
from app.stock.book import StockSheet
from app.window.flow import Size, flow_with_words
from app.window.parts_picture import part_thing, short_name
from app.window.paths import PathCache, placement_transform
from app.window.picture import FIT_MARGIN_PX, Backdrop, Fact, Item, Look, Origin, Picture, Thing, Words
from app.window.theme import Colours, Theme
from app.window.wording import count, share, size
from geometry.measure import region_area
from geometry.units import format_length


def net_yield(sheet: PlannedSheet) -> float:
    """Net area of the parts on a sheet, holes removed, over the area of the sheet."""
    area = sum(_area_of(placed.part) for placed in sheet.placed)
    return area / sheet.stock.area


@lru_cache(maxsize=4096)
def _area_of(part: CutPart) -> float:
    """Net area of a part, mm²; reckoned once for a part, which is on every preview of a plan."""
    return region_area(part.region)


def sheet_facts(sheet: PlannedSheet, units: DisplayUnits) -> tuple[Fact, ...]:
    """What is known of a planned sheet."""
    offcuts = [size(offcut.width, offcut.height, units) for offcut in sheet.offcuts]
    return (
        ("Sheet", f"{sheet.number}"),
        ("Material", sheet.material.name),
        ("Stock", sheet.stock.name),
        ("Size", size(sheet.stock.width, sheet.stock.height, units)),
        ("Pieces", str(len(sheet.placed))),
        ("Net yield", share(net_yield(sheet))),
        ("Cutter", f"{sheet.cutter.name}, ⌀ {format_length(sheet.cutter.diameter, units)}"),
        ("Spacing", format_length(sheet.spacing, units)),
        ("Margin", format_length(sheet.margin, units)),
        ("Offcuts kept", ", ".join(offcuts) if offcuts else "none"),
        ("File", sheet.file),
    )


def sheet_picture(sheet: PlannedSheet, job: Job, theme: Theme, paths: PathCache) -> Picture:
    """A sheet with its edge, margin, keep-outs, offcuts and parts."""
    picture = Picture(theme)
    for item in sheet_backdrops(theme, sheet.stock, sheet.margin):
        picture.add(item)
    for offcut in sheet.offcuts:
        area = QRectF(offcut.x, offcut.y, offcut.width, offcut.height)
        picture.add(Backdrop(theme, _box(area), fill=_hatch, edge=_offcut_edge, z=-0.5))
        text = f"offcut {size(offcut.width, offcut.height, job.units)}"
        tall = offcut.height > offcut.width
        picture.add(
            Words(theme, text, area.center(), room=max(offcut.width, offcut.height), px=12, is_muted=False, turned=tall)
        )
    picture.add(Origin(theme, max(sheet.stock.width, sheet.stock.height)))
    for placed in sheet.placed:
        placement = placed.placement
        copy = f" · {placement.copy + 1}" if placed.part.quantity > 1 else ""
        labels = (placed.part.id + copy, placed.part.letter + copy, short_name(placed.part))
        turned = f"{round(placement.rotation, 2):g}°" + (", mirrored" if placement.mirrored else "")
        facts: list[Fact] = [("Turned", turned)]
        if placed.part.quantity > 1:
            facts.insert(0, ("Copy", f"{placement.copy + 1} of {placed.part.quantity}"))
        thing = part_thing(placed.part, f"{placed.part.id}#{placement.copy}", labels, job, theme, paths, tuple(facts))
        thing.setTransform(placement_transform(placement))
        picture.add(thing)
        if placed.is_locked or sheet.is_locked:
            lock = LockMark(theme, paths.of(placed.part.region), paths.spot(placed.part.region).middle)
            lock.setTransform(placement_transform(placement))
            picture.add(lock)
        picture.frames.setdefault(placed.part.id, placement_transform(placement))
    picture.bounds = QRectF(0, 0, sheet.stock.width, sheet.stock.height)
    return picture


def sheets_picture(
    sheets: Sequence[PlannedSheet],
    job: Job,
    theme: Theme,
    paths: PathCache,
    board_px: Size,
    *,
    cut: Collection[int] = (),
) -> Picture:
    """All sheets of a plan in rows, to one scale, laid out for a board of this size; veiled those cut, by number."""
    picture = Picture(theme)
    sizes = [(sheet.stock.width, sheet.stock.height) for sheet in sheets]
    laid, mm_per_px = flow_with_words(
        [sizes], gap_px=(18.0, 36.0), head_px=0.0, edge_px=FIT_MARGIN_PX, board_px=board_px
    )
    gap = 18.0 * mm_per_px
    for sheet, (x, y) in zip(sheets, laid.corners[0], strict=True):
        width, height = sheet.stock.width, sheet.stock.height
        frame = QTransform.fromTranslate(x, y - height)
        path = stock_path(sheet.stock)
        tip = f"Sheet {sheet.number}   {sheet.material.name}   {share(net_yield(sheet))}   {sheet.file}"
        look = Look(fill=lambda colours: QColor(colours.sheet), edge=lambda colours: QColor(colours.muted), edge_px=1.4)
        thing = Thing(theme, f"sheet {sheet.number}", path, look, tip=tip, facts=sheet_facts(sheet, job.units))
        thing.setTransform(frame)
        picture.add(thing)
        for offcut in sheet.offcuts:
            hatch = Backdrop(
                theme,
                _box(QRectF(offcut.x, offcut.y, offcut.width, offcut.height)),
                fill=_hatch,
                edge=_offcut_edge,
                z=1.5,
            )
            hatch.setTransform(frame)
            picture.add(hatch)
        for placed in sheet.placed:
            piece = _Piece(theme, placed.part.role, paths.of(placed.part.region))
            piece.setTransform(placement_transform(placed.placement) * frame)
            picture.add(piece)
        number, rate = str(sheet.number), share(net_yield(sheet))
        words, shorter = f"{number}   {sheet.stock.name}   {rate}", (f"{number}   {rate}", number)
        if sheet.number in cut:
            veil = Backdrop(theme, path, fill=_veil, edge=_sheet_edge, z=2.5)
            veil.setTransform(frame)
            picture.add(veil)
            middle = QPointF(x + width / 2, y - height / 2)
            picture.add(Words(theme, "cut", middle, px=15, bold=True, is_muted=False, room=width))
            words, shorter = f"{number}   cut", (number,)
        foot = QPointF(x + width / 2, y - height)
        picture.add(
            Words(theme, words, foot, shift_px=(0, 13), px=12, is_muted=False, room=width + gap / 2, shorter=shorter)
        )
    picture.bounds = QRectF(0, -laid.height - gap, laid.width, laid.height + gap)
    return picture


def stock_picture(
    stock: Sequence[StockSheet],
    margin: float,
    largest: tuple[float, float] | None,
    fitting: tuple[dict[str, int], int],
    units: DisplayUnits,
    theme: Theme,
) -> Picture:
    """Stock sizes of a material side by side with their margins, the largest part's size in each, and how many fit.

    Parameters
    ----------
    largest : (width, height) of the largest part, mm, or None
    fitting : how many parts fit on each sheet, by its id, and how many parts there are
    """
    picture = Picture(theme)
    gap = 0.12 * max((max(sheet.width, sheet.height) for sheet in stock), default=1.0)
    x = tallest = 0.0
    for sheet in stock:
        frame = QTransform.fromTranslate(x, 0.0)
        look = Look(fill=lambda colours: QColor(colours.sheet), edge=lambda colours: QColor(colours.muted), edge_px=1.4)
        facts = (
            ("Stock", sheet.name),
            ("Size", size(sheet.width, sheet.height, units)),
            ("On hand", "any number" if sheet.count is None else count(sheet.count, "sheet")),
            ("Keep-outs", str(len(sheet.keep_outs))),
            ("Parts that fit", f"{fitting[0][sheet.id]} of {fitting[1]}"),
        )
        thing = Thing(
            theme,
            sheet.id,
            stock_path(sheet),
            look,
            tip=f"{sheet.name}   {size(sheet.width, sheet.height, units)}",
            facts=facts,
        )
        thing.setTransform(frame)
        picture.add(thing)
        for item in sheet_backdrops(theme, sheet, margin)[1:]:
            item.setTransform(frame)
            item.setZValue(1.5)
            picture.add(item)
        foot = QPointF(x + sheet.width / 2, 0.0)
        if largest is not None:
            fits = fitted(largest, sheet, margin)
            if fits is not None:
                wide, high = fits
                ghost = Backdrop(theme, _box(QRectF(margin, margin, wide, high)), fill=_ghost, edge=_ghost_edge, z=1.6)
                ghost.setTransform(frame)
                picture.add(ghost)
                note = f"largest part {size(wide, high, units)}"
                middle = frame.map(QPointF(margin + wide / 2, margin + high / 2))
                picture.add(Words(theme, note, middle, px=11, room=wide, shorter=("largest part",), rank=3))
        if fitting[1]:
            is_hopeless = not any(fitting[0].values())
            note = fit_words(fitting[0][sheet.id], fitting[1])
            picture.add(Words(theme, note, foot, shift_px=(0, 32), px=11, room=sheet.width + gap, is_bad=is_hopeless))
        words = f"{sheet.name}   {size(sheet.width, sheet.height, units)}"
        picture.add(Words(theme, words, foot, shift_px=(0, 15), px=12, is_muted=False, room=sheet.width + gap))
        x += sheet.width + gap
        tallest = max(tallest, sheet.height)
    picture.bounds = QRectF(0, -0.55 * gap, max(x - gap, 1.0), tallest + 0.6 * gap)
    return picture


def sheet_backdrops(theme: Theme, stock: StockSheet, margin: float) -> list[Item]:
    """Edge, margin line and keep-outs of a sheet, in its frame."""
    items: list[Item] = [Backdrop(theme, stock_path(stock), fill=_bare, edge=_sheet_edge, z=-2.0)]
    inner = margin_path(stock, margin)
    if not inner.isEmpty():
        items.append(Backdrop(theme, inner, edge=_margin_edge, z=-1.5))
    for zone in stock.keep_outs:
        area = QRectF(zone.x, zone.y, zone.width, zone.height)
        items.append(Backdrop(theme, _box(area), fill=_forbidden, edge=_forbidden_edge, z=-1.0))
        if zone.reason:
            tall = zone.height > zone.width
            items.append(Words(theme, zone.reason, area.center(), room=max(zone.width, zone.height), turned=tall))
    return items


class _Piece(Item):
    """A part on an overview: painted, never pointed at."""

    def __init__(self, theme: Theme, role: object, path: QPainterPath) -> None:
        super().__init__(theme)
        self._role, self._path = role, path
        self.setZValue(2.0)

    def boundingRect(self) -> QRectF:
        return self._path.boundingRect().adjusted(-1, -1, 1, 1)

    def paint(self, painter, option, widget=None) -> None:
        colours = self._theme.colours
        pen = QPen(colours.role_edge(self._role), 0.6)
        pen.setCosmetic(True)
        painter.setPen(pen)
        painter.setBrush(colours.role_fill(self._role))
        painter.drawPath(self._path)


def fit_words(fitting: int, parts: int) -> str:
    """How many of the parts fit on a sheet size."""
    if fitting == parts:
        return "the part fits" if parts == 1 else f"all {parts} parts fit"
    return "no part fits" if fitting == 0 else f"{fitting} of {parts} parts fit"


def fitted(largest: tuple[float, float], sheet: StockSheet, margin: float) -> tuple[float, float] | None:
    """Width and height the largest part takes on a sheet, level or upright; None when its box fits neither way."""
    for wide, high in (largest, largest[::-1]):
        if wide <= sheet.width - 2 * margin and high <= sheet.height - 2 * margin:
            return wide, high
    return None


ON_PARTS: Final = "#101416"
"""What is drawn on parts, which are bright in both sets of colours."""


class LockMark(Item):
    """That a part is locked: bars across it and a small padlock of our own drawing beside its name."""

    def __init__(self, theme: Theme, path: QPainterPath, spot: QPointF) -> None:
        super().__init__(theme)
        self._path, self._spot = path, spot
        self.setZValue(1.2)

    def boundingRect(self) -> QRectF:
        """Bounds with room for the edge."""
        return self._path.boundingRect().adjusted(-2, -2, 2, 2)

    def paint(self, painter, option, widget=None) -> None:
        """Bars at any zoom; the padlock where there is room for it."""
        brush = _tint(ON_PARTS, 90, Qt.BrushStyle.FDiagPattern)
        brush.setTransform(painter.worldTransform().inverted()[0])
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(brush)
        painter.drawPath(self._path)
        board = painter.worldTransform()
        box = board.mapRect(self._path.boundingRect())
        if min(box.width(), box.height()) > 22:
            painter.save()
            painter.resetTransform()
            draw_padlock(painter, board.map(self._spot) - QPointF(0, 17), ON_PARTS, "#F4F6F6")
            painter.restore()


def draw_padlock(painter: QPainter, at: QPointF, ink: str, behind: str) -> None:
    """A closed padlock about a point of the screen, 15 px high: a round body under a bow, with a slot."""
    painter.setPen(QPen(QColor(ink), 2.2))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawArc(QRectF(at.x() - 3.5, at.y() - 8.0, 7.0, 9.0), 0, 180 * 16)
    painter.setPen(QPen(QColor(behind), 1.2))
    painter.setBrush(QColor(ink))
    painter.drawEllipse(at + QPointF(0, 2.0), 6.0, 5.2)
    painter.setPen(QPen(QColor(behind), 1.6))
    painter.drawLine(at + QPointF(0, 0.6), at + QPointF(0, 3.6))


def stock_path(stock: StockSheet) -> QPainterPath:
    """True edge of a sheet, in its frame."""
    path = QPainterPath()
    path.addPolygon(QPolygonF([QPointF(x, y) for x, y in stock.edge]))
    path.closeSubpath()
    return path


def margin_path(stock: StockSheet, margin: float) -> QPainterPath:
    """The line that parts keep within; empty where the margin leaves no room or there is none."""
    path = QPainterPath()
    if not 0.0 < margin < min(stock.width, stock.height) / 2:
        return path
    if stock.outline is None:
        return _box(QRectF(margin, margin, stock.width - 2 * margin, stock.height - 2 * margin))
    import shapely  # only an offcut with corners of its own needs it

    for piece in shapely.get_parts(shapely.Polygon(stock.outline).buffer(-margin)):
        path.addPolygon(QPolygonF([QPointF(x, y) for x, y in piece.exterior.coords]))
    return path


def _box(area: QRectF) -> QPainterPath:
    path = QPainterPath()
    path.addRect(area)
    return path


def _pen(colour: str, width: float, style: Qt.PenStyle = Qt.PenStyle.SolidLine, alpha: int = 255) -> QPen:
    shade = QColor(colour)
    shade.setAlpha(alpha)
    return QPen(shade, width, style)


def _tint(colour: str, alpha: int, pattern: Qt.BrushStyle = Qt.BrushStyle.SolidPattern) -> QBrush:
    shade = QColor(colour)
    shade.setAlpha(alpha)
    return QBrush(shade, pattern)


def _bare(colours: Colours) -> QBrush:
    return QBrush(QColor(colours.sheet))


def _sheet_edge(colours: Colours) -> QPen:
    return _pen(colours.muted, 1.6)


def _margin_edge(colours: Colours) -> QPen:
    return _pen(colours.muted, 1.0, Qt.PenStyle.DashLine, 150)


def _veil(colours: Colours) -> QBrush:
    return _tint(colours.bench, 200)


def _hatch(colours: Colours) -> QBrush:
    return _tint(colours.good, 90, Qt.BrushStyle.BDiagPattern)


def _offcut_edge(colours: Colours) -> QPen:
    return _pen(colours.good, 1.4)


def _forbidden(colours: Colours) -> QBrush:
    return _tint(colours.error, 110, Qt.BrushStyle.DiagCrossPattern)


def _forbidden_edge(colours: Colours) -> QPen:
    return _pen(colours.error, 1.2)


def _ghost(colours: Colours) -> QBrush:
    return _tint(colours.accent, 45)


def _ghost_edge(colours: Colours) -> QPen:
    return _pen(colours.accent, 1.2, Qt.PenStyle.DashLine)

"""Fallback reader of text DXF files that ezdxf refuses: tag by tag, entity by entity, keeping all that makes sense.

It reads the entities that bound shapes, blocks and their references, layers and units. A broken entity is left out
and told; the end of the file may be missing. It is not used for files the library can read.
"""

from __future__ import annotations

import math
import re
from collections import defaultdict, deque
from collections.abc import Iterator
from dataclasses import dataclass, field

from app.artwork.dxf_library import COMPOUNDS, SILENT, SOLIDS, TEXTS, interpolated, placed, text_place
from app.artwork.dxf_model import (
    BadEntity,
    Block,
    Contents,
    Drawn,
    Item,
    Left,
    Words,
    arc,
    ellipse,
    lines,
    polyline,
    spline,
)
from app.artwork.limits import Limits
from app.artwork.notes import Code
from geometry.contour import Contour
from geometry.curve import Point
from geometry.transform import Affine, mirror_x, rotation, transform_contour, translation

_PERCENT = re.compile(r"%%[ucod]", re.IGNORECASE)  # underlines and signs of the TEXT entity


@dataclass(slots=True)
class _Entity:
    """Type and tags of one entity, by group code in their order."""

    kind: str
    tags: list[tuple[int, str]] = field(default_factory=list)

    def values(self) -> dict[int, list[str]]:
        out: dict[int, list[str]] = defaultdict(list)
        for code, value in self.tags:
            out[code].append(value)
        return out


class NotTags(ValueError):
    """A file that does not even hold pairs of group code and value."""


def read_tags(data: bytes, limits: Limits, mm_per_unit: float | None = None) -> tuple[Contents, list[str]]:
    """Contents of a damaged text DXF, and what was mended, in words.

    Parameters
    ----------
    data : bytes
    limits : Limits
    mm_per_unit : float, optional
        What one unit is, for tolerances; 1 when unknown.

    Raises
    ------
    NotTags
        If there is nothing to read.
    """
    text = data.decode("utf-8", errors="replace") if _is_utf8(data) else data.decode("cp1252", errors="replace")
    mended: list[str] = []
    entities = list(_entities(text, mended))
    if not entities:
        raise NotTags("no group codes were found")
    return _Builder(entities, limits, mm_per_unit or 1.0).contents(), mended


def _is_utf8(data: bytes) -> bool:
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def _entities(text: str, mended: list[str]) -> Iterator[_Entity]:
    rows = text.splitlines()
    current: _Entity | None = None
    index = skipped = 0
    while index + 1 < len(rows):
        try:
            code = int(rows[index])
        except ValueError:
            index += 1  # a line too many or too few: look for the next group code
            skipped += 1
            continue
        value = rows[index + 1].strip()
        index += 2
        if code == 0:
            if current is not None:
                yield current
            current = _Entity(value.upper())
        elif current is not None:
            current.tags.append((code, value))
    if skipped:
        mended.append(f"{skipped:,} lines that are no group codes skipped")
    if current is not None:
        yield current
        if current.kind != "EOF":
            mended.append(f"the end of the file is missing after {current.kind}")


class _Builder:
    def __init__(self, entities: list[_Entity], limits: Limits, mm: float) -> None:
        self.entities, self.most, self.tolerance = entities, limits.raw_coordinate / mm, 1e-5 / mm
        self.model = Block("")
        self.blocks: dict[str, Block] = {}
        self.layers: dict[str, bool] = {}
        self.fonts: dict[str, str] = {}  # text style -> font file
        self.insunits: int | None = None
        self.measurement: int | None = None

    def contents(self) -> Contents:
        section, block = "", None
        index = 0
        while index < len(self.entities):
            entity = self.entities[index]
            index += 1
            if entity.kind == "SECTION":
                section = next((value.upper() for code, value in entity.tags if code == 2), "")
                if section == "HEADER":
                    self._header(entity)
            elif entity.kind == "ENDSEC":
                section = ""
            elif entity.kind == "LAYER" and section == "TABLES":
                self._layer(entity)
            elif entity.kind == "STYLE" and section == "TABLES":
                values = entity.values()
                self.fonts[_first(values, 2, "").lower()] = _first(values, 3, "")
            elif entity.kind == "BLOCK":
                block = self._block(entity)
            elif entity.kind == "ENDBLK":
                block = None
            elif entity.kind == "POLYLINE":
                vertices: list[_Entity] = []
                while index < len(self.entities) and self.entities[index].kind == "VERTEX":
                    vertices.append(self.entities[index])
                    index += 1
                self._take(entity, block, vertices)
            elif section in ("ENTITIES", "BLOCKS") and entity.kind not in SILENT and entity.kind != "EOF":
                self._take(entity, block, [])
        return Contents(self.model, self.blocks, self.layers, self.insunits, self.measurement)

    def _header(self, section: _Entity) -> None:
        name = ""
        for code, value in section.tags:
            if code == 9:
                name = value.upper()
            elif code == 70 and name in ("$INSUNITS", "$MEASUREMENT"):
                number = _whole(value)
                if name == "$INSUNITS":
                    self.insunits = number
                else:
                    self.measurement = number

    def _layer(self, entity: _Entity) -> None:
        values = entity.values()
        name = values[2][0] if values[2] else ""
        if name:
            is_frozen = bool((_whole(_first(values, 70, "0")) or 0) & 1)
            self.layers[name] = not is_frozen and not _first(values, 62, "7").startswith("-")

    def _block(self, entity: _Entity) -> Block | None:
        values = entity.values()
        name = _first(values, 2, "")
        if name.lower().startswith(("*model_space", "*paper_space", "$model_space", "$paper_space")) or not name:
            return None
        block = Block(name)
        try:
            block.base = (_number(values, 10, 0.0), _number(values, 20, 0.0))
        except BadEntity as error:
            block.items.append(Left("0", "BLOCK", Code.BAD_VALUE, f"{error}; its base point was taken as 0, 0"))
        if (_whole(_first(values, 70, "0")) or 0) & 12:
            block.items.append(Left("0", "external drawing", Code.OUTSIDE_REFERENCE))
        self.blocks[name.lower()] = block
        return block

    def _take(self, entity: _Entity, block: Block | None, vertices: list[_Entity]) -> None:
        values = entity.values()
        layer = _first(values, 8, "0")
        if layer not in self.layers:
            self.layers[layer] = True
        if _first(values, 67, "0") == "1" and block is None:  # paper space
            return
        target = block if block is not None else self.model
        if _first(values, 60, "0") == "1":
            target.items.append(Left(layer, entity.kind, Code.NOT_VISIBLE))
            return
        try:
            target.items.extend(self._items(entity, values, layer, vertices))
        except (ArithmeticError, LookupError, TypeError, ValueError) as error:
            why = str(error)[:160] or "its values make no curve"
            target.items.append(Left(layer, entity.kind, Code.BAD_VALUE, why))

    def _items(self, entity: _Entity, values: dict[int, list[str]], layer: str, vertices: list[_Entity]) -> list[Item]:
        kind = entity.kind
        side = _side(values)
        if side is None and kind not in ("LINE", "SPLINE"):
            return [Left(layer, kind, Code.NOT_FLAT)]
        contours: tuple[Contour, ...]
        match kind:
            case "LINE":
                return self._drawn(layer, kind, lines([self._at(values, 10), self._at(values, 11)], is_closed=False), 1)
            case "CIRCLE":
                contours = arc(self._at(values, 10), self._size(values, 40), 0.0, 360.0)
            case "ARC":
                start, end = _needed(values, 50), _needed(values, 51)
                contours = arc(self._at(values, 10), self._size(values, 40), start, end)
            case "ELLIPSE":
                contours = ellipse(
                    self._at(values, 10),
                    self._at(values, 11),
                    _needed(values, 40),
                    _number(values, 41, 0.0),
                    _number(values, 42, 2.0 * math.pi),
                    is_mirrored=side == -1,
                    tolerance=self.tolerance,
                )
                side = 1
            case "LWPOLYLINE":
                is_closed = bool((_whole(_first(values, 70, "0")) or 0) & 1)
                contours = polyline(self._light_vertices(entity), is_closed=is_closed)
            case "POLYLINE":
                flags = _whole(_first(values, 70, "0")) or 0
                if flags & (16 | 64):
                    return [Left(layer, kind, Code.NOT_FLAT)]
                contours = polyline(self._heavy_vertices(vertices), is_closed=bool(flags & 1))
            case "SPLINE":
                return self._spline(values, layer)
            case "SOLID" | "TRACE":
                corners = [self._at(values, code) for code in (10, 11, 13, 12) if code in values]
                contours = lines(corners, is_closed=True)
            case "INSERT":
                return [self._insert(values, layer, side or 1)]
            case "HATCH":
                return self._drawn(layer, kind, self._hatch(entity), side or 1, is_hatch=True)
            case "TEXT":
                return [self._words(values, layer, side or 1)]
            case _ if kind in TEXTS:
                return [Left(layer, kind, Code.TEXT_NOT_OUTLINES)]
            case _ if kind in COMPOUNDS:
                return [Left(layer, kind, Code.TO_EXPLODE)]
            case _ if kind in SOLIDS:
                return [Left(layer, kind, Code.NOT_FLAT)]
            case _:
                return [Left(layer, kind, Code.NOT_GEOMETRY)]
        return self._drawn(layer, kind, contours, side or 1)

    def _drawn(
        self, layer: str, kind: str, contours: tuple[Contour, ...], side: int, *, is_hatch: bool = False
    ) -> list[Item]:
        if not contours:
            return [Left(layer, kind, Code.EMPTY_PIECE)]
        if side < 0:
            contours = tuple(transform_contour(contour, mirror_x()) for contour in contours)
        return [Drawn(layer, kind, contours, is_hatch)]

    def _hatch(self, entity: _Entity) -> tuple[Contour, ...]:
        """Boundary paths of a HATCH (DXF reference, boundary path data)."""
        tags = deque(entity.tags)
        while tags and tags[0][0] != 91:
            tags.popleft()
        contours: list[Contour] = []
        for _ in range(min(_count(tags, 91), len(entity.tags))):
            if _count(tags, 92) & 2:
                has_bulge, is_closed, number = _count(tags, 72), _count(tags, 73), _count(tags, 93)
                vertices = []
                for _vertex in range(min(number, len(tags))):
                    x, y = self._bounded(_next(tags, 10)), self._bounded(_next(tags, 20))
                    bulge = _next(tags, 42) if has_bulge and tags and tags[0][0] == 42 else 0.0
                    vertices.append((x, y, bulge))
                contours += polyline(vertices, is_closed=bool(is_closed))
            else:
                for _edge in range(min(_count(tags, 93), len(tags))):
                    contours += self._edge(tags)
            for _source in range(min(_count(tags, 97), len(tags))):
                _next(tags, 330, is_number=False)
        return tuple(contours)

    def _edge(self, tags: deque[tuple[int, str]]) -> tuple[Contour, ...]:
        """One edge of a boundary path."""
        kind = _count(tags, 72)
        if kind == 4:
            return self._spline_edge(tags)
        x, y = self._bounded(_next(tags, 10)), self._bounded(_next(tags, 20))
        if kind == 1:
            end = (self._bounded(_next(tags, 11)), self._bounded(_next(tags, 21)))
            return lines([(x, y), end], is_closed=False)
        if kind == 2:
            radius, start, stop = self._bounded(_next(tags, 40)), _next(tags, 50), _next(tags, 51)
            return arc((x, y), radius, *((start, stop) if _count(tags, 73) else (-stop, -start)))
        if kind == 3:
            major = (self._bounded(_next(tags, 11)), self._bounded(_next(tags, 21)))
            ratio, start, stop = _next(tags, 40), _next(tags, 50), _next(tags, 51)
            is_forward = bool(_count(tags, 73))
            first, last = (start, stop) if is_forward else (-stop, -start)
            # Angles as seen, where ELLIPSE has parameters; ezdxf takes them so too.
            first, last = (_parameter(math.radians(angle), ratio) for angle in (first, last))
            return ellipse((x, y), major, ratio, first, last, is_mirrored=False, tolerance=self.tolerance)
        raise BadEntity(f"an edge of kind {kind}")

    def _spline_edge(self, tags: deque[tuple[int, str]]) -> tuple[Contour, ...]:
        degree, is_rational, _is_periodic = _count(tags, 94), _count(tags, 73), _count(tags, 74)
        knot_count, point_count = _count(tags, 95), _count(tags, 96)
        knots = [_next(tags, 40) for _ in range(min(knot_count, len(tags)))]
        points, weights = [], []
        for _ in range(min(point_count, len(tags))):
            points.append((self._bounded(_next(tags, 10)), self._bounded(_next(tags, 20))))
            if is_rational and tags and tags[0][0] == 42:
                weights.append(_next(tags, 42))
        # From R2010 on there follow points it was laid through; before, 97 can only be the number of sources.
        if len(tags) > 1 and tags[0][0] == 97 and tags[1][0] in (11, 12, 72, 97):
            tags.popleft()
        while tags and tags[0][0] in (11, 21, 12, 22, 13, 23):
            tags.popleft()
        return spline(degree, knots, points, weights, tolerance=self.tolerance * 10.0)[0]

    def _words(self, values: dict[int, list[str]], layer: str, side: int) -> Item:
        """A TEXT, to be set when its font is at hand."""
        text, height = _PERCENT.sub("", _first(values, 1, "")).strip(), self._size(values, 40)
        turn, stretch = _number(values, 50, 0.0), _number(values, 41, 1.0)
        across, upright = _whole(_first(values, 72, "0")) or 0, _whole(_first(values, 73, "0")) or 0
        if not text or height <= 0.0 or stretch <= 0.0 or _first(values, 71, "0") != "0":
            return Left(layer, "TEXT", Code.TEXT_NOT_OUTLINES)
        x, y = self._at(values, 11 if (across or upright) and values[11] else 10)
        matrix = Affine(height * stretch, 0.0, 0.0, height, 0.0, 0.0).then(rotation(turn)).then(translation(x, y))
        if side < 0:
            matrix = matrix.then(mirror_x())
        align, stands = text_place(across, upright)
        font = self.fonts.get(_first(values, 7, "STANDARD").lower(), "")
        return Words(layer, "TEXT", text, font, matrix, align, stands)

    def _at(self, values: dict[int, list[str]], code: int) -> Point:
        return (self._bounded(_needed(values, code)), self._bounded(_needed(values, code + 10)))

    def _size(self, values: dict[int, list[str]], code: int) -> float:
        return self._bounded(_needed(values, code))

    def _bounded(self, value: float) -> float:
        if not abs(value) <= self.most:
            raise BadEntity(f"a coordinate or size of {value:g} is beyond the limit of {self.most:g}")
        return value

    def _light_vertices(self, entity: _Entity) -> list[tuple[float, float, float]]:
        vertices: list[tuple[float, float, float]] = []
        for code, value in entity.tags:
            if code == 10:
                vertices.append((self._bounded(_float(value)), 0.0, 0.0))
            elif code == 20 and vertices:
                vertices[-1] = (vertices[-1][0], self._bounded(_float(value)), 0.0)
            elif code == 42 and vertices:
                vertices[-1] = (vertices[-1][0], vertices[-1][1], _float(value))
        return vertices

    def _heavy_vertices(self, vertices: list[_Entity]) -> list[tuple[float, float, float]]:
        out = []
        for vertex in vertices:
            values = vertex.values()
            if (_whole(_first(values, 70, "0")) or 0) & 16:  # frame of a fitted curve, not on it
                continue
            x, y = self._at(values, 10)
            out.append((x, y, _number(values, 42, 0.0)))
        return out

    def _spline(self, values: dict[int, list[str]], layer: str) -> list[Item]:
        points = self._points(values, 10)
        knots, weights = [_float(value) for value in values[40]], [_float(value) for value in values[41]]
        degree = _whole(_first(values, 71, "3")) or 3
        is_interpolated = not points
        if is_interpolated:
            through = self._points(values, 11)
            if len(through) < 2:
                raise BadEntity("it has neither control points nor two points to pass through")
            tangents = None
            if 12 in values and 13 in values:
                tangents = [(_needed(values, code), _needed(values, code + 10)) for code in (12, 13)]
            degree, knots, points, _heights = interpolated(through, tangents)
            weights = []
        contours, is_exact = spline(degree, knots, points, weights, tolerance=self.tolerance * 10.0)
        out = self._drawn(layer, "SPLINE", contours, 1)
        return [*out, Left(layer, "spline", Code.CURVE_FITTED)] if is_interpolated or not is_exact else out

    def _points(self, values: dict[int, list[str]], code: int) -> list[Point]:
        pairs = zip(values[code], values[code + 10], strict=True)
        return [(self._bounded(_float(x)), self._bounded(_float(y))) for x, y in pairs]

    def _insert(self, values: dict[int, list[str]], layer: str, side: int) -> Item:
        return placed(
            layer,
            _first(values, 2, ""),
            self._at(values, 10),
            (_number(values, 41, 1.0), _number(values, 42, 1.0)),
            _number(values, 50, 0.0),
            (_whole(_first(values, 70, "1")) or 1, _whole(_first(values, 71, "1")) or 1),
            (_number(values, 44, 0.0), _number(values, 45, 0.0)),
            side,
        )


def _parameter(angle: float, ratio: float) -> float:
    """Parameter of an ellipse (rad) where the ray at this angle (rad) meets it."""
    if not ratio > 0.0:
        raise BadEntity(f"an ellipse with a ratio of {ratio:g}")
    return math.atan2(math.sin(angle) / ratio, math.cos(angle))


def _next(tags: deque[tuple[int, str]], code: int, *, is_number: bool = True) -> float:
    """Value of the next tag, which must have this code; 0 when it is no number and need not be."""
    if not tags or tags[0][0] != code:
        raise BadEntity(f"its value of group {code} is not where it belongs")
    text = tags.popleft()[1]
    return _float(text) if is_number else 0.0


def _count(tags: deque[tuple[int, str]], code: int) -> int:
    number = _next(tags, code)
    if not (number == int(number) and 0 <= number < 1 << 31):
        raise BadEntity(f"a count of {number:g}")
    return int(number)


def _side(values: dict[int, list[str]]) -> int | None:
    x, y, z = _number(values, 210, 0.0), _number(values, 220, 0.0), _number(values, 230, 1.0)
    length = math.sqrt(x * x + y * y + z * z)
    if not length > 0.0 or math.hypot(x, y) > 1e-6 * length:
        return None
    return 1 if z > 0.0 else -1


def _first(values: dict[int, list[str]], code: int, absent: str) -> str:
    found = values.get(code)
    return found[0] if found else absent


def _number(values: dict[int, list[str]], code: int, absent: float) -> float:
    found = values.get(code)
    return _float(found[0]) if found else absent


def _needed(values: dict[int, list[str]], code: int) -> float:
    found = values.get(code)
    if not found:
        raise BadEntity(f"its value of group {code} is missing")
    return _float(found[0])


def _float(text: str) -> float:
    try:
        value = float(text)
    except ValueError as error:
        # A decimal comma must not be guessed at: 1,5 and 1,500 look alike.
        raise BadEntity(f"'{text[:40]}' is no number") from error
    if not math.isfinite(value):
        raise BadEntity(f"'{text[:40]}' is not a finite number")
    return value


def _whole(text: str) -> int | None:
    try:
        return int(text)
    except ValueError:
        return None

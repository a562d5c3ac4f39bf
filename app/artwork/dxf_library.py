"""DXF files parsed by ezdxf, as `dxf_model.Contents`. Its own path conversion draws circles 0.03 % too large."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import Any

from ezdxf import recover
from ezdxf.filemanagement import readfile
from ezdxf.lldxf.const import DXFError
from ezdxf.math import fit_points_to_cad_cv

from app.artwork.dxf_model import (
    BadEntity,
    Block,
    Contents,
    Drawn,
    Item,
    Left,
    Placed,
    Words,
    arc,
    ellipse,
    even_width,
    lines,
    polyline,
    spline,
)
from app.artwork.limits import Limits
from app.artwork.notes import Code, Notes
from geometry.contour import Contour
from geometry.curve import Point
from geometry.findings import Severity
from geometry.transform import IDENTITY, Affine, mirror_x, rotation, transform_contour, translation

TEXTS = frozenset({"TEXT", "MTEXT", "ATTRIB", "ARCALIGNEDTEXT", "RTEXT"})
SOLIDS = frozenset({"3DFACE", "3DSOLID", "MESH", "POLYFACE", "SURFACE", "EXTRUDEDSURFACE", "LOFTEDSURFACE",
                    "REVOLVEDSURFACE", "SWEPTSURFACE", "HELIX"})  # fmt: skip
COMPOUNDS = frozenset({"ACAD_PROXY_ENTITY", "ACAD_TABLE", "BODY", "MLINE", "PLANESURFACE", "REGION"})
SILENT = frozenset({"ATTDEF", "VIEWPORT", "SEQEND", "VERTEX", "ENDBLK"})
# What a broken file makes the library raise, besides its own errors.
FAILURES = (
    DXFError,
    ArithmeticError,
    AssertionError,
    AttributeError,
    LookupError,
    OSError,
    RuntimeError,
    StopIteration,
    TypeError,
    ValueError,
)


def load(path: str) -> Any:
    """Parse with ezdxf's strict reader; raises one of `FAILURES`."""
    return readfile(path)


def load_damaged(path: str) -> tuple[Any, list[str]]:
    """Parse with ezdxf's recovery, and what it had to say; raises one of `FAILURES`."""
    document, auditor = recover.readfile(path)
    said = [str(entry.message) for entry in (*auditor.errors, *auditor.fixes)]
    return document, said


def contents(document: Any, notes: Notes, limits: Limits, mm_per_unit: Callable[[int | None], float]) -> Contents:
    """Everything in a parsed document that concerns cutting.

    Parameters
    ----------
    mm_per_unit : callable
        Tells from $INSUNITS what one unit is, which sets the tolerances.
    """
    insunits = document.header.get("$INSUNITS")
    measurement = document.header.get("$MEASUREMENT")
    reader = _Reader(document, limits, mm_per_unit(insunits))
    layers = {layer.dxf.name: not (layer.is_off() or layer.is_frozen()) for layer in document.layers}
    space = document.modelspace()
    if len(space) == 0:
        for name in document.layout_names_in_taborder():
            layout = document.layout(name)
            if any(entity.dxftype() != "VIEWPORT" for entity in layout):
                space = layout
                notes.add(
                    Code.PAPER_SPACE,
                    Severity.WARNING,
                    f"the model space is empty; layout '{name}' was read, whose sizes are those of paper: check them",
                )
                break
    blocks: dict[str, Block] = {}
    for block in document.blocks:
        if block.is_any_layout:
            continue
        base = block.block.dxf.base_point if block.block is not None else (0.0, 0.0)
        is_outside = block.block is not None and bool(block.block.dxf.flags & 12)
        items: list[Item] = (
            [Left("0", "external drawing", Code.OUTSIDE_REFERENCE)] if is_outside else reader.items(block)
        )
        blocks[block.name.lower()] = Block(block.name, (float(base[0]), float(base[1])), items)
    return Contents(Block("", items=reader.items(space)), blocks, layers, insunits, measurement)


class _Reader:
    def __init__(self, document: Any, limits: Limits, mm: float) -> None:
        self.document, self.limits = document, limits
        self.most = limits.raw_coordinate / mm
        self.tolerance = 1e-5 / mm
        self.kinds: dict[str, Callable[[Any], Iterable[Item]]] = {
            "LINE": self._line,
            "ARC": self._arc,
            "CIRCLE": self._circle,
            "ELLIPSE": self._ellipse,
            "LWPOLYLINE": self._lwpolyline,
            "POLYLINE": self._polyline,
            "SPLINE": self._spline,
            "SOLID": self._solid,
            "TRACE": self._solid,
            "HATCH": self._hatch,
            "MPOLYGON": self._hatch,
            "INSERT": self._insert,
        }

    def items(self, entities: Iterable[Any]) -> list[Item]:
        """Items of a layout or block, entity by entity; one that cannot be used is told and left out."""
        out: list[Item] = []
        for entity in entities:
            kind = entity.dxftype()
            layer = str(entity.dxf.get("layer", "0"))
            if kind in SILENT:
                continue
            if entity.dxf.get("invisible", 0):
                out.append(Left(layer, kind, Code.NOT_VISIBLE, where=_place(entity)))
            elif kind in self.kinds:
                try:
                    out.extend(self.kinds[kind](entity))
                except FAILURES as error:
                    out.append(Left(layer, kind, Code.BAD_VALUE, _why(error), _place(entity)))
            elif kind in ("TEXT", "ATTRIB", "MTEXT"):
                out.append(self._words(entity, layer, kind))
            elif kind in TEXTS:
                out.append(Left(layer, kind, Code.TEXT_NOT_OUTLINES, where=_place(entity)))
            elif kind in COMPOUNDS:
                out.append(Left(layer, kind, Code.TO_EXPLODE, where=_place(entity)))
            elif kind in SOLIDS:
                out.append(Left(layer, kind, Code.NOT_FLAT, where=_place(entity)))
            else:
                out.append(Left(layer, kind, Code.NOT_GEOMETRY, where=_place(entity)))
        return out

    # Each entity kind. Those given in the object's own coordinate system are mirrored for an extrusion of -Z.

    def _drawn(
        self, entity: Any, contours: tuple[Contour, ...], *, is_hatch: bool = False, width: float = 0.0
    ) -> list[Item]:
        if not contours:
            return [Left(entity.dxf.layer, entity.dxftype(), Code.EMPTY_PIECE, where=_place(entity))]
        return [Drawn(entity.dxf.layer, entity.dxftype(), contours, is_hatch, width)]

    def _tilted(self, entity: Any) -> list[Item]:
        return [Left(entity.dxf.layer, entity.dxftype(), Code.NOT_FLAT, where=_place(entity))]

    def _checked(self, *values: float) -> None:
        for value in values:
            if not abs(value) <= self.most:  # nan answers no
                raise BadEntity(f"a coordinate or size of {value:g} is beyond the limit of {self.most:g}")

    def _line(self, entity: Any) -> list[Item]:
        start, end = entity.dxf.start, entity.dxf.end
        self._checked(start.x, start.y, end.x, end.y)
        return self._drawn(entity, lines([(start.x, start.y), (end.x, end.y)], is_closed=False))

    def _arc(self, entity: Any) -> list[Item]:
        side = _side(entity)
        if side is None:
            return self._tilted(entity)
        centre, radius = entity.dxf.center, float(entity.dxf.radius)
        self._checked(centre.x, centre.y, radius)
        start, end = float(entity.dxf.start_angle), float(entity.dxf.end_angle)
        _finite(start, end)
        return self._drawn(entity, _sided(arc((centre.x, centre.y), radius, start, end), side))

    def _circle(self, entity: Any) -> list[Item]:
        side = _side(entity)
        if side is None:
            return self._tilted(entity)
        centre, radius = entity.dxf.center, float(entity.dxf.radius)
        self._checked(centre.x, centre.y, radius)
        return self._drawn(entity, _sided(arc((centre.x, centre.y), radius, 0.0, 360.0), side))

    def _ellipse(self, entity: Any) -> list[Item]:
        side = _side(entity)
        if side is None:
            return self._tilted(entity)
        centre, major, ratio = entity.dxf.center, entity.dxf.major_axis, float(entity.dxf.ratio)
        start, end = float(entity.dxf.start_param), float(entity.dxf.end_param)
        self._checked(centre.x, centre.y, major.x, major.y, ratio)
        _finite(start, end)
        return self._drawn(
            entity,
            ellipse(
                (centre.x, centre.y),
                (major.x, major.y),
                ratio,
                start,
                end,
                is_mirrored=side < 0,
                tolerance=self.tolerance,
            ),
        )

    def _lwpolyline(self, entity: Any) -> list[Item]:
        side = _side(entity)
        if side is None:
            return self._tilted(entity)
        vertices = [(float(x), float(y), float(bulge)) for x, y, bulge in entity.get_points("xyb")]
        own = float(entity.dxf.get("const_width", 0.0))
        widths = [own] if own else [float(value) for pair in entity.get_points("se") for value in pair]
        if not own and not entity.closed:
            del widths[-2:]  # nothing starts at the last vertex
        return self._bulges(entity, vertices, bool(entity.closed), side, even_width(widths))

    def _polyline(self, entity: Any) -> list[Item]:
        side = _side(entity)
        if side is None or not (entity.is_2d_polyline or entity.is_3d_polyline):
            return self._tilted(entity)
        is_flat = entity.is_2d_polyline
        vertices = []
        widths: list[float] = []
        usual = [float(entity.dxf.get(f"default_{end}_width", 0.0)) for end in ("start", "end")]
        heights = set()
        for vertex in entity.vertices:
            if vertex.dxf.get("flags", 0) & 16:  # frame of a fitted curve, not on it
                continue
            place = vertex.dxf.location
            heights.add(round(place.z, 6))
            widths += [float(vertex.dxf.get("start_width", usual[0])), float(vertex.dxf.get("end_width", usual[1]))]
            vertices.append((float(place.x), float(place.y), float(vertex.dxf.get("bulge", 0.0)) if is_flat else 0.0))
        if not is_flat and len(heights) > 1:
            return self._tilted(entity)
        if not entity.is_closed:
            del widths[-2:]  # nothing starts at the last vertex
        width = even_width(widths) if is_flat else 0.0
        return self._bulges(entity, vertices, bool(entity.is_closed), side if is_flat else 1, width)

    def _bulges(
        self, entity: Any, vertices: list[tuple[float, float, float]], is_closed: bool, side: int, width: float
    ) -> list[Item]:
        for x, y, _ in vertices:
            self._checked(x, y)
        return self._drawn(entity, _sided(polyline(vertices, is_closed=is_closed), side), width=width)

    def _spline(self, entity: Any) -> list[Item]:
        points = [(float(p[0]), float(p[1])) for p in entity.control_points]
        heights = [float(p[2]) for p in entity.control_points]
        degree, knots, weights = (
            int(entity.dxf.degree),
            list(map(float, entity.knots)),
            list(map(float, entity.weights)),
        )
        is_interpolated = not points
        if is_interpolated:
            has_tangents = entity.dxf.hasattr("start_tangent") and entity.dxf.hasattr("end_tangent")
            tangents = (entity.dxf.start_tangent, entity.dxf.end_tangent) if has_tangents else None
            degree, knots, points, heights = interpolated(list(entity.fit_points), tangents)
            weights = []
        for x, y in points:
            self._checked(x, y)
        if heights and max(heights) - min(heights) > 1e-6 * max(1.0, max(map(abs, heights))):
            return self._tilted(entity)
        contours, is_exact = spline(degree, knots, points, weights, tolerance=self.tolerance * 10.0)
        out = self._drawn(entity, contours)
        if is_interpolated or not is_exact:
            out.append(Left(entity.dxf.layer, "spline", Code.CURVE_FITTED))
        return out

    def _solid(self, entity: Any) -> list[Item]:
        side = _side(entity)
        if side is None:
            return self._tilted(entity)
        # The fourth corner comes before the third on the way round.
        corners = [entity.dxf.get(name) for name in ("vtx0", "vtx1", "vtx3", "vtx2")]
        points = [(float(corner.x), float(corner.y)) for corner in corners if corner is not None]
        for x, y in points:
            self._checked(x, y)
        return self._drawn(entity, _sided(lines(points, is_closed=True), side))

    def _hatch(self, entity: Any) -> list[Item]:
        side = _side(entity)
        if side is None:
            return self._tilted(entity)
        contours: list[Contour] = []
        for path in entity.paths:
            if hasattr(path, "vertices"):
                vertices = [(float(x), float(y), float(bulge)) for x, y, bulge in path.vertices]
                for x, y, _ in vertices:
                    self._checked(x, y)
                contours += polyline(vertices, is_closed=True)
            else:
                contours += [piece for edge in path.edges for piece in self._edge(edge)]
        return self._drawn(entity, _sided(tuple(contours), side), is_hatch=True)

    def _edge(self, edge: Any) -> tuple[Contour, ...]:
        kind = edge.EDGE_TYPE
        if kind == "LineEdge":
            self._checked(*edge.start, *edge.end)
            return lines([(edge.start.x, edge.start.y), (edge.end.x, edge.end.y)], is_closed=False)
        if kind == "ArcEdge":
            self._checked(edge.center.x, edge.center.y, edge.radius)
            _finite(edge.start_angle, edge.end_angle)
            return arc((edge.center.x, edge.center.y), edge.radius, edge.start_angle, edge.end_angle)
        if kind == "EllipseEdge":
            self._checked(edge.center.x, edge.center.y, edge.major_axis.x, edge.major_axis.y, edge.ratio)
            start, end = edge.start_param, edge.end_param
            _finite(start, end)
            major = (edge.major_axis.x, edge.major_axis.y)
            return ellipse(
                (edge.center.x, edge.center.y),
                major,
                edge.ratio,
                start,
                end,
                is_mirrored=False,
                tolerance=self.tolerance,
            )
        points = [(float(p.x), float(p.y)) for p in edge.control_points]
        for x, y in points:
            self._checked(x, y)
        contours, _exact = spline(
            edge.degree, list(edge.knot_values), points, list(edge.weights), tolerance=self.tolerance * 10.0
        )
        return contours

    def _words(self, entity: Any, layer: str, kind: str) -> Item:
        """Text with its font and place; told as not read when any of that makes no sense."""
        try:
            style = self.document.styles.get(entity.dxf.get("style", "Standard"))
            font, stretch = str(style.dxf.font), float(style.dxf.width)
            side = _side(entity) if kind != "MTEXT" else 1
            column = 0.0
            if kind == "MTEXT":
                text, height, turn = entity.plain_text(), float(entity.dxf.char_height), float(entity.get_rotation())
                number = int(entity.dxf.get("attachment_point", 1)) - 1
                point = entity.dxf.insert
                align = ("left", "centre", "right")[number % 3]
                upright = ("top", "middle", "bottom")[number // 3]
                column = float(entity.dxf.get("width", 0.0)) / (height * stretch)
            else:
                text, height, turn = (
                    entity.plain_text(),
                    float(entity.dxf.height),
                    float(entity.dxf.get("rotation", 0.0)),
                )
                stretch = float(entity.dxf.get("width", stretch))
                point, align, upright = _text_place(entity)
            self._checked(point.x, point.y, height)
            _finite(turn, stretch)
        except FAILURES:
            return Left(layer, kind, Code.TEXT_NOT_OUTLINES)
        if side is None or height <= 0.0 or stretch <= 0.0 or not text.strip():
            return Left(layer, kind, Code.TEXT_NOT_OUTLINES)
        matrix = Affine(height * stretch, 0.0, 0.0, height, 0.0, 0.0).then(rotation(turn))
        matrix = matrix.then(translation(point.x, point.y)).then(IDENTITY if side > 0 else mirror_x())
        return Words(layer, kind, text, font, matrix, align, upright, column)

    def _insert(self, entity: Any) -> list[Item]:
        side = _side(entity)
        if side is None:
            return self._tilted(entity)
        dxf = entity.dxf
        scale_x, scale_y = float(dxf.get("xscale", 1.0)), float(dxf.get("yscale", 1.0))
        turn = float(dxf.get("rotation", 0.0))
        at = dxf.insert
        self._checked(at.x, at.y)
        _finite(scale_x, scale_y, turn)
        out: list[Item] = [self._words(one, str(one.dxf.get("layer", "0")), "ATTRIB") for one in entity.attribs]
        out.append(
            placed(
                dxf.layer,
                str(dxf.name),
                (at.x, at.y),
                (scale_x, scale_y),
                turn,
                (int(dxf.get("column_count", 1)), int(dxf.get("row_count", 1))),
                (float(dxf.get("column_spacing", 0.0)), float(dxf.get("row_spacing", 0.0))),
                side,
            )
        )
        return out


def interpolated(
    fit_points: Sequence[Any], tangents: Sequence[Any] | None
) -> tuple[int, list[float], list[Point], list[float]]:
    """Degree, knots, control points and their heights of the spline that drawing programs lay through fit points."""
    tool = fit_points_to_cad_cv(fit_points, tangents=tangents)
    points = [(float(p.x), float(p.y)) for p in tool.control_points]
    return tool.degree, [float(k) for k in tool.knots()], points, [float(p.z) for p in tool.control_points]


def _text_place(entity: Any) -> tuple[Any, str, str]:
    """Insertion point of a TEXT, and where on the text it is."""
    halign, valign = int(entity.dxf.get("halign", 0)), int(entity.dxf.get("valign", 0))
    point = entity.dxf.get("align_point") if halign or valign else None
    return (point if point is not None else entity.dxf.insert), *text_place(halign, valign)


def text_place(halign: int, valign: int) -> tuple[str, str]:
    """Where on a TEXT its point is, across and upright, by groups 72 and 73."""
    upright = {1: "bottom", 2: "middle", 3: "top"}.get(valign, "middle" if halign == 4 else "baseline")
    return {1: "centre", 2: "right", 4: "centre"}.get(halign, "left"), upright


def placed(
    layer: str,
    block: str,
    at: Point,
    scale: tuple[float, float],
    turn: float,
    counts: tuple[int, int],
    spacing: tuple[float, float],
    side: int,
) -> Item:
    """Block reference from the numbers of an INSERT: scaled, turned, moved, then mirrored for an extrusion of -Z."""
    if scale[0] == 0.0 or scale[1] == 0.0:
        return Left(layer, "INSERT", Code.EMPTY_PIECE)
    mirror = mirror_x() if side < 0 else IDENTITY
    turned = rotation(turn)
    matrix = Affine(scale[0], 0.0, 0.0, scale[1], 0.0, 0.0).then(turned).then(translation(*at)).then(mirror)
    steps = turned.then(mirror)
    return Placed(
        layer,
        block,
        matrix,
        max(1, counts[0]),
        max(1, counts[1]),
        steps.apply((spacing[0], 0.0)),
        steps.apply((0.0, spacing[1])),
    )


def _side(entity: Any) -> int | None:
    """1 for an entity seen from above, -1 from below, None when it is tilted."""
    x, y, z = entity.dxf.get("extrusion", (0.0, 0.0, 1.0))
    length = math.sqrt(x * x + y * y + z * z)
    if not length > 0.0 or math.hypot(x, y) > 1e-6 * length:
        return None
    return 1 if z > 0.0 else -1


def _sided(contours: tuple[Contour, ...], side: int) -> tuple[Contour, ...]:
    if side > 0:
        return contours
    return tuple(transform_contour(contour, mirror_x()) for contour in contours)


def _finite(*values: float) -> None:
    for value in values:
        if not math.isfinite(value) or abs(value) > 1e9:
            raise BadEntity(f"a value of {value:g}")


def _why(error: Exception) -> str:
    return str(error)[:160] if isinstance(error, BadEntity) and str(error) else "its values make no curve"


def _place(entity: Any) -> Point | None:
    for name in ("center", "start", "insert", "location", "vtx0", "defpoint"):
        place = entity.dxf.get(name) if entity.dxf.is_supported(name) else None
        if (
            place is not None
            and math.isfinite(place[0])
            and math.isfinite(place[1])
            and abs(place[0]) + abs(place[1]) < 1e9
        ):
            return (float(place[0]), float(place[1]))
    return None

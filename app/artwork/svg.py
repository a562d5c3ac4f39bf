"""SVG reader: own walker over the element tree, with true circles, arcs and curves."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from typing import Any

from app.artwork.checks import closed_by_line, is_one_line, is_past, reach, stays_within, stretch
from app.artwork.clips import Clip, Effect
from app.artwork.drawing import Drawing, Shape, Source
from app.artwork.filled import SAME, Filled
from app.artwork.limits import DEFAULT_LIMITS, Budget, Limits
from app.artwork.line_art import Piece, gap_to_join, line_art
from app.artwork.notes import Code, Notes
from app.artwork.options import DEFAULT_OPTIONS, ReadOptions
from app.artwork.roundness import with_arcs
from app.artwork.strokes import Cap, Corner, Stroke, painted
from app.artwork.svg_document import label, local_name, parse_svg, reference
from app.artwork.svg_objects import (
    GROUPS,
    called,
    choice,
    font_size,
    fraction,
    is_white,
    paints,
    passes,
    shapes_below,
    spot,
    stroke_width,
)
from app.artwork.svg_page import read_page
from app.artwork.svg_path import TooManyPieces
from app.artwork.svg_shapes import SHAPES, shape_contours
from app.artwork.svg_style import DEFAULTS, MARKERS, StyleSheets, inherit
from app.artwork.svg_values import (
    BadValue,
    ViewBox,
    parse_length,
    parse_origin,
    parse_transform,
    parse_view_box,
    to_px,
    view_box_transform,
)
from app.errors import DamagedFile, ReadError
from geometry.build import rectangle
from geometry.contour import Contour, FillRule
from geometry.findings import Severity
from geometry.transform import IDENTITY, Affine, scaling, transform_contour, translation

_REFERENCE = re.compile(r"url\(\s*['\"]?#([^'\")]+)['\"]?\s*\)")
_TOLERANCE = 1e-4  # of curves that stand for elliptical arcs, in the finished drawing's unit


@dataclass(frozen=True, slots=True)
class _State:
    """What an element inherits while the tree is walked."""

    matrix: Affine
    width: float
    height: float
    properties: dict[str, str]
    layer: str = ""
    object_id: str = ""
    named: tuple[str, ...] = ()  # ids being written out by references, outermost first
    clips: tuple[Clip | None, ...] = ()  # None stands for one that cannot be told
    is_masked: bool = False
    is_lit: bool = True  # False below an opacity of 0


def read_svg(
    data: bytes,
    name: str,
    *,
    options: ReadOptions = DEFAULT_OPTIONS,
    limits: Limits = DEFAULT_LIMITS,
) -> Drawing:
    """Read an SVG drawing.

    A width in mm, cm, in, pt or pc states the unit. A width in px or without a unit is taken as 1/96 in, which SVG
    defines, and a finding doubts it. Without a width the drawing has no unit. Layers are the outermost groups with a
    label or an id.

    Parameters
    ----------
    data : bytes
        The file, packed (svgz) or not.
    name : str
        What to call it in findings.
    options : ReadOptions

    Raises
    ------
    ReadError
        If it cannot be read; the message is one sentence.
    """
    root = parse_svg(data, name, limits)
    return _Walker(root, name, options, limits).drawing()


class _Walker:
    def __init__(self, root: Any, name: str, options: ReadOptions, limits: Limits) -> None:
        self.root, self.name, self.limits = root, name, limits
        self.units, self.wanted, self.outline_strokes = options.units, options.layers, options.outline_strokes
        self.notes = Notes(name)
        self.budget = Budget(name, limits)
        self.lines: list[Piece] = []
        self.options = options
        self.layers: list[str] = []
        self.by_id: dict[str, Any] = {}
        sheets: list[str] = []
        for element in root.iter():
            if element.get("id"):
                self.by_id.setdefault(element.get("id"), element)
            if local_name(element) == "style":
                sheets.append("".join(element.itertext()))
        self.style = StyleSheets(root, sheets)
        if self.style.outside:
            self.notes.count(Code.OUTSIDE_REFERENCE, "style sheet", self.style.outside)

    def drawing(self) -> Drawing:
        page = read_page(self.root, self.name, self.units, self.notes)
        self.page_size, self.paper = (page.width, page.height), page.size
        extent = max(page.size or (page.width, page.height))
        self.filled = Filled(self.notes, page.size, SAME if page.units is not None else 1e-6 * extent)
        self.budget.spend_elements(self._count(self.root, {}, ()))
        state = _State(page.matrix, *self.page_size, inherit(dict(DEFAULTS), self.style.properties(self.root)))
        self._walk(state)
        self.notes.stand_at(None)
        if self.wanted is not None:
            missing = [layer for layer in self.wanted if layer not in self.layers]
            if missing:
                known = ", ".join(self.layers) or "none"
                raise ReadError(f"{self.name} has no layer '{missing[0]}'; its layers are: {known}")
        gap = gap_to_join(self.options, self.limits, page.units, self.notes)
        shapes = [*self.filled.finished(), *line_art(self.lines, self.name, self.notes, gap=gap)]
        return Drawing(tuple(shapes), page.units, tuple(self.layers), None, self.notes.findings())

    # The tree, with an explicit stack: depth must not depend on Python's.

    def _walk(self, state: _State) -> None:
        stack: list[tuple[Any, _State]] = [(self.root, state)]
        while stack:
            element, inherited = stack.pop()
            if element is self.root:
                children = [(child, self._as_layer(child, inherited)) for child in element]
                stack.extend((child, at) for child, at in reversed(children) if at is not None)
                continue
            stack.extend(reversed(self._visit(element, inherited)))

    def _count(self, element: Any, known: dict[str, int], named: tuple[str, ...]) -> int:
        """Elements to visit once every reference is written out; found out without writing them out.

        Raises
        ------
        ReadError
            If a reference leads back to itself or the nesting is deeper than the limit.
        """
        total = 0
        stack = [element]
        while stack:
            at = stack.pop()
            total += 1
            name = local_name(at)
            if name in GROUPS or at is element:
                stack.extend(at)
            target_name = reference(at) if name == "use" else ""
            target = self.by_id.get(target_name[1:]) if target_name.startswith("#") else None
            if target is None:
                continue
            if target_name in named:
                raise DamagedFile(
                    f"{self.name} has an object '{target_name[1:]}' that contains itself without end; "
                    "expand the repeated objects in the drawing program and save again"
                )
            if len(named) >= self.limits.depth:
                raise ReadError(
                    f"{self.name} nests repeated objects more than {self.limits.depth} deep; "
                    "expand them in the drawing program, or raise the limit in the settings"
                )
            if target_name not in known:
                known[target_name] = self._count(target, known, (*named, target_name))
            total += known[target_name]
        return total

    def _as_layer(self, element: Any, state: _State) -> _State | None:
        """State for a child of the root: with its layer's name when it is one; None when that layer is not read."""
        layer = label(element) if local_name(element) == "g" else ""
        if layer and layer not in self.layers:
            self.layers.append(layer)
        if self.wanted is not None and layer not in self.wanted and local_name(element) not in ("defs", "style"):
            return None
        if layer and self.wanted is None and self.style.properties(element).get("display") == "none":
            self.notes.add(Code.LAYER_SKIPPED, Severity.NOTE, f"layer '{layer}' not read: it is hidden in the file")
            return None
        return replace(state, layer=layer)

    def _visit(self, element: Any, inherited: _State) -> list[tuple[Any, _State]]:
        """Read one element; return what is to be visited below it."""
        name = local_name(element)
        if not name:
            return []
        self.notes.stand_at(spot(element, name, inherited.matrix))
        if name == "text":
            if "".join(element.itertext()).strip():
                self.notes.count(Code.TEXT_NOT_OUTLINES, "text")
            return []
        if name in ("image", "foreignObject", "video", "audio", "canvas", "iframe"):
            self.notes.count(Code.NOT_GEOMETRY, "image" if name == "image" else "embedded object")
            return []
        if name not in SHAPES and name not in GROUPS and name != "use":
            return []
        state = self._enter(element, inherited, name)
        if state is None:
            return []
        if name in SHAPES:
            self._shape(element, name, state)
            return []
        if name == "use":
            return self._use(element, state)
        if name == "svg":
            inner = self._viewport(element, state, None, None)
            return [] if inner is None else [(child, inner) for child in element]
        if name == "switch":
            chosen = next((child for child in element if local_name(child) and passes(child)), None)
            return [] if chosen is None else [(chosen, state)]
        return [(child, state) for child in element]

    def _enter(self, element: Any, inherited: _State, name: str) -> _State | None:
        own = self.style.properties(element)
        is_layer = inherited.layer and element.getparent() is self.root and self.wanted is not None
        if own.get("display") == "none" and not is_layer:
            self.notes.count(Code.NOT_VISIBLE, "object", shapes_below(element))
            return None
        properties = inherit(inherited.properties, own)
        matrix = inherited.matrix
        try:
            matrix = self._transform(element, name, own, inherited).then(matrix)
        except BadValue as error:
            self.notes.add(Code.BAD_VALUE, Severity.ERROR, f"{called(element, name)}: {error}; read untransformed")
        if matrix.determinant == 0.0 or not abs(matrix.determinant) < float("inf"):
            self.notes.count(Code.EMPTY_PIECE, "object", shapes_below(element))
            return None
        if own.get("filter", "none") != "none":
            self.notes.count(Code.EFFECT_IGNORED, "effect")
        object_id = inherited.object_id
        is_group_of_layer = name == "g" and element.getparent() is self.root
        if not inherited.named and not is_group_of_layer:
            object_id = str(element.get("id", "")).strip() or object_id
        return replace(
            inherited,
            matrix=matrix,
            properties=properties,
            object_id=object_id,
            clips=inherited.clips + self._clip(own.get("clip-path", "none"), matrix),
            is_masked=inherited.is_masked or own.get("mask", "none") != "none",
            is_lit=inherited.is_lit and fraction(own.get("opacity", "1")) > 0.0,
        )

    def _transform(self, element: Any, name: str, own: dict[str, str], inherited: _State) -> Affine:
        """An element's own transform about its origin (CSS Transforms 1, chapters 4 to 6)."""
        text = own["transform"].replace("px", "").replace("deg", "") if own.get("transform") else ""
        local = parse_transform(text or element.get("transform") or "none")
        box = own.get("transform-box", "view-box")
        if local == IDENTITY or ("transform-origin" not in own and box == "view-box"):
            return local
        if box != "view-box":
            self.notes.add(
                Code.BAD_VALUE,
                Severity.ERROR,
                f"{called(element, name)}: transformed about its own box, which is not read: it may stand elsewhere",
            )
            return local
        x, y = parse_origin(own["transform-origin"], inherited.width, inherited.height)
        return translation(-x, -y).then(local).then(translation(x, y))

    def _use(self, element: Any, state: _State) -> list[tuple[Any, _State]]:
        target_name = reference(element)
        if not target_name.startswith("#"):
            if target_name:
                self.notes.count(Code.OUTSIDE_REFERENCE, "reference")
            return []
        target = self.by_id.get(target_name[1:])
        if target is None:
            self.notes.count(Code.MISSING_REFERENCE, "reference")
            return []
        measure = self._measure(element, state)
        try:
            shift = translation(measure("x", "x", 0.0) or 0.0, measure("y", "y", 0.0) or 0.0)
            size = measure("width", "x", None), measure("height", "y", None)
        except BadValue as error:
            self.notes.add(Code.BAD_VALUE, Severity.ERROR, f"{called(element, 'use')}: {error}; not read")
            return []
        object_id = state.object_id or target_name[1:]
        inner = replace(state, matrix=shift.then(state.matrix), named=(*state.named, target_name), object_id=object_id)
        name = local_name(target)
        if name not in ("symbol", "svg"):
            return [(target, inner)]
        entered = self._enter(target, inner, name)
        if entered is None:
            return []
        viewport = self._viewport(target, entered, *size)
        return [] if viewport is None else [(child, viewport) for child in target]

    def _viewport(self, element: Any, state: _State, width: float | None, height: float | None) -> _State | None:
        """State inside a nested svg or a used symbol; None when its size is zero, which hides it."""
        measure = self._measure(element, state)
        try:
            x, y = measure("x", "x", 0.0) or 0.0, measure("y", "y", 0.0) or 0.0
            wide = width if width is not None else measure("width", "x", state.width)
            high = height if height is not None else measure("height", "y", state.height)
            box = parse_view_box(element.get("viewBox"))
        except BadValue as error:
            self.notes.add(Code.BAD_VALUE, Severity.ERROR, f"{called(element, 'svg')}: {error}; not read")
            return None
        if not wide or not high or wide < 0.0 or high < 0.0 or (box and (box.width == 0.0 or box.height == 0.0)):
            self.notes.count(Code.NOT_VISIBLE, "object", shapes_below(element))
            return None
        shown = box or ViewBox(0.0, 0.0, wide, high)
        local = view_box_transform(shown, x, y, wide, high, element.get("preserveAspectRatio"))
        clips = state.clips
        if self.style.properties(element).get("overflow", "hidden") not in ("visible", "auto"):
            frame = transform_contour(rectangle(wide, high, (x, y)), state.matrix)
            if reach((frame,)) <= self.limits.coordinate:
                clips = (*clips, Clip.from_contours((frame,), FillRule.NONZERO))
        return replace(state, matrix=local.then(state.matrix), width=shown.width, height=shown.height, clips=clips)

    def _measure(self, element: Any, state: _State) -> Any:
        em = font_size(state.properties["font-size"])
        wholes = {"x": state.width, "y": state.height, "d": ((state.width**2 + state.height**2) / 2.0) ** 0.5}

        def measure(attribute: str, axis: str, absent: float | None) -> float | None:
            text = element.get(attribute)
            if text is None or text.strip() in ("", "auto"):
                return absent
            value = to_px(parse_length(text), whole=wholes[axis], font_size=em)
            if abs(value) * stretch(state.matrix) > self.limits.coordinate:
                raise BadValue(f"{attribute} of {text[:40]} is further out than the limit in the settings")
            return value

        return measure

    # Shapes.

    def _shape(self, element: Any, name: str, state: _State) -> None:
        properties = state.properties
        is_shown = properties["visibility"] == "visible" and state.is_lit
        is_filled = is_shown and paints(properties, "fill") and name != "line"
        is_stroked = is_shown and paints(properties, "stroke") and stroke_width(properties) > 0.0
        if not (is_filled or is_stroked):
            self.notes.count(Code.NOT_VISIBLE, name)
            return
        what = called(element, name)
        try:
            tolerance = _TOLERANCE / max(stretch(state.matrix), 1e-12)
            most = self.limits.segments - self.budget.segments
            contours, wrong = shape_contours(element, self._measure(element, state), tolerance, most)
        except TooManyPieces:
            self.budget.spend_segments(self.limits.segments + 1)
            return
        except BadValue as error:
            self.notes.add(Code.BAD_VALUE, Severity.ERROR, f"{what} not read: {error}")
            return
        if wrong:
            self.notes.add(Code.BAD_VALUE, Severity.ERROR, f"{what}: {wrong}; read up to there")
        if not stays_within(contours, state.matrix, self.limits.coordinate):
            self.notes.add(
                Code.FAR_OUT,
                Severity.ERROR,
                f"{what} not read: it reaches further than {self.limits.coordinate:g} from the origin",
            )
            return
        if contours:
            self.notes.stand_at(state.matrix.apply(contours[0].segments[0].start))
        contours = self._rounded(contours)
        if is_filled:
            contours = self._as_filled(contours, name)
        elif contours and not self.outline_strokes:
            self.notes.count(Code.STROKE_AS_LINE, name)
        if not contours:
            self.notes.count(Code.EMPTY_PIECE, name)
            return
        if is_filled and is_stroked and not self.outline_strokes:
            self.notes.count(Code.STROKE_WIDTH_IGNORED, name)
        if is_filled and "url(" in properties["fill"]:
            self.notes.count(Code.EFFECT_IGNORED, "gradient or pattern fill")
        if name in ("path", "line", "polyline", "polygon") and any(properties[one] != "none" for one in MARKERS):
            self.notes.count(Code.MARKER_LEFT, "marker")
        if state.is_masked:
            self.notes.count(Code.MASK_IGNORED, name)
        self.budget.spend_segments(sum(len(contour.segments) for contour in contours))
        placed = tuple(transform_contour(contour, state.matrix) for contour in contours)
        effects = {Effect.CUTS if clip is None else clip.effect(placed) for clip in state.clips}
        if Effect.HIDES in effects:
            self.notes.count(Code.NOT_VISIBLE, name)
            return
        if Effect.CUTS in effects:
            self.notes.count(Code.CLIP_IGNORED, name)
        if self.paper is not None and is_past(placed, *self.paper):
            self.notes.count(Code.OFF_PAGE, name)
        rule = FillRule.EVEN_ODD if properties["fill-rule"] == "evenodd" else FillRule.NONZERO
        is_dashed = properties["stroke-dasharray"] != "none"
        if self.outline_strokes and is_stroked and is_dashed:
            self.notes.count(Code.STROKE_NOT_OUTLINED, name)
        if self.outline_strokes and is_stroked and not is_dashed:
            placed, rule = self._outlined(contours, rule if is_filled else None, name, state)
        elif not is_filled:
            self.lines += [Piece(contour, state.layer, state.object_id) for contour in placed]
            return
        shape = Shape(placed, rule, Source(self.name, state.layer, state.object_id))
        self.filled.add(shape, name, is_white=is_filled and not is_stroked and is_white(properties["fill"]))

    def _clip(self, value: str, matrix: Affine) -> tuple[Clip | None, ...]:
        """Clip that a ``clip-path`` property puts on what follows; None where its shape cannot be told."""
        if value == "none":
            return ()
        match = _REFERENCE.search(value)
        target = self.by_id.get(match.group(1)) if match else None
        if target is None or local_name(target) != "clipPath":
            # A reference to nothing clips nothing (CSS Masking 1, 5); basic shapes of CSS are not read.
            return () if match else (None,)
        if target.get("clipPathUnits") == "objectBoundingBox" or target.get("clip-path"):
            return (None,)
        contours: list[Contour] = []
        rules: set[str] = set()
        try:
            own = parse_transform(target.get("transform") or "none").then(matrix)
            for child in target:
                if local_name(child) not in SHAPES:
                    return (None,)
                inside = parse_transform(child.get("transform") or "none").then(own)
                state = _State(inside, *self.page_size, dict(DEFAULTS))
                tolerance = _TOLERANCE / max(stretch(inside), 1e-12)
                found, _wrong = shape_contours(child, self._measure(child, state), tolerance)
                if not stays_within(found, inside, self.limits.coordinate):
                    return (None,)
                closed = (closed_by_line(contour) for contour in found if not is_one_line(contour))
                contours += [transform_contour(contour, inside) for contour in closed]
                rules.add(self.style.properties(child).get("clip-rule", child.get("clip-rule", "nonzero")))
        except BadValue:
            return (None,)
        # Several children are united, whatever their rules; one alone keeps its own.
        rule = FillRule.EVEN_ODD if rules == {"evenodd"} and len(target) == 1 else FillRule.NONZERO
        return (Clip.from_contours(contours, rule),)

    def _outlined(
        self, contours: tuple[Contour, ...], rule: FillRule | None, name: str, state: _State
    ) -> tuple[tuple[Contour, ...], FillRule]:
        """What a stroked shape, in its own coordinates, paints on the page.

        The stroke is of even width in the shape's coordinates (SVG 2, 13.5), which are only scaled for that, so that
        lengths are about those of the page.
        """
        properties = state.properties
        scale = abs(state.matrix.determinant) ** 0.5
        # Mirrored as the page mirrors it, so that outlines run the right way round there.
        enlarged = scaling(scale, math.copysign(scale, state.matrix.determinant))
        onto_page = enlarged.inverse().then(state.matrix)
        outlined, said = painted(
            tuple(transform_contour(contour, enlarged) for contour in contours),
            rule,
            Stroke(
                stroke_width(properties) * scale,
                choice(Cap, properties["stroke-linecap"], Cap.BUTT),
                choice(Corner, properties["stroke-linejoin"], Corner.MITRE),
                max(1.0, fraction(properties["stroke-miterlimit"], 4.0)),
            ),
        )
        self.notes.extend(said)
        self.notes.count(Code.STROKE_OUTLINED, name)
        return tuple(transform_contour(contour, onto_page) for contour in outlined), FillRule.NONZERO

    def _rounded(self, contours: tuple[Contour, ...]) -> tuple[Contour, ...]:
        pairs = [with_arcs(contour) for contour in contours]
        found = sum(count for _, count in pairs)
        if found:
            self.notes.count(Code.ROUND, "curve", found)
        return tuple(contour for contour, _ in pairs)

    def _as_filled(self, contours: tuple[Contour, ...], name: str) -> tuple[Contour, ...]:
        closed = []
        for contour in contours:
            if is_one_line(contour):
                continue
            if not contour.is_closed:
                self.notes.count(Code.CLOSED_BY_FILL, name)
            closed.append(closed_by_line(contour))
        return tuple(closed)

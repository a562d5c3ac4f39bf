"""Interpreter of PDF page content (ISO 32000-1, chapters 8 and 9): painted paths with their fill rules and layers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pikepdf

from app.artwork.checks import closed_by_line, stays_within
from app.artwork.clips import Clip, Effect
from app.artwork.limits import Budget, Limits
from app.artwork.notes import Code, Notes
from app.artwork.pdf_layers import Layer, Layers, Unread
from app.artwork.pdf_painted import Painted
from app.artwork.pdf_path import PAINTS, PATH_LENGTHS, PathBuilder
from app.artwork.pdf_state import COLOUR_OPERATORS, PEN_OPERATORS, GraphicsState, entry, number
from app.artwork.pdf_streams import check_unpacked_size
from app.artwork.pdf_text import Fonts, Glyph, TextState
from app.artwork.roundness import with_arcs
from app.errors import DamagedFile, ReadError
from geometry.build import rectangle
from geometry.contour import Contour, FillRule
from geometry.transform import IDENTITY, Affine, transform_contour, translation

_TEXT_NUMBERS = {
    "Tc": ("character_spacing", 1.0),
    "Tw": ("word_spacing", 1.0),
    "Tz": ("stretch", 0.01),
    "TL": ("leading", 1.0),
    "Ts": ("rise", 1.0),
    "Tr": ("mode", 1.0),
}
TEXT_OPERATORS = frozenset({"BT", "Td", "TD", "Tm", "T*", "Tf", "Tj", "TJ", "'", '"', *_TEXT_NUMBERS})
_DEEPEST_STATE = 1000  # nested q operators; ISO 32000-1 annex C asks readers for 28


class Interpreter:
    """Runs the content of one page."""

    def __init__(
        self,
        layers: Layers,
        sink: Callable[[Painted], None],
        notes: Notes,
        budget: Budget,
        limits: Limits,
        font_folders: tuple[str, ...] = (),
    ) -> None:
        self.layers, self.sink, self.notes, self.budget, self.limits = layers, sink, notes, budget, limits
        self.fonts = Fonts(limits, font_folders)
        self.words: list[str] = []
        self._parsed: dict[tuple[int, int], list[Any]] = {}

    def run(self, content: Any, resources: Any, matrix: Affine) -> None:
        """Run a page's content stream; `matrix` maps user space to the sink's.

        Raises
        ------
        ReadError
            Before anything is drawn, if its forms would be drawn more often than the limit, nest too deep or name
            themselves.
        """
        self.budget.spend_elements(self._count_forms(self.parse(content), resources, {}, ()))
        _Run(self, resources, GraphicsState(matrix), self.layers.outermost).run(self.parse(content))
        self.fonts.tell(self.notes)

    def _count_forms(self, instructions: list[Any], resources: Any, known: dict[Any, int], inside: Any) -> int:
        """How often forms would be drawn; found out without drawing them."""
        total = 0
        for instruction in instructions:
            if str(instruction.operator) != "Do" or not instruction.operands:
                continue
            target = entry(entry(resources, "/XObject"), str(instruction.operands[0]))
            if not isinstance(target, pikepdf.Stream) or str(target.get("/Subtype")) != "/Form":
                continue
            key = target.objgen
            if key in inside:
                raise DamagedFile(
                    f"{self.notes.subject} has an object that contains itself without end; save it again as PDF"
                )
            if len(inside) >= self.limits.depth:
                raise ReadError(
                    f"{self.notes.subject} nests objects more than {self.limits.depth} deep; "
                    "flatten it in the drawing program, or raise the limit in the settings"
                )
            if key not in known:
                own = target.get("/Resources", resources)
                known[key] = 1 + self._count_forms(self.parse(target), own, known, (*inside, key))
            total += known[key]
        return total

    def parse(self, stream: Any) -> list[Any]:
        """Instructions of a content stream, kept for streams that are used again.

        Raises
        ------
        DamagedFile
            If it cannot be parsed.
        """
        key = stream.objgen if isinstance(stream, pikepdf.Object) else (0, 0)
        known = self._parsed.get(key) if key != (0, 0) else None
        if known is not None:
            return known
        if isinstance(stream, pikepdf.Stream):
            check_unpacked_size(stream, self.notes.subject, self.limits)
        try:
            parsed = list(pikepdf.parse_content_stream(stream))
        except (pikepdf.PdfError, TypeError, ValueError) as error:
            raise DamagedFile(f"{self.notes.subject}: the page's content is broken; save it again as PDF") from error
        if key != (0, 0):
            self._parsed[key] = parsed
        return parsed


class _Run:
    """One content stream: a page or a form."""

    def __init__(self, owner: Interpreter, resources: Any, state: GraphicsState, layer: Layer) -> None:
        self.owner, self.resources, self.state = owner, resources, state
        self.stack: list[GraphicsState] = []
        self.marks: list[Layer] = [layer]  # of each open marked content
        self.path = PathBuilder(owner.budget, owner.limits)
        self.clip_rule: FillRule | None = None
        self.text_matrix = self.line_matrix = IDENTITY

    def run(self, instructions: list[Any]) -> None:
        """Run all instructions; one with wrong operands is counted and left out, as ISO 32000-1, 7.8.2 allows."""
        for instruction in instructions:
            operator = str(instruction.operator)
            try:
                self._do(operator, instruction)
            except (ArithmeticError, AttributeError, IndexError, TypeError, ValueError):
                self.owner.notes.stand_at(None)
                self.owner.notes.count(Code.BAD_OPERATOR, "instruction")

    def _do(self, operator: str, instruction: Any) -> None:
        if operator in PATH_LENGTHS:
            self.path.add(operator, [number(value) for value in instruction.operands])
            return
        if operator in PAINTS:
            rule, is_stroked, close = PAINTS[operator]
            self._paint(rule, is_stroked=is_stroked, close=close)
            return
        if operator == "INLINE IMAGE":
            self._count(Code.NOT_GEOMETRY, "image")
            return
        values = list(instruction.operands)
        match operator:
            case "W":
                self.clip_rule = FillRule.NONZERO
            case "W*":
                self.clip_rule = FillRule.EVEN_ODD
            case "q":
                if len(self.stack) >= _DEEPEST_STATE:
                    raise ReadError(
                        f"{self.owner.notes.subject} nests its drawing state more than {_DEEPEST_STATE} deep"
                    )
                self.stack.append(self.state)
            case "Q":
                self.state = self.stack.pop()
            case "cm":
                self.state = self.state.moved(values)
            case "gs":
                self._set_parameters(entry(entry(self.resources, "/ExtGState"), str(values[0])))
            case "sh":
                self._count(Code.NOT_GEOMETRY, "shading")
            case "Do":
                self._object(values[0])
            case "BMC":
                self.marks.append(self.marks[-1])
            case "BDC":
                self._begin_marked(values)
            case "EMC":
                if len(self.marks) > 1:
                    self.marks.pop()
            case _ if operator in PEN_OPERATORS:
                self.state = self.state.with_pen(operator, values[0])
            case _ if operator in COLOUR_OPERATORS:
                self.state = self.state.with_colour(operator, values)
            case _ if operator in TEXT_OPERATORS:
                self._text(operator, values)

    def _count(self, code: Code, what: str) -> None:
        self.owner.notes.count(code, what)

    # Painting (8.5.3).

    def _paint(self, rule: FillRule | None, *, is_stroked: bool, close: bool) -> None:
        contours, clip_rule = self.path.taken(close=close), self.clip_rule
        self.clip_rule = None
        matrix = self.state.matrix
        if contours and not stays_within(contours, matrix, self.owner.limits.coordinate):
            self._count(Code.FAR_OUT_OBJECT, "path")
            return
        rounded = [with_arcs(contour) for contour in contours]
        placed = tuple(transform_contour(contour, matrix) for contour, _ in rounded)
        if placed:
            self.owner.notes.stand_at(placed[0].segments[0].start)
        found = sum(count for _, count in rounded)
        if found and (rule is not None or is_stroked):
            self.owner.notes.count(Code.ROUND, "curve", found)
        if (rule is not None or is_stroked) and placed:
            self._emit(placed, rule, is_stroked=is_stroked)
        if clip_rule is not None:
            clip = Clip.from_contours((closed_by_line(contour) for contour in placed), clip_rule)
            self.state = replace(self.state, clips=(*self.state.clips, clip))

    def _emit(
        self, placed: tuple[Contour, ...], rule: FillRule | None, *, is_stroked: bool, character: str = ""
    ) -> None:
        self.owner.budget.spend_elements()
        self.owner.budget.spend_segments(sum(len(contour.segments) for contour in placed))
        layer = self.marks[-1]
        state = self.state
        rule = rule if state.fill_alpha > 0.0 else None
        is_stroked = is_stroked and state.stroke_alpha > 0.0
        if isinstance(layer, Unread):
            self.owner.layers.skipped[layer.name] += 1
            return
        if not (rule is not None or is_stroked):
            self._count(Code.NOT_VISIBLE, "path")
            return
        effects = {clip.effect(placed) for clip in self.state.clips}
        if Effect.HIDES in effects:
            self._count(Code.NOT_VISIBLE, "path")
            return
        if Effect.CUTS in effects:
            self._count(Code.CLIP_IGNORED, "path")
        if state.is_masked:
            self._count(Code.MASK_IGNORED, "character" if character else "path")
        if (rule is not None and state.fill_alpha < 1.0) or (is_stroked and state.stroke_alpha < 1.0):
            self._count(Code.EFFECT_IGNORED, "transparent object")
        if rule is not None and self.state.is_pattern:
            self._count(Code.EFFECT_IGNORED, "pattern fill")
        self.owner.sink(
            Painted(
                placed,
                rule,
                is_stroked,
                layer,
                character,
                rule is not None and self.state.is_white,
                self.state.pen,
                self.state.matrix,
            )
        )

    def _set_parameters(self, given: Any) -> None:
        if isinstance(given, pikepdf.Dictionary):
            self.state = self.state.with_parameters(given, self.owner.fonts)
        else:
            self._count(Code.MISSING_REFERENCE, "reference")

    # Forms (8.10), images, layers (8.11).

    def _object(self, name: Any) -> None:
        self.owner.notes.stand_at(self.state.matrix.apply((0.5, 0.5)))  # an image fills the unit square
        target = entry(entry(self.resources, "/XObject"), str(name))
        if target is None:
            self._count(Code.MISSING_REFERENCE, "reference")
            return
        kind = str(target.get("/Subtype"))
        if kind == "/Image":
            self._count(Code.NOT_GEOMETRY, "image")
        elif kind == "/Form":
            self._form(target)
        else:
            self._count(Code.NOT_GEOMETRY, "embedded object")

    def _form(self, form: Any) -> None:
        owner = self.owner
        layer = owner.layers.of(form.get("/OC"), self.marks[-1])
        matrix = Affine(*map(number, form.get("/Matrix", (1, 0, 0, 1, 0, 0)))).then(self.state.matrix)
        clips = self.state.clips
        box = form.get("/BBox")
        if box is not None:
            x0, y0, x1, y1 = map(number, box)
            frame = rectangle(abs(x1 - x0), abs(y1 - y0), (min(x0, x1), min(y0, y1)))
            if stays_within((frame,), matrix, owner.limits.coordinate):
                clips = (*clips, Clip.from_contours((transform_contour(frame, matrix),), FillRule.NONZERO))
        inner = replace(self.state, matrix=matrix, clips=clips)
        resources = form.get("/Resources", self.resources)
        _Run(owner, resources, inner, layer).run(owner.parse(form))

    def _begin_marked(self, values: list[Any]) -> None:
        layer = self.marks[-1]
        if str(values[0]) == "/OC" and len(values) > 1:
            group = values[1]
            if isinstance(group, pikepdf.Name):
                group = entry(entry(self.resources, "/Properties"), str(group))
            layer = self.owner.layers.of(group, layer)
        self.marks.append(layer)

    # Text (9.4): glyphs of embedded fonts as outlines.

    def _text(self, operator: str, values: list[Any]) -> None:
        state = self.state.text
        match operator:
            case "BT":
                self.text_matrix = self.line_matrix = IDENTITY
            case "Td":
                self._next_line(number(values[0]), number(values[1]))
            case "TD":
                self.state = replace(self.state, text=replace(state, leading=-number(values[1])))
                self._next_line(number(values[0]), number(values[1]))
            case "Tm":
                self.text_matrix = self.line_matrix = Affine(*map(number, values))
            case "T*":
                self._next_line(0.0, -state.leading)
            case "Tf":
                font = entry(entry(self.resources, "/Font"), str(values[0]))
                changed = replace(state, font=self.owner.fonts.get(font), size=number(values[1]))
                self.state = replace(self.state, text=changed)
            case "Tj":
                self._show([values[0]])
            case "TJ":
                self._show(list(values[0]))
            case "'":
                self._next_line(0.0, -state.leading)
                self._show([values[0]])
            case '"':
                changed = replace(state, word_spacing=number(values[0]), character_spacing=number(values[1]))
                self.state = replace(self.state, text=changed)
                self._next_line(0.0, -state.leading)
                self._show([values[2]])
            case _:
                name, unit = _TEXT_NUMBERS[operator]
                self.state = replace(self.state, text=state.with_number(name, number(values[0]) * unit))

    def _next_line(self, x: float, y: float) -> None:
        self.text_matrix = self.line_matrix = translation(x, y).then(self.line_matrix)

    def _show(self, pieces: list[Any]) -> None:
        state = self.state.text
        self.owner.notes.stand_at(self.text_matrix.then(self.state.matrix).apply((0.0, 0.0)))
        if state.font is None:
            self._count(Code.TEXT_NOT_OUTLINES, "text")
            return
        is_seen = state.mode not in (3, 7)
        if is_seen and isinstance(self.marks[-1], str):
            codes = b"".join(bytes(piece) for piece in pieces if isinstance(piece, pikepdf.String))
            self.owner.fonts.note(state.font, codes, self.text_matrix.then(self.state.matrix).apply((0.0, 0.0)))
        if is_seen and not state.font.name and not state.font.has_outlines:
            self._count(Code.TEXT_NOT_OUTLINES, "text")
        for piece in pieces:
            if not isinstance(piece, pikepdf.String):
                shift = -number(piece) / 1000.0 * state.size * state.stretch
                self.text_matrix = translation(shift, 0.0).then(self.text_matrix)
                continue
            for glyph in state.font.glyphs(bytes(piece)):
                if is_seen:
                    self._glyph(glyph, state)
                advance = glyph.width * state.size + state.character_spacing
                if glyph.is_space:
                    advance += state.word_spacing
                self.text_matrix = translation(advance * state.stretch, 0.0).then(self.text_matrix)

    def _glyph(self, glyph: Glyph, state: TextState) -> None:
        if glyph.text:
            self.owner.words.append(glyph.text)
        if not glyph.contours:
            if glyph.is_missing and state.font is not None and state.font.has_outlines:
                self._count(Code.TEXT_NOT_OUTLINES, "character")
            return
        scale = Affine(state.size * state.stretch, 0.0, 0.0, state.size, 0.0, state.rise)
        matrix = scale.then(self.text_matrix).then(self.state.matrix)
        if matrix.determinant == 0.0 or not stays_within(glyph.contours, matrix, self.owner.limits.coordinate):
            self._count(Code.FAR_OUT_OBJECT, "character")
            return
        placed = tuple(transform_contour(contour, matrix) for contour in glyph.contours)
        self.owner.notes.stand_at(placed[0].segments[0].start)
        if state.font is None or state.font.substitute is None:
            self._count(Code.TEXT_OUTLINED, "character")
        self._emit(placed, FillRule.NONZERO, is_stroked=False, character=glyph.text or "?")

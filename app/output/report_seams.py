"""The report's section on divided parts: each letter drawn with its seams, and why every seam is where it is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final

from reportlab.platypus import Flowable, KeepTogether, Spacer

from app.artwork.drawing import Letter
from app.fabrication.part import PartSeam, Role
from app.job.document import DisplayUnits
from app.output.report_lead import format_short
from app.output.report_style import HEADING, SMALL_BOLD, outside, rich, table, text
from app.output.typeface import BODY
from app.planning.job_plan import JobPlan
from geometry.flatten import flatten_region

_HIGHEST: Final = 260.0  # points
_FLATTENED: Final = 1.0  # mm
_DASHES: Final = {Role.BACKER: (), Role.FACE: (5.0, 2.5), Role.RETAINER: (1.2, 2.0)}
_LINE_NAMES: Final = {Role.BACKER: "full line", Role.FACE: "dashes", Role.RETAINER: "dots"}


def seams(plan: JobPlan, width: float) -> Iterator[Any]:
    """Every letter that has seams: its picture and a table of them. Nothing when no part is divided."""
    if not plan.seams:
        return
    letters = {letter.id: letter for lettering in plan.lettering for letter in lettering.letters}
    yield rich("Seams", HEADING)
    yield rich(
        "No sheet of the job holds these parts whole. Seams run straight through wide strokes, clear of corners and "
        "of the tips of counters; those of the layers are staggered. Places are measured from the lower left of the "
        "letter."
    )
    for letter_id in dict.fromkeys(seam.letter for seam in plan.seams):
        mine = [seam for seam in plan.seams if seam.letter == letter_id]
        letter = letters[letter_id]
        heading = rich(f"<b>{outside(letter.name)}</b> ({outside(letter_id)}): {_legend(mine)}")
        yield KeepTogether([heading, _Picture(letter, mine, width), Spacer(1, 4)])
        yield _table(mine, width, plan.job.units)
        yield Spacer(1, 8)


def _legend(mine: Sequence[PartSeam]) -> str:
    roles = dict.fromkeys(seam.role for seam in mine)
    return ", ".join(f"{role} in {_LINE_NAMES.get(role, 'full line')}" for role in roles)


def _table(mine: Sequence[PartSeam], width: float, units: DisplayUnits) -> Any:
    rows: list[list[object]] = []
    for number, one in enumerate(mine, start=1):
        (x0, y0), (x1, y1) = one.seam.start, one.seam.end
        place = f"{_point(x0, y0, units)} to {_point(x1, y1, units)}"
        own = "own; " if one.is_own else ""
        rows.append([str(number), text(one.role.value, SMALL_BOLD), place, own + one.reason, one.joint])
    widths = [20.0, 52.0, (width - 72.0) * 0.26, (width - 72.0) * 0.45, (width - 72.0) * 0.29]
    return table(["no.", "part", "from and to", "why here", "joint"], rows, widths, right=(0,))


def _point(x: float, y: float, units: DisplayUnits) -> str:
    return f"({format_short(x, units)}, {format_short(y, units)})"


class _Picture(Flowable):  # type: ignore[misc]
    """The letter in thin lines, its seams numbered and told apart by their dashes."""

    def __init__(self, letter: Letter, mine: Sequence[PartSeam], width: float) -> None:
        super().__init__()
        self._rings = [
            ring
            for region in letter.regions
            for outline in (flatten_region(region, _FLATTENED),)
            for ring in (outline.outer, *outline.holes)
        ]
        self._seams = mine
        self._left = min(float(ring[:, 0].min()) for ring in self._rings)
        self._bottom = min(float(ring[:, 1].min()) for ring in self._rings)
        across = max(float(ring[:, 0].max()) for ring in self._rings) - self._left
        up = max(float(ring[:, 1].max()) for ring in self._rings) - self._bottom
        self._scale = min((width - 20.0) / across, _HIGHEST / up)
        self.width, self.height = width, up * self._scale + 24.0

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Its own size."""
        return self.width, self.height

    def draw(self) -> None:
        """Draw on the page."""
        canvas: Any = self.canv
        canvas.saveState()
        canvas.setLineWidth(0.4)
        canvas.setFillGray(0.93)
        path = canvas.beginPath()
        for ring in self._rings:
            first, *rest = [self._at(float(x), float(y)) for x, y in ring]
            path.moveTo(*first)
            for point in rest:
                path.lineTo(*point)
            path.close()
        canvas.drawPath(path, stroke=1, fill=1, fillMode=0)
        canvas.setFillGray(0.0)
        canvas.setFont(BODY, 7.0)
        for number, seam in enumerate(self._seams, start=1):
            canvas.setLineWidth(1.2)
            canvas.setDash(*([_DASHES[seam.role]] if _DASHES.get(seam.role) else [()]))
            start, end = self._at(*seam.start), self._at(*seam.end)
            canvas.line(*start, *end)
            canvas.drawCentredString(end[0], end[1] + 2.5, str(number))
        canvas.restoreState()

    def _at(self, x: float, y: float) -> tuple[float, float]:
        return (x - self._left) * self._scale + 10.0, (y - self._bottom) * self._scale + 8.0

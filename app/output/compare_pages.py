"""A comparison of stock as a chart and as a PDF."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from reportlab.graphics import renderSVG
from reportlab.graphics.shapes import Drawing, Group, Line, Rect, String
from reportlab.lib.colors import Color, black, white
from reportlab.lib.pagesizes import landscape
from reportlab.platypus import KeepTogether, Spacer

from app.job.document import Job
from app.output.compare_tables import GAP, RIGHT, UNBEATEN, Compared, headings, row_in_words
from app.output.plain_pages import text_room, write_pages
from app.output.report import page_size_for
from app.output.report_style import HEADING, TITLE, outside, rich, table, text
from app.output.typeface import BODY, BOLD, fitted, printable, register, text_width
from app.output.words import DEFINITIONS
from app.planning.compare import Effort, Outcome
from app.planning.cut_time import BASIS
from app.stock.money import format_price

_ROW: Final = 15.0  # points per choice
_BAR: Final = 10.0
_NAMES: Final = 0.34  # share of the chart's width
_FIGURES: Final = 0.2
_PARTS: Final = Color(0.15, 0.15, 0.15)
_KEPT: Final = Color(0.62, 0.62, 0.62)
_SCRAP: Final = white


def compare_chart(job: Job, one: Compared, width: float) -> Any:
    """Bars of sheet area for every choice: parts, kept offcuts and scrap, with the cost behind.

    Parameters
    ----------
    job : Job
    one : Compared
    width : float
        Points; the height follows from the number of choices.

    Returns
    -------
    reportlab.graphics.shapes.Drawing
        Black on white, told apart by tone, so that it survives a copier.
    """
    register()
    legend = 16.0
    height = legend + _ROW * len(one.outcomes) + 4.0
    drawing: Any = Drawing(width, height)
    left, room = width * _NAMES, width * (1.0 - _NAMES - _FIGURES)
    longest = max((outcome.sheet_area for outcome in one.outcomes), default=0.0) or 1.0
    for index, outcome in enumerate(one.outcomes):
        y = height - legend - _ROW * (index + 1) + (_ROW - _BAR) / 2
        face = BOLD if index == one.advice.index else BODY
        mark = "-> " if index == one.advice.index else "* " if one.unbeaten[index] else ""
        words, size = fitted(printable(mark + outcome.choice.name), left - 6.0, 7.5, face=face)
        drawing.add(
            String(left - 5.0 - text_width(words, size, face=face), y + 2.2, words, fontName=face, fontSize=size)
        )
        at = left
        for area, tone in _pieces(outcome):
            wide = room * area / longest
            if wide > 0.0:
                drawing.add(Rect(at, y, wide, _BAR, fillColor=tone, strokeColor=black, strokeWidth=0.4))
                at += wide
        drawing.add(String(at + 4.0, y + 2.2, _figures(job, outcome), fontName=face, fontSize=7.0))
    drawing.add(Line(left, 2.0, left, height - legend, strokeColor=black, strokeWidth=0.6))
    at = left
    for tone, words in ((_PARTS, "parts"), (_KEPT, "kept offcuts"), (_SCRAP, "scrap")):
        drawing.add(Rect(at, height - 11.0, 8.0, 8.0, fillColor=tone, strokeColor=black, strokeWidth=0.4))
        drawing.add(String(at + 11.0, height - 10.0, words, fontName=BODY, fontSize=7.0))
        at += 11.0 + text_width(words, 7.0) + 14.0
    drawing.add(String(at, height - 10.0, "(length: sheet area)", fontName=BODY, fontSize=7.0))
    return drawing


def write_compare_svg(job: Job, all_compared: Sequence[Compared], path: Path) -> None:
    """Write the charts of all materials as one SVG picture."""
    width, gap = 640.0, 26.0
    charts = [compare_chart(job, one, width) for one in all_compared]
    whole: Any = Drawing(width, sum(chart.height + gap for chart in charts) + 4.0)
    top = whole.height
    for one, chart in zip(all_compared, charts, strict=True):
        top -= gap
        whole.add(String(4.0, top + 6.0, printable(one.material.name), fontName=BOLD, fontSize=10.0))
        top -= chart.height
        whole.add(Group(*chart.contents, transform=(1, 0, 0, 1, 0, top)))
    drawn = renderSVG.drawToString(whole)
    # The picture cannot bring its typeface along; the reader's own stands in for it.
    drawn = drawn.replace(f"font-family: {BODY};", "font-family: sans-serif;")
    drawn = drawn.replace(f"font-family: {BOLD};", "font-family: sans-serif; font-weight: bold;")
    path.write_text(drawn, encoding="utf-8")


def write_compare_pdf(
    job: Job, all_compared: Sequence[Compared], effort: Effort, path: Path, *, when: datetime
) -> None:
    """Write what is recommended and why, the chart and the table of each material."""
    size = landscape(page_size_for(job.units))
    write_pages(
        path, f"{job.name}: stock compared", _story(job, all_compared, effort, text_room(size)), when=when, size=size
    )


def _story(job: Job, all_compared: Sequence[Compared], effort: Effort, width: float) -> Iterator[Any]:
    yield text(f"{job.name}: stock compared", TITLE)
    unit, number = ("second", effort.seconds) if effort.rounds is None else ("round", effort.rounds)
    spent = f"{number:g} {unit}" + ("" if number == 1 else "s")
    yield rich(f"Every choice was planned with the same effort: {spent}, seed {effort.seed}.")
    widths = [16.0, 0.0, *[44.0] * 10]
    widths[1] = width - sum(widths)
    for one in all_compared:
        rows = [
            row_in_words(job, outcome, on_front=on_front, recommended=index == one.advice.index)
            for index, (outcome, on_front) in enumerate(zip(one.outcomes, one.unbeaten, strict=True))
        ]
        yield KeepTogether(
            [
                text(one.material.name, HEADING),
                rich(f"<b>Recommended:</b> {outside(one.advice.why)}"),
                Spacer(1, 4),
                compare_chart(job, one, width),
            ]
        )
        yield Spacer(1, 4)
        yield table(headings(job), rows, widths, right=RIGHT)
        for outcome in one.outcomes:
            if outcome.fault:
                yield text(f"{outcome.choice.name}: {outcome.fault}")
    yield Spacer(1, 8)
    for words in (
        *(f"{name}: {DEFINITIONS[name]}" for name in ("net yield", "credited yield", "waste factor")),
        BASIS,
        GAP,
        f"* {UNBEATEN}; -> recommended",
    ):
        yield text(words)


def _pieces(outcome: Outcome) -> tuple[tuple[float, Any], ...]:
    scrap = outcome.sheet_area - outcome.part_area - outcome.offcut_area
    return ((outcome.part_area, _PARTS), (outcome.offcut_area, _KEPT), (scrap, _SCRAP))


def _figures(job: Job, outcome: Outcome) -> str:
    if outcome.fault:
        return "cannot be planned"
    said = f"{outcome.sheet_count} sheet{'' if outcome.sheet_count == 1 else 's'}"
    if outcome.cost is not None:
        said += f", {format_price(outcome.cost, job.currency)} {job.currency}"
    return said + (f", {outcome.unplaced} not placed" if outcome.unplaced else "")

"""The report's first page, for the shop lead: what it takes, how good it is, what to watch."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Any, Final

from reportlab.lib.colors import black
from reportlab.platypus import CondPageBreak, Flowable, Spacer, Table, TableStyle

from app.job.document import DisplayUnits
from app.output.cut_sheet import CutSheet
from app.output.finding_groups import group_findings, more_like_it
from app.output.operator_notes import minutes_text
from app.output.report_style import (
    ALERT,
    BODY_TEXT,
    HEADING,
    SMALL,
    SMALL_BOLD,
    TITLE,
    outside,
    rich,
    table,
    text,
)
from app.output.words import DEFINITIONS, area_text, counted, weight_text
from app.planning.job_plan import JobPlan, MaterialSummary
from app.stock.money import format_price
from geometry.findings import Finding, Severity
from geometry.units import MM_PER, format_length

SHOWN_FIRST: Final = 10
"""Findings and unplaced parts shown on the first page; the whole lists stand further back."""
_MATERIALS_ABREAST: Final = 3
_FEW_SHEETS: Final = 6
"""So many sheets are listed before the findings; more would push those off the first page."""
_SEVERITY: Final = {Severity.ERROR: "NOT DONE", Severity.WARNING: "LOOK AT", Severity.NOTE: "note"}
_TOLD_IN_FULL: Final = 3
"""So many findings of one kind are told in full in the list at the end; all of them stand in findings.csv."""


def lead_pages(plan: JobPlan, sheets: Sequence[CutSheet], when: datetime, width: float) -> Iterator[Any]:
    """What the shop lead reads first; `width` is that of the text, points."""
    wanted = sum(len(sheet.pieces) for sheet in sheets) + len(plan.unplaced)
    placed = wanted - len(plan.unplaced)
    yield text(plan.job.name, TITLE)
    in_words = "inches" if plan.job.units is DisplayUnits.INCHES else "millimetres"
    yield rich(
        f"Cutting plan of {when.day} {when:%B %Y, %H:%M}. {counted(len(sheets), 'sheet')}{_total_cost(plan)}, "
        f"{placed} of {wanted} parts placed. Lengths in {in_words} unless marked."
    )
    if plan.job.notes:
        yield text(plan.job.notes, BODY_TEXT)
    yield from _unplaced(plan, width)
    yield rich("Materials", HEADING)
    for first in range(0, len(plan.summaries), _MATERIALS_ABREAST):
        yield _figures(plan, plan.summaries[first : first + _MATERIALS_ABREAST], width)
        yield Spacer(1, 5)
    yield rich("Sheets used against the fewest possible", HEADING)
    names = {material.id: material.name for material in plan.job.materials}
    for figures in plan.summaries:
        yield rich(
            f"<b>{outside(names[figures.material])}:</b> {figures.sheet_count} used, fewest possible "
            f"{figures.least_sheets}: {_gap(figures)}. {outside(_sentence(figures.bound_reason))}"
        )
    sheets_first = len(sheets) <= _FEW_SHEETS
    if sheets_first:
        yield from _sheets(plan, sheets, width)
    yield CondPageBreak(90)
    yield rich("What to watch", HEADING)
    if plan.findings:
        yield _FindingsThatFit(plan)
    else:
        yield rich("Nothing was found that needs a look.")
    if not sheets_first:
        yield from _sheets(plan, sheets, width)


def finding_list(findings: Sequence[Finding], width: float, units: DisplayUnits) -> Any:
    """All findings as a table of the given width, points, the gravest first; of many alike a few are told in full."""
    rows: list[list[object]] = []
    for group in group_findings(findings):
        rows += [_finding_row(finding, units) for finding in group.shown(_TOLD_IN_FULL)]
        left = len(group.findings) - len(group.shown(_TOLD_IN_FULL))
        if left:
            rows.append(["", f"{left:,} more like it", f"{group.others(_TOLD_IN_FULL)}; each in findings.csv."])
    return _finding_table(rows, width)


def _finding_row(finding: Finding, units: DisplayUnits, more: str = "") -> list[object]:
    word = _SEVERITY[finding.severity]
    place = "" if finding.where is None else f" (at {', '.join(format_short(at, units) for at in finding.where)})"
    done = " Put right." if finding.fixed else ""
    style = SMALL if finding.severity is Severity.NOTE else SMALL_BOLD
    return [text(word, style), finding.subject, _sentence(finding.message + place + more) + done]


def _finding_table(rows: list[list[object]], width: float) -> Any:
    widths = [54.0, 96.0, width - 150.0]
    return table(["", "where", "what, and the way out"], rows, widths)


def unplaced_rows(plan: JobPlan) -> list[list[object]]:
    """Rows of a table of unplaced copies."""
    return [[left.part, str(left.copy + 1), left.reason] for left in plan.unplaced]


def unplaced_table(rows: list[list[object]], width: float) -> Any:
    """Unplaced copies as a table of the given width, points."""
    return table(["part", "copy", "why"], rows, [150.0, 34.0, width - 184.0], right=(1,))


class _FindingsThatFit(Flowable):  # type: ignore[misc]
    """As many of the gravest kinds of finding as the page has room for, and how many more findings there are."""

    def __init__(self, plan: JobPlan) -> None:
        super().__init__()
        self._findings = plan.findings
        self._units = plan.job.units
        self._watched = _watched(plan.findings)[:SHOWN_FIRST]
        self._parts: list[Any] = []

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Leave out findings until the rest fits; at least one is shown, on the next page if need be."""
        least = min(len(self._watched), 1)
        for count in range(len(self._watched), least - 1, -1):
            rows = [_finding_row(finding, self._units, more_like_it(more)) for finding, more in self._watched[:count]]
            self._parts = [_finding_table(rows, width)] if count else []
            left = len(self._findings) - sum(1 + more for _, more in self._watched[:count])
            if left:
                noun = "more finding" if count else "note"
                self._parts.append(rich(f"{counted(left, noun)} under Findings, at the end.", SMALL))
            self._sizes = [part.wrap(width, height) for part in self._parts]
            total = sum(size[1] + 3.0 for size in self._sizes)
            if total <= height:
                break
        return width, total

    def draw(self) -> None:
        """Paint the parts one below the other."""
        y = sum(size[1] + 3.0 for size in self._sizes)
        for part, size in zip(self._parts, self._sizes, strict=True):
            y -= size[1] + 3.0
            part.drawOn(self.canv, 0, y)


def _watched(findings: Sequence[Finding]) -> list[tuple[Finding, int]]:
    """What to look at, the gravest first: a finding of each kind, and how many more like it; errors one by one."""
    told = []
    for group in group_findings(finding for finding in findings if finding.severity is not Severity.NOTE):
        shown = group.shown(1)
        told += [(finding, 0) for finding in shown[:-1]] + [(shown[-1], len(group.findings) - len(shown))]
    return told


def _unplaced(plan: JobPlan, width: float) -> Iterator[Any]:
    yield Spacer(1, 4)
    if not plan.unplaced:
        yield rich("<b>Every part is placed.</b> Spacing, margins, keep-outs and order were checked on the cut files.")
        return
    band: Any = Table([[rich(f"{counted(len(plan.unplaced), 'PART')} NOT PLACED", ALERT)]], colWidths=[width])
    band.setStyle(TableStyle([("BACKGROUND", (0, 0), (-1, -1), black), ("LEFTPADDING", (0, 0), (-1, -1), 6)]))
    yield band
    rows = unplaced_rows(plan)
    yield unplaced_table(rows[:SHOWN_FIRST], width)
    if len(rows) > SHOWN_FIRST:
        yield rich(f"and {len(rows) - SHOWN_FIRST} more, listed at the end.", SMALL)


def _figures(plan: JobPlan, figures: Sequence[MaterialSummary], width: float) -> Any:
    names = {material.id: material.name for material in plan.job.materials}
    currency = plan.job.currency

    def row(name: str, values: list[str], meaning: str) -> list[object]:
        return [text(name, SMALL_BOLD), *values, meaning]

    def sure(one: MaterialSummary, value: float) -> str:
        return f"{value:.1%}" if one.sheet_area else "-"

    rows = [
        row("sheets used", [str(one.sheet_count) for one in figures], "whole sheets, after nesting"),
        row("fewest possible", [str(one.least_sheets) for one in figures], DEFINITIONS["fewest sheets"]),
        row("net yield", [sure(one, one.net_yield) for one in figures], DEFINITIONS["net yield"]),
        row("waste share", [sure(one, 1 - one.net_yield) for one in figures], DEFINITIONS["waste share"]),
        row(
            "waste factor",
            [f"{one.sheet_area / one.part_area - 1:.1%}" if one.part_area else "-" for one in figures],
            DEFINITIONS["waste factor"],
        ),
        row("credited yield", [sure(one, one.credited_yield) for one in figures], DEFINITIONS["credited yield"]),
        row("part area", [area_text(one.part_area, plan.job.units) for one in figures], "holes removed"),
        row("sheet area", [area_text(one.sheet_area, plan.job.units) for one in figures], "of the sheets used"),
        row(
            f"cost {currency}",
            ["not known" if one.cost is None else format_price(one.cost, currency) for one in figures],
            "of the sheets used, at the prices in the job; not known where one has no price",
        ),
        row(
            "weight",
            [weight_text(one.weight_kg, plan.job.units) for one in figures],
            "of the sheets used: area x thickness x density",
        ),
        row(
            "scrap weight",
            [weight_text(one.scrap_kg, plan.job.units) for one in figures],
            DEFINITIONS["scrap weight"],
        ),
    ]
    first, last = 78.0, 190.0
    each = (width - first - last) / len(figures)
    return table(
        ["", *[names[one.material] for one in figures], "how it is counted"],
        rows,
        [first, *[each] * len(figures), last],
        right=tuple(range(1, len(figures) + 1)),
    )


def _sheets(plan: JobPlan, sheets: Sequence[CutSheet], width: float) -> Iterator[Any]:
    if not sheets:
        return
    yield CondPageBreak(90)
    yield rich("Sheets", HEADING)
    rows: list[list[object]] = []
    for cut in sheets:
        sheet = cut.planned
        rows.append(
            [
                str(sheet.number),
                sheet.file,
                sheet.material.name,
                sheet.stock.name,
                str(len(cut.pieces)),
                f"{cut.net_yield:.1%}",
                format_long(cut.summary.cut_length, plan.job.units),
                str(cut.summary.pierce_count),
                minutes_text(cut.time.total_s),
            ]
        )
    fixed = [30.0, 30.0, 44.0, 48.0, 38.0, 50.0]
    spare = width - sum(fixed)
    widths = [30.0, 0.34 * spare, 0.44 * spare, 0.22 * spare, *fixed[1:]]
    headings = ["sheet", "file", "material", "stock", "parts", "net yield", "cut length", "pierces", "about"]
    yield table(headings, rows, widths, right=(0, 4, 5, 6, 7, 8))
    total = sum(cut.time.total_s for cut in sheets)
    together = minutes_text(total)
    yield rich(f"All sheets together: about {together} at the machine, loading and sweeping not counted.", SMALL)


def _gap(figures: MaterialSummary) -> str:
    """How far the sheets used are from the fewest that are possible."""
    gap = figures.sheet_count - figures.least_sheets
    if gap <= 0 or figures.least_sheets == 0:
        return "no gap, no plan can use fewer"
    return f"a gap of {counted(gap, 'sheet')}, {gap / figures.least_sheets:.0%}"


def format_long(mm: float, units: DisplayUnits) -> str:
    """A length too long for a rule: feet or metres."""
    return f"{mm / MM_PER['ft']:,.1f} ft" if units is DisplayUnits.INCHES else f"{mm / MM_PER['m']:,.1f} m"


def format_short(mm: float, units: DisplayUnits) -> str:
    """A length in the job's units."""
    return format_length(mm, units.value)


def _total_cost(plan: JobPlan) -> str:
    costs = [figures.cost for figures in plan.summaries]
    known = [cost for cost in costs if cost is not None]
    if not costs or len(known) < len(costs):
        return ""
    return f" for {format_price(sum(known), plan.job.currency)} {outside(plan.job.currency)}"


def _sentence(words: str) -> str:
    words = words.strip()
    return words[:1].upper() + words[1:] + ("" if words.endswith((".", "!", "?")) else ".")

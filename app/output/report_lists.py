"""The back of the report: parts by letter, what to buy, the settings used, all findings."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any

from reportlab.platypus import CondPageBreak, Spacer

from app.job.document import Build, Job
from app.job.kinds import KINDS
from app.job.quantities import format_quantity
from app.job.settings import SETTINGS
from app.output.cut_sheet import CutSheet
from app.output.report_lead import SHOWN_FIRST, finding_list, format_short, unplaced_rows, unplaced_table
from app.output.report_style import BODY_TEXT, HEADING, SMALL_BOLD, outside, rich, table, text
from app.output.words import weight_text
from app.planning.job_plan import JobPlan
from app.stock.book import spacing_of
from app.stock.defaults import shipped
from app.stock.money import format_price
from app.stock.weights import weight
from geometry.measure import region_bounds
from geometry.units import format_both, format_inches


def parts_by_letter(plan: JobPlan, sheets: Sequence[CutSheet], width: float) -> Iterator[Any]:
    """Every part under its letter, with its size in both units and where its copies lie."""
    yield rich("Parts by letter", HEADING)
    places: dict[str, list[str]] = {}
    for cut in sheets:
        for piece in cut.pieces:
            places.setdefault(piece.part.id, []).append(f"{cut.planned.number} no. {piece.number}")
    names = {letter.id: letter.name for lettering in plan.lettering for letter in lettering.letters}
    by_letter: dict[str, list[Any]] = {letter: [] for letter in names}
    for part in plan.parts:
        by_letter.setdefault(part.letter, []).append(part)
    rows: list[list[object]] = []
    for letter, parts in by_letter.items():
        if not parts:
            name = text(f"{names[letter]} ({letter})", SMALL_BOLD)
            rows.append([name, "no parts", "", "", "", "", ""])
        for index, part in enumerate(parts):
            bounds = region_bounds(part.region)
            heading = f"{names[letter]} ({letter})" if letter in names else letter
            there = places.get(part.id, [])
            rows.append(
                [
                    text(heading, SMALL_BOLD) if index == 0 else "",
                    part.id,
                    part.name,
                    f"{format_inches(bounds.width)} × {format_inches(bounds.height)}",
                    f"{bounds.width:.1f} × {bounds.height:.1f}",
                    str(part.quantity),
                    "; ".join(there) if there else "not placed",
                ]
            )
    inches, mm, quantity = 84.0, 82.0, 26.0
    spare = width - inches - mm - quantity
    widths = [spare * 0.24, spare * 0.29, spare * 0.26, inches, mm, quantity, spare * 0.21]
    headings = ["letter", "part", "name", "width × height in", "width × height mm", "qty", "sheet and number"]
    yield table(headings, rows, widths, right=(5,))


def buy_list(plan: JobPlan, width: float) -> Iterator[Any]:
    """How many sheets of each stock size to buy or take."""
    job = plan.job
    yield CondPageBreak(110)
    yield rich("Buy list", HEADING)
    used = Counter(sheet.stock.id for sheet in plan.sheets)
    materials = {material.id: material for material in job.materials}
    rows: list[list[object]] = []
    total: int | None = 0
    for stock in job.stock:
        count = used[stock.id]
        if not count:
            continue
        material = materials[stock.material]
        kg = count * weight(stock.area, material.density, material.thickness)
        price = None if stock.price is None else stock.price * count
        total = None if total is None or price is None else total + price
        rows.append(
            [
                str(count),
                material.name,
                stock.name,
                f"{format_both(stock.width)} × {format_both(stock.height)}",
                "not known" if stock.price is None else format_price(stock.price, job.currency),
                "not known" if price is None else format_price(price, job.currency),
                weight_text(kg, job.units),
            ]
        )
    if not rows:
        yield rich("No sheet is used.")
        return
    spare = width - 40.0 - 150.0 - 52.0 - 58.0 - 88.0
    widths = [40.0, spare * 0.6, spare * 0.4, 150.0, 52.0, 58.0, 88.0]
    headings = [
        "sheets",
        "material",
        "stock",
        "width × height",
        f"each {job.currency}",
        f"all {job.currency}",
        "weight",
    ]
    yield table(headings, rows, widths, right=(0, 4, 5, 6))
    yield Spacer(1, 3)
    if total is None:
        yield rich("The total cost is not known, because a price is missing.")
    else:
        yield rich(f"All sheets together: <b>{format_price(total, job.currency)} {outside(job.currency)}</b>.")


def settings_used(plan: JobPlan, width: float) -> Iterator[Any]:
    """Every number the plan rests on, with where it comes from."""
    job = plan.job
    yield rich("Settings used", HEADING)
    yield rich("A default can be changed in the job; its mark says where it comes from.")
    used = {sheet.material.id for sheet in plan.sheets}
    yield _materials_table(job, used, width)
    told: dict[str, Build] = {}
    for build in job.builds:
        roles = ", ".join(f"{role}: {material}" for role, material in build.materials)
        heading = f"<b>{outside(build.name)}</b> ({outside(build.kind)}; {outside(roles)})"
        first = told.setdefault(build.kind, build)
        names = _setting_names(build)
        if first is not build:
            before, now = dict(first.settings), dict(build.settings)
            names = [name for name in names if _value(before, name) != _value(now, name)]
            heading += f": all else as for <b>{outside(first.name)}</b>"
        yield CondPageBreak(90)
        yield Spacer(1, 6)
        yield rich(heading, BODY_TEXT)
        if names:
            yield _build_table(job, build, names, width)
    yield Spacer(1, 6)
    yield rich(f"Planned with seed {plan.seed}, {plan.rounds:,} rounds, in {plan.seconds:.1f} seconds.")


def findings(plan: JobPlan, width: float) -> Iterator[Any]:
    """All findings, and all unplaced parts where the first page leaves any out."""
    if plan.findings:
        yield CondPageBreak(90)
        yield rich("Findings", HEADING)
        yield finding_list(plan.findings, width, plan.job.units)
    if len(plan.unplaced) > SHOWN_FIRST:
        yield rich("Parts not placed", HEADING)
        yield unplaced_table(unplaced_rows(plan), width)


def _materials_table(job: Job, used: set[str], width: float) -> Any:
    cutters = {cutter.id: cutter for cutter in job.cutters}
    book = shipped()
    rows: list[list[object]] = []
    for material in job.materials:
        if material.id not in used:
            continue
        cutter = cutters[material.cutter]
        is_shipped = book.holds(material) and book.holds(cutter)
        mark = book.marks.get(material.id, "") if is_shipped else ""
        rows.append(
            [
                material.name,
                f"{cutter.name}, {format_short(cutter.diameter, job.units)}",
                format_short(material.web, job.units),
                format_short(spacing_of(material, cutter), job.units),
                format_short(material.margin, job.units),
                f"{material.density:,.0f} kg/m³",
                mark or "set in this job",
            ]
        )
    spare = width - 4 * 54.0 - 8.0
    widths = [spare * 0.36, spare * 0.3, 54.0, 54.0, 54.0, 62.0, spare * 0.34]
    headings = ["material", "cutter", "web", "spacing", "margin", "density", "from"]
    return table(headings, rows, widths, right=(2, 3, 4, 5))


def _setting_names(build: Build) -> list[str]:
    """Settings of a build's kind, then what else it sets."""
    known = KINDS[build.kind].settings if build.kind in KINDS else tuple(SETTINGS)
    return [*known, *(name for name, _ in build.settings if name not in SETTINGS)]


def _value(own: dict[str, float], name: str) -> float | None:
    setting = SETTINGS.get(name)
    return own.get(name, None if setting is None else setting.default)


def _build_table(job: Job, build: Build, names: Sequence[str], width: float) -> Any:
    own = dict(build.settings)
    rows: list[list[object]] = []
    for name in names:
        if name not in SETTINGS:
            rows.append([name, f"{own[name]:g}" if name in own else "", "set in this job", ""])
            continue
        setting = SETTINGS[name]
        value = own.get(name, setting.default)
        shown = format_quantity(value, setting.quantity, job.units)
        if value == setting.default:
            origin: object = setting.mark
        else:
            default = format_quantity(setting.default, setting.quantity, job.units)
            origin = text(f"set in this job; default {default} ({setting.mark})", SMALL_BOLD)
        rows.append([name, shown, origin, setting.meaning])
    widths = [width * 0.22, width * 0.11, width * 0.26, width * 0.41]
    return table(["setting", "value", "from", "meaning"], rows, widths, right=(1,))

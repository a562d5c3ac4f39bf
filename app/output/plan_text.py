"""A plan in a few lines, for the terminal."""

from __future__ import annotations

from typing import Final

from app.planning.job_plan import JobPlan
from geometry.findings import Severity

FINDINGS_PRINTED: Final = 12


def plan_text(plan: JobPlan) -> str:
    """What the plan command prints: figures per material, what is not placed or not made, what to watch."""
    placed = sum(len(sheet.placed) for sheet in plan.sheets)
    lines = [f"{plan.job.name}: {_counted(len(plan.sheets), 'sheet')}, {_counted(placed, 'part')} placed"]
    names = {material.id: material.name for material in plan.job.materials}
    for figures in plan.summaries:
        lines.append(
            f"  {names[figures.material]}: {_counted(figures.sheet_count, 'sheet')}, net yield {figures.net_yield:.1%} "
            f"(part area, holes removed / sheet area); {figures.bound_reason}"
        )
    if plan.unplaced:
        lines.append(f"NOT PLACED: {len(plan.unplaced)}")
        lines += [f"  {left.part}, copy {left.copy + 1}: {left.reason}" for left in plan.unplaced]
    if plan.not_done:
        lines.append(f"NOT DONE: {len(plan.not_done)}")
        lines += [f"  {finding.message}" for finding in plan.not_done]
    watched = [finding for finding in plan.findings if finding.severity is Severity.WARNING]
    if watched:
        lines.append(f"Watch: {_counted(len(watched), 'warning')} (all of them are in report.pdf)")
        lines += [f"  {finding.message}" for finding in watched[:FINDINGS_PRINTED]]
        if len(watched) > FINDINGS_PRINTED:
            lines.append(f"  and {len(watched) - FINDINGS_PRINTED} more")
    return "\n".join(lines)


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"

"""A plan in a few lines, for the terminal."""

from __future__ import annotations

from app.output.finding_groups import group_findings, more_like_it
from app.output.words import counted
from app.planning.job_plan import JobPlan
from geometry.findings import Severity


def plan_text(plan: JobPlan) -> str:
    """What the plan command prints: figures per material, what is not placed or not made, what to watch."""
    placed = sum(len(sheet.placed) for sheet in plan.sheets)
    lines = [f"{plan.job.name}: {counted(len(plan.sheets), 'sheet')}, {counted(placed, 'part')} placed"]
    names = {material.id: material.name for material in plan.job.materials}
    for figures in plan.summaries:
        lines.append(
            f"  {names[figures.material]}: {counted(figures.sheet_count, 'sheet')}, net yield {figures.net_yield:.1%} "
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
        lines.append(f"Watch: {counted(len(watched), 'warning')} (all of them are in findings.csv)")
        for group in group_findings(watched):
            lines.append(f"  {group.findings[0].message}{more_like_it(len(group.findings) - 1)}")
    return "\n".join(lines)

"""A plan in a few lines, for the terminal."""

from __future__ import annotations

from typing import Final

from app.planning.job_plan import JobPlan
from geometry.findings import Severity

FINDINGS_PRINTED: Final = 12


def plan_text(plan: JobPlan) -> str:
    """What the plan command prints: figures per material, what is not placed, what to watch."""
    lines = [
        f"{plan.job.name}: {len(plan.sheets)} sheets, {sum(len(sheet.placed) for sheet in plan.sheets)} parts placed"
    ]
    names = {material.id: material.name for material in plan.job.materials}
    for figures in plan.summaries:
        lines.append(
            f"  {names[figures.material]}: {figures.sheet_count} sheets, net yield {figures.net_yield:.1%} "
            f"(part area, holes removed / sheet area); {figures.bound_reason}"
        )
    if plan.unplaced:
        lines.append(f"NOT PLACED: {len(plan.unplaced)}")
        lines += [f"  {left.part}, copy {left.copy + 1}: {left.reason}" for left in plan.unplaced]
    watched = [finding for finding in plan.findings if finding.severity is not Severity.NOTE]
    if watched:
        lines.append(f"Watch: {len(watched)} findings (all of them are in report.pdf)")
        lines += [f"  {finding.message}" for finding in watched[:FINDINGS_PRINTED]]
        if len(watched) > FINDINGS_PRINTED:
            lines.append(f"  and {len(watched) - FINDINGS_PRINTED} more")
    return "\n".join(lines)

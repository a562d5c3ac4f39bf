"""The independent check of a plan, on shapely alone: shares no code with the engine."""

from __future__ import annotations

from nesting.plan import Plan
from nesting.problem import Problem


def violations(problem: Problem, plan: Plan, *, tolerance: float = 0.001) -> tuple[str, ...]:
    """Everything wrong with a plan, one sentence each; empty when it can be cut.

    Checked: every copy exactly once, placed or unplaced; sheet counts; allowed rotations and mirroring; inside the
    sheet by the margin; outside keep-outs and flaws; no overlap; spacing kept; no part in a hole when forbidden.
    `tolerance` is in mm.
    """
    raise NotImplementedError

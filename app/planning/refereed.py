"""The referee between the engine and everybody else: no plan is shown or used that it has not passed."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Final

from app.errors import PlanningError
from app.planning.problems import MaterialProblem
from geometry.findings import Finding, Severity
from nesting.plan import Plan
from nesting.referee import violations

LOOK_EVERY_S: Final = 0.25
"""Gains come in bursts; between two looks of the referee only the newest is kept."""


class Refereed:
    """The gains of one material.

    Fields
    ------
    passed : Plan or None
        The newest plan that the referee passed.
    findings : list of Finding
        What it did not pass.
    """

    def __init__(
        self, one: MaterialProblem, show: Callable[[Plan], None], clock: Callable[[], float] = time.perf_counter
    ) -> None:
        self.passed: Plan | None = None
        self.findings: list[Finding] = []
        self._one, self._show, self._clock = one, show, clock
        self._waiting: Plan | None = None
        self._looked_at = float("-inf")

    def gained(self, plan: Plan) -> None:
        """Take a better plan from the engine."""
        self._waiting = plan
        self.look()

    def look(self) -> None:
        """Check what is waiting, if the last look was long enough ago, and show it when it passes."""
        now = self._clock()
        if self._waiting is None or now - self._looked_at < LOOK_EVERY_S:
            return
        plan, self._waiting, self._looked_at = self._waiting, None, now
        if self._passes(plan):
            self.passed = plan
            self._show(plan)

    def last(self, plan: Plan) -> Plan:
        """The engine's last plan if it passes, else the newest that did.

        Raises
        ------
        PlanningError
            When none did.
        """
        if self._passes(plan):
            return plan
        if self.passed is None:
            raise PlanningError(
                f"the plan for {self._one.material.name} failed its own check and nothing was written "
                f"({self.findings[-1].message}); this is a fault of the program: try another seed and report it"
            )
        return self.passed

    def _passes(self, plan: Plan) -> bool:
        found = violations(self._one.problem, plan)
        if not found:
            return True
        if not self.findings:
            self.findings.append(
                Finding(
                    code="layout-rejected",
                    severity=Severity.WARNING,
                    message=f"{self._one.material.name}: a layout failed the check and was not used ({found[0]}); the "
                    "best layout that passed is used instead; this is a fault of the program, worth reporting",
                    fixed=True,
                )
            )
        return False

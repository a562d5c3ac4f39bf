"""What the engine raises when it has no answer."""

from __future__ import annotations


class NestingError(Exception):
    """Base of every error raised by this package."""


class InvalidProblem(NestingError, ValueError):
    """A problem that must not be searched; `findings` says part, value and limit for each fault."""

    def __init__(self, findings: tuple[str, ...]) -> None:
        super().__init__(findings)
        self.findings = findings

    def __str__(self) -> str:
        return "; ".join(self.findings)


class PlanRejected(NestingError):
    """A plan the referee does not pass; `violations` lists why."""

    def __init__(self, violations: tuple[str, ...]) -> None:
        super().__init__(violations)
        self.violations = violations

    def __str__(self) -> str:
        return "; ".join(self.violations)

"""When a run ends, and what it reports on the way."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a run has come."""

    rounds: int
    since_gain: int  # rounds
    elapsed_s: float
    best_cost: tuple[int, ...]
    stage: str  # words for a person: "preparing", "placing 120 of 300", "improving"
    fraction: float | None  # 0..1 where the amount of work is known, else None


class Stop(Protocol):
    """When to end a run. Holds no clock and no counter, so one object serves many runs."""

    def reached(self, at: Progress) -> bool:
        """Whether to stop here."""
        ...


@dataclass(frozen=True, slots=True)
class AfterSeconds:
    """Stop when the run has taken this long."""

    seconds: float

    def reached(self, at: Progress) -> bool:
        """Whether the time is up."""
        return at.elapsed_s >= self.seconds


@dataclass(frozen=True, slots=True)
class AfterRounds:
    """Stop after so many rounds: the reproducible budget."""

    rounds: int

    def reached(self, at: Progress) -> bool:
        """Whether the rounds are used up."""
        return at.rounds >= self.rounds


@dataclass(frozen=True, slots=True)
class NoGainFor:
    """Stop when so many rounds brought nothing better."""

    rounds: int

    def reached(self, at: Progress) -> bool:
        """Whether the last gain is that long ago."""
        return at.since_gain >= self.rounds


@dataclass(frozen=True, slots=True)
class AnyOf:
    """Stop as soon as one of several rules says so."""

    rules: tuple[Stop, ...]

    def reached(self, at: Progress) -> bool:
        """Whether any rule is met."""
        return any(rule.reached(at) for rule in self.rules)

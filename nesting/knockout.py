"""Which of many layouts to work on.

What a layout comes to depends more on where it started than on how long it is worked on, and good starts soon show. So
starts play a knockout: of two layouts that have had the same effort the shorter goes on for twice as long, the other is
dropped. That needs no clock and no end: however long it runs, the best have had about half of all effort.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, Generic, Protocol, TypeVar

FIRST_ROUND: Final = 10.0
"""Length of the first round, times what starts take on average until only small steps are left."""


class Player(Protocol):
    """A layout that is being made shorter, as `Shrinker` is."""

    length: float
    scattered: bool  # whether the length is an aim only
    age: int  # stretches of work it has had
    settled: int  # of these, until only small steps were left; zero before
    done: bool

    def pause(self) -> None:
        """Let another work."""


Layout = TypeVar("Layout", bound=Player)


class Knockout(Generic[Layout]):
    """`now` is the layout to work on; call `turn` before every step."""

    def __init__(self, first: Layout, fresh: Callable[[], Layout]) -> None:
        self.now = first
        self.fresh = fresh
        self.level = 0
        self.waiting: dict[int, Layout] = {}  # by level
        self.settling: list[int] = []  # of every start so far

    def turn(self) -> None:
        """Go on to the next layout when this one has had its effort."""
        if not self.now.done and (self.now.settled == 0 or self.now.age < self._allowed()):
            return
        self.now.pause()
        if self.level == 0 and self.now.settled:
            self.settling.append(self.now.settled)
        rival = self.waiting.pop(self.level, None)
        if rival is None:
            self.waiting[self.level] = self.now
            self.now, self.level = self.fresh(), 0
        else:
            self.now = min(rival, self.now, key=lambda one: (one.scattered, one.length))
            self.level += 1

    def _allowed(self) -> float:
        known = [*self.settling, self.now.settled] if self.level == 0 else self.settling
        return FIRST_ROUND * sum(known) / len(known) * 2.0**self.level

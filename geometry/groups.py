"""Disjoint groups of things known by their numbers, merged pair by pair (union-find)."""

from __future__ import annotations


class Groups:
    """Numbers 0 to count - 1, each at first in a group of its own."""

    def __init__(self, count: int) -> None:
        self._parent = list(range(count))

    def of(self, number: int) -> int:
        """The number that stands for the group of `number`."""
        parent = self._parent
        while parent[number] != number:
            parent[number] = parent[parent[number]]
            number = parent[number]
        return number

    def merge(self, first: int, second: int) -> None:
        """Make the groups of both one; the smaller of the two standing numbers stands for it."""
        low, high = sorted((self.of(first), self.of(second)))
        self._parent[high] = low

    def members(self) -> list[list[int]]:
        """The groups, each in order, in the order of their first members."""
        found: dict[int, list[int]] = {}
        for number in range(len(self._parent)):
            found.setdefault(self.of(number), []).append(number)
        return list(found.values())

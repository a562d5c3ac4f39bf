"""The order of visits that moves the cutter least without breaking a rule of what comes first.

Words used here: a *visit* is one thing to cut, with an entry and an exit (the same point for a closed contour). A visit
that is not closed may be cut from either end. *Travel* is the way from exit to next entry, in the air.

The method is the plain one for a path with precedence: nearest neighbour among the visits that are free, then again
and again the best of all reversals (2-opt) and of all moves of up to three neighbours (or-opt) that break no rule,
until none gains. Nothing is drawn by lot, so the same visits always give the same order.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from geometry.curve import Point

_LEAST_GAIN: Final = 1e-6
"""mm; smaller gains are rounding, and chasing them would never end."""
_LONGEST_MOVED: Final = 3
_MOVES_PER_VISIT: Final = 6
"""Bound on the moves made, per visit; the search ends far earlier in practice."""

_Points = NDArray[np.float64]
_Flags = NDArray[np.bool_]
_Places = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Tour:
    """The visits in cutting order, those of them cut from the far end, and the travel in mm."""

    order: tuple[int, ...]
    turned: frozenset[int]
    travel: float


@dataclass(frozen=True, slots=True)
class _Move:
    """A block of places (first to last) and the place after which it goes; None turns it round where it is."""

    gain: float
    first: int
    last: int
    after: int | None


def shortest_tour(entries: _Points, exits: _Points, before: _Flags, start: Point) -> Tour:
    """A short tour from `start` through all visits; it ends wherever the last visit ends.

    Parameters
    ----------
    entries, exits : (n, 2) float64, mm
    before : (n, n) bool
        `before[a, b]` says that visit a must come before visit b. Only the pairs set are obeyed: give all of them.
    start : Point, mm

    Raises
    ------
    ValueError
        When `before` goes round in a circle, so that no order can obey it.
    """
    count = len(entries)
    if count == 0:
        return Tour((), frozenset(), 0.0)
    # The start is one more visit, the last by number; it holds place 0 of every order and never moves.
    ends = np.stack([np.vstack([entries, start]), np.vstack([exits, start])])
    ways = np.hypot(
        ends[:, :, None, None, 0] - ends[None, None, :, :, 0], ends[:, :, None, None, 1] - ends[None, None, :, :, 1]
    )
    rules = np.zeros((count + 1, count + 1), dtype=bool)
    rules[:count, :count] = before
    order, turned = _nearest_neighbour(ways, rules)
    for _ in range(_MOVES_PER_VISIT * count):
        move = _best_move(order, turned, ways, rules)
        if move is None:
            break
        order, turned = _moved(order, turned, move)
    return Tour(
        tuple(int(visit) for visit in order[1:]),
        frozenset(int(visit) for visit in np.flatnonzero(turned)),
        float(np.diagonal(_leaving_to_beginning(order, turned, ways), 1).sum()),
    )


def _nearest_neighbour(ways: _Points, rules: _Flags) -> tuple[_Places, _Flags]:
    start = rules.shape[0] - 1
    waiting = rules.sum(axis=0)
    done = np.zeros(start + 1, dtype=bool)
    turned = np.zeros(start + 1, dtype=bool)
    order = [start]
    done[start] = True
    while len(order) <= start:
        free = ~done & (waiting == 0)
        if not free.any():
            raise ValueError("the rules of what is cut first go round in a circle")
        here = order[-1]
        reach = np.where(free, ways[0 if turned[here] else 1, here], np.inf)
        visit = int(np.argmin(reach.min(axis=0)))
        turned[visit] = reach[1, visit] < reach[0, visit]
        order.append(visit)
        done[visit] = True
        waiting = waiting - rules[visit]
    return np.array(order, dtype=np.intp), turned


def _between(order: _Places, from_side: _Places, to_side: _Places, ways: _Points) -> _Points:
    return ways[from_side[:, None], order[:, None], to_side[None, :], order[None, :]]


def _leaving_to_beginning(order: _Places, turned: _Flags, ways: _Points) -> _Points:
    begin = turned[order].astype(np.intp)
    return _between(order, 1 - begin, begin, ways)


def _best_move(order: _Places, turned: _Flags, ways: _Points, rules: _Flags) -> _Move | None:
    placed_rules = rules[np.ix_(order, order)]
    onward = _leaving_to_beginning(order, turned, ways)
    # One more column that costs nothing: after the last visit the cutter goes nowhere.
    onward = np.hstack([onward, np.zeros((len(order), 1))])
    moves = [_best_reversal(order, turned, ways, onward, placed_rules)]
    moves += [_best_shift(onward, placed_rules, length) for length in range(1, min(_LONGEST_MOVED, len(order) - 2) + 1)]
    best = max(moves, key=lambda move: move.gain)
    return best if best.gain > _LEAST_GAIN else None


def _best_reversal(order: _Places, turned: _Flags, ways: _Points, onward: _Points, rules: _Flags) -> _Move:
    """Turn the places first..last round: they then begin where `last` was left and end where `first` was begun."""
    count = len(order)
    begin = turned[order].astype(np.intp)
    into = _between(order, 1 - begin, 1 - begin, ways)  # leaving one to the leaving end of another
    out = np.hstack([_between(order, begin, begin, ways), np.zeros((count, 1))])
    link = np.diagonal(onward, 1)  # link[p]: from place p to the next
    gain = np.full((count, count), -np.inf)
    gain[1:, 1:] = link[:-1, None] + link[None, 1:] - into[:-1, 1:] - out[1:, 2:]
    last_free = np.minimum.accumulate(_first_true(rules, count)[::-1])[::-1]
    places = np.arange(count)
    gain[(places[None, :] < places[:, None]) | (places[None, :] >= last_free[:, None])] = -np.inf
    best = int(np.argmax(gain))
    return _Move(float(gain.flat[best]), best // count, best % count, None)


def _best_shift(onward: _Points, rules: _Flags, length: int) -> _Move:
    """Take `length` neighbours out and put them in elsewhere, the same way round."""
    count = len(rules)
    firsts = np.arange(1, count - length + 1)
    lasts = firsts + length - 1
    freed = onward[firsts - 1, firsts] + onward[lasts, lasts + 1] - onward[firsts - 1, lasts + 1]
    afters = np.arange(count)
    added = onward[:, firsts].T + onward[lasts][:, 1:] - np.diagonal(onward, 1)[None, :]
    gain = freed[:, None] - added
    # A block may move on up to the first visit that must follow it, and back to the last that must precede it.
    follows = np.zeros((len(firsts), count), dtype=bool)
    precedes = np.zeros((len(firsts), count), dtype=bool)
    for step in range(length):
        follows |= rules[firsts + step]
        precedes |= rules[:, firsts + step].T
    follows &= afters[None, :] > lasts[:, None]
    precedes &= afters[None, :] < firsts[:, None]
    up_to = _first_true(follows, count)
    back_to = np.where(precedes.any(axis=1), count - 1 - precedes[:, ::-1].argmax(axis=1), 0)
    inside = (afters[None, :] >= firsts[:, None] - 1) & (afters[None, :] <= lasts[:, None])
    gain[inside | (afters[None, :] >= up_to[:, None]) | (afters[None, :] < back_to[:, None])] = -np.inf
    best = int(np.argmax(gain))
    row, after = best // count, best % count
    return _Move(float(gain.flat[best]), int(firsts[row]), int(lasts[row]), after)


def _first_true(flags: _Flags, otherwise: int) -> _Places:
    return np.where(flags.any(axis=1), flags.argmax(axis=1), otherwise)


def _moved(order: _Places, turned: _Flags, move: _Move) -> tuple[_Places, _Flags]:
    before, block, after = order[: move.first], order[move.first : move.last + 1], order[move.last + 1 :]
    if move.after is None:
        turned = turned.copy()
        turned[block] ^= True
        return np.concatenate([before, block[::-1], after]), turned
    rest = np.concatenate([before, after])
    at = move.after + 1 if move.after < move.first else move.after + 1 - len(block)
    return np.concatenate([rest[:at], block, rest[at:]]), turned

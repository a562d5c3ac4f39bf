"""What one worker of the search keeps, and how badly a copy collides at a place."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from nesting.kernels import inlined, inner
from nesting.kernels.place import State
from nesting.kernels.shapes import Floats, Ints, Shapes
from nesting.kernels.tables import Tables, pair_size


class Search(NamedTuple):
    """What one worker keeps besides the state. `n` copies move; the rest of the state's copies are obstacles."""

    ways: Ints  # (w,): shapes a copy may take; for a copy of any angle its base shapes
    way_span: Ints  # (n, 3): first, end of those at right angles, end
    bases: Ints  # (n, 2): unturned shape of a copy of any angle, then its mirror image if allowed; else -1
    slot: Ints  # (n, 2): shape that holds such a copy when it is turned freely, and a spare one; else -1
    weight: Floats  # (m, m)
    size: Floats  # (m, m): collision sizes as they are now
    random: NDArray[np.uint64]  # (1,)
    best: Floats  # (n, 5): best state of this run: x, y, angle, shape (or -1 - base where freely turned), sheet
    memory: Floats  # (8,): lowest total, rounds without gain, strikes, lowest at the last strike; places, moves, rounds
    way_base: Ints  # (s,): 1 where a shape is mirrored, else 0
    way_angle: Floats  # (s,): angle of a shape, degrees
    work: Floats  # (1,): effort so far, one per place evaluated and more where tables are missing
    order: Ints  # (n,): copies to be moved in the round at hand
    turn: Ints  # (2,): how many of them there are, and how many have had their turn; equal between rounds
    top: Floats  # (3, 5): the best places of the move at hand: score, x, y, shape, sheet
    met: NDArray[np.int32]  # (m + 1,): whose boxes meet the one at hand
    near: NDArray[np.int32]  # (m + 1,): whose boxes come near it
    bin_share: Floats  # (b,): cumulated chance of a sheet to be sampled
    field: NDArray[np.float32]  # scratch of the maps, as large as the largest sheet in steps
    found: Floats  # (3, 3): lowest cells of the map at hand


class Effort(NamedTuple):
    """How hard to try."""

    wide: int  # random places per move on the sheets
    near: int  # random places per move around the present one
    patience: int  # rounds without gain that make a strike
    strikes: int
    own_bin: float  # chance that a wide sample stays on the copy's own sheet
    slanted: float  # chance that a copy of any angle may be laid flush with a slanting side of its own
    turning: float  # chance that a copy of any angle is turned freely after its move
    mapped: float  # chance that a map takes the place of the wide samples


@inlined
def uniform(random: NDArray[np.uint64]) -> float:
    """Next number in [0, 1): splitmix64, the same on every machine and thread."""
    random[0] += np.uint64(0x9E3779B97F4A7C15)
    z = random[0]
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    z = z ^ (z >> np.uint64(31))
    return float(float(z >> np.uint64(11)) * (1.0 / 9007199254740992.0))


@inlined
def evaluate(
    shapes: Shapes,
    tables: Tables,
    state: State,
    search: Search,
    i: int,
    s: int,
    x: float,
    y: float,
    bound: float,
    others: NDArray[np.int32],
    count: int,
) -> float:
    """Weighted size of the collisions of copy i as shape s at (x, y) with `others`; stops counting beyond `bound`."""
    n = len(search.order)
    x0 = x + shapes.box[s, 0]
    y0 = y + shapes.box[s, 1]
    x1 = x + shapes.box[s, 2]
    y1 = y + shapes.box[s, 3]
    # Whose boxes meet: without branches, since these would mostly be guessed wrong.
    met = 0
    for k in range(count):
        j = others[k]
        search.met[met] = j
        met += int(
            (state.box[j, 0] <= x1)
            & (state.box[j, 2] >= x0)
            & (state.box[j, 1] <= y1)
            & (state.box[j, 3] >= y0)
            & (j != i)
        )
    total = 0.0
    for k in range(met):
        j = search.met[k]
        a = s if j < n else shapes.bare_shape[s]
        value = pair_size(shapes, tables, a, state.shape[j], state.x[j] - x, state.y[j] - y, search.work)
        if value > 0.0:
            total += search.weight[i, j] * value
            if total >= bound:
                return float(total)
    return float(total)


@inner
def gather(
    shapes: Shapes, state: State, search: Search, i: int, s: int, b: int, x: float, y: float, reach: float
) -> int:
    """List in `search.near` whose boxes copy i can meet while it stays within `reach` of (x, y); returns how many."""
    x0 = x + shapes.box[s, 0] - reach
    y0 = y + shapes.box[s, 1] - reach
    x1 = x + shapes.box[s, 2] + reach
    y1 = y + shapes.box[s, 3] + reach
    count = 0
    for k in range(state.filled[b]):
        j = state.members[b, k]
        search.near[count] = j
        count += int(
            (state.box[j, 0] <= x1)
            & (state.box[j, 2] >= x0)
            & (state.box[j, 1] <= y1)
            & (state.box[j, 3] >= y0)
            & (j != i)
        )
    return count


@inner
def note_sizes(shapes: Shapes, tables: Tables, state: State, size: Floats, n: int, i: int, work: Floats) -> None:
    """Enter the collision sizes of copy i as it stands."""
    for j in range(len(size)):
        size[i, j] = 0.0
        size[j, i] = 0.0
    b = state.bin[i]
    s = state.shape[i]
    for k in range(state.filled[b]):
        j = state.members[b, k]
        if (
            j == i
            or state.box[j, 0] > state.box[i, 2]
            or state.box[j, 2] < state.box[i, 0]
            or state.box[j, 1] > state.box[i, 3]
            or state.box[j, 3] < state.box[i, 1]
        ):
            continue
        a = s if j < n else shapes.bare_shape[s]
        value = pair_size(shapes, tables, a, state.shape[j], state.x[j] - state.x[i], state.y[j] - state.y[i], work)
        size[i, j] = value
        size[j, i] = value


@inner
def note_all(shapes: Shapes, tables: Tables, state: State, search: Search) -> float:
    """Enter all collision sizes; returns their sum."""
    n = len(search.order)
    for i in range(n):
        note_sizes(shapes, tables, state, search.size, n, i, search.work)
    return total_size(search.size, n)


@inner
def total_size(size: Floats, n: int) -> float:
    """Sum over pairs, obstacles included."""
    total = 0.0
    for i in range(n):
        for j in range(i):
            total += size[i, j]
        for j in range(n, len(size)):
            total += size[i, j]
    return total


@inner
def move_to(shapes: Shapes, state: State, i: int, s: int, b: int, x: float, y: float) -> None:
    """Put copy i, as shape s, at (x, y) on sheet b."""
    old = state.bin[i]
    if old != b:
        n = state.filled[old]
        for k in range(n):
            if state.members[old, k] == i:
                state.members[old, k] = state.members[old, n - 1]
                break
        state.filled[old] = n - 1
        state.members[b, state.filled[b]] = i
        state.filled[b] += 1
        state.bin[i] = b
    state.x[i] = x
    state.y[i] = y
    state.shape[i] = s
    state.box[i, 0] = shapes.box[s, 0] + x
    state.box[i, 1] = shapes.box[s, 1] + y
    state.box[i, 2] = shapes.box[s, 2] + x
    state.box[i, 3] = shapes.box[s, 3] + y

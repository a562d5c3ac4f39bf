"""Putting one part after another: what is free on a sheet, where a part fits, sliding it into a corner."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from nesting.kernels import inner
from nesting.kernels.shapes import Floats, Ints, Shapes, collide, point_inside, travel

TOUCH = 1e-5  # mm left between parts that slide against each other: touching counts as collision in the kernels
ROUNDING = 1e-9  # mm; a part moved flush to the sheet's edge counts as inside


class Bins(NamedTuple):
    """Sheets side by side in one coordinate system. Lengths in mm."""

    rect: Floats  # (b, 4): where the bare box of a part may lie
    obstacle_span: Ints  # (b, 2)
    obstacle_shape: Ints  # (o,)
    obstacle_at: Floats  # (o, 2)


class State(NamedTuple):
    """Where every copy is. `i` counts copies; `bin` is -1 for one that is not placed."""

    x: Floats
    y: Floats
    angle: Floats  # degrees, on top of the shape's own; used by parts that may stand at any angle
    base: Ints  # variant (fixed angles) or base shape (any angle)
    shape: Ints  # the shape as it stands now: the variant, or a private slot
    bin: Ints
    box: Floats  # (n, 4): box of the grown shape
    members: NDArray[np.int32]  # (b, n)
    filled: Ints  # (b,)


class Field(NamedTuple):
    """How much room there is round every point of a sheet: from each cell's centre to the nearest thing, mm."""

    room: Floats  # (ny, nx); negative inside something
    x0: float
    y0: float
    step: float
    around: Ints  # (k,): scratch, where the other circles of a shape are from its first, in cells of `room` laid flat
    need: Floats  # (k,): scratch, the room they need there


@inner
def put(shapes: Shapes, state: State, i: int, s: int, b: int, x: float, y: float) -> None:
    """Place copy i, which is not placed, as shape s on sheet b."""
    state.x[i] = x
    state.y[i] = y
    state.shape[i] = s
    state.bin[i] = b
    state.box[i, 0] = shapes.box[s, 0] + x
    state.box[i, 1] = shapes.box[s, 1] + y
    state.box[i, 2] = shapes.box[s, 2] + x
    state.box[i, 3] = shapes.box[s, 3] + y
    state.members[b, state.filled[b]] = i
    state.filled[b] += 1


@inner
def is_free(shapes: Shapes, bins: Bins, state: State, i: int, s: int, b: int, x: float, y: float) -> bool:
    """Whether shape s at (x, y) on sheet b is inside the sheet and meets nothing but copy i itself."""
    if (
        x + shapes.bare[s, 0] < bins.rect[b, 0] - ROUNDING
        or y + shapes.bare[s, 1] < bins.rect[b, 1] - ROUNDING
        or x + shapes.bare[s, 2] > bins.rect[b, 2] + ROUNDING
        or y + shapes.bare[s, 3] > bins.rect[b, 3] + ROUNDING
    ):
        return False
    x0 = x + shapes.box[s, 0]
    y0 = y + shapes.box[s, 1]
    x1 = x + shapes.box[s, 2]
    y1 = y + shapes.box[s, 3]
    for k in range(state.filled[b]):
        j = state.members[b, k]
        if j == i or state.box[j, 0] > x1 or state.box[j, 2] < x0 or state.box[j, 1] > y1 or state.box[j, 3] < y0:
            continue
        if collide(shapes, s, state.shape[j], state.x[j] - x, state.y[j] - y):
            return False
    for o in range(bins.obstacle_span[b, 0], bins.obstacle_span[b, 1]):
        if collide(
            shapes, shapes.bare_shape[s], bins.obstacle_shape[o], bins.obstacle_at[o, 0] - x, bins.obstacle_at[o, 1] - y
        ):
            return False
    return True


@inner
def slide(shapes: Shapes, bins: Bins, state: State, i: int, s: int, b: int, x: float, y: float, axis: int) -> float:
    """How far shape s can move from (x, y) towards minus `axis` before it meets the sheet's edge or a part, mm."""
    lo = x + shapes.bare[s, 0] - bins.rect[b, 0] if axis == 0 else y + shapes.bare[s, 1] - bins.rect[b, 1]
    o = 1 - axis
    at = y if axis == 0 else x
    along = x if axis == 0 else y
    for k in range(state.filled[b]):
        j = state.members[b, k]
        if (
            j == i
            or state.box[j, o] > at + shapes.box[s, o + 2]
            or state.box[j, o + 2] < at + shapes.box[s, o]
            or state.box[j, axis] > along + shapes.box[s, axis + 2]
            or state.box[j, axis + 2] < along + shapes.box[s, axis] - lo - TOUCH
        ):
            continue
        t = travel(shapes, s, state.shape[j], state.x[j] - x, state.y[j] - y, axis) - TOUCH
        lo = min(lo, t)
    for ob in range(bins.obstacle_span[b, 0], bins.obstacle_span[b, 1]):
        u = bins.obstacle_at[ob, 0] - x
        v = bins.obstacle_at[ob, 1] - y
        t = travel(shapes, shapes.bare_shape[s], bins.obstacle_shape[ob], u, v, axis) - TOUCH
        lo = min(lo, t)
    return float(max(lo, 0.0))


@inner
def clear_field(shapes: Shapes, bins: Bins, field: Field, b: int, reach: float) -> None:
    """Start the free-room field of an empty sheet: from each cell's centre to the nearest thing no circle may enter.

    `reach` is how far a grown shape stands out from its part, mm: circles belong to grown shapes, the rectangle to
    bare ones.
    """
    for j in range(field.room.shape[0]):
        y = field.y0 + (j + 0.5) * field.step
        for k in range(field.room.shape[1]):
            x = field.x0 + (k + 0.5) * field.step
            d = min(min(x - bins.rect[b, 0], bins.rect[b, 2] - x), min(y - bins.rect[b, 1], bins.rect[b, 3] - y))
            field.room[j, k] = d + reach
    for o in range(bins.obstacle_span[b, 0], bins.obstacle_span[b, 1]):
        block_field(
            shapes,
            field,
            bins.obstacle_shape[o],
            bins.obstacle_at[o, 0],
            bins.obstacle_at[o, 1],
            np.inf,
            reach,
        )


@inner
def block_field(shapes: Shapes, field: Field, s: int, x: float, y: float, far: float, reach: float) -> None:
    """Enter a placed shape into the field; cells farther than `far` from its box cannot matter to any circle."""
    room, x0, y0, step = field.room, field.x0, field.y0, field.step
    k0 = 0
    k1 = room.shape[1]
    j0 = 0
    j1 = room.shape[0]
    if far < np.inf:
        k0 = max(k0, int((x + shapes.box[s, 0] - far - x0) / step) - 1)
        k1 = min(k1, int((x + shapes.box[s, 2] + far - x0) / step) + 2)
        j0 = max(j0, int((y + shapes.box[s, 1] - far - y0) / step) - 1)
        j1 = min(j1, int((y + shapes.box[s, 3] + far - y0) / step) + 2)
    for j in range(j0, j1):
        v = y0 + (j + 0.5) * step - y
        for k in range(k0, k1):
            now = room[j, k]
            if now <= 0.0:
                continue
            u = x0 + (k + 0.5) * step - x
            limit = now - reach
            if limit <= 0.0:
                limit = 0.0
            best = limit * limit
            nearer = False
            for c in range(shapes.spans[s, 2], shapes.spans[s, 3]):
                wx = max(0.0, max(shapes.chains[c, 0] - u, u - shapes.chains[c, 2]))
                wy = max(0.0, max(shapes.chains[c, 1] - v, v - shapes.chains[c, 3]))
                if wx * wx + wy * wy >= best:
                    continue
                for e in range(shapes.chain_edges[c, 0], shapes.chain_edges[c, 1]):
                    ax = shapes.edges[e, 0]
                    ay = shapes.edges[e, 1]
                    ux = shapes.edges[e, 2] - ax
                    uy = shapes.edges[e, 3] - ay
                    q = ux * ux + uy * uy
                    t = 0.0
                    if q > 0.0:
                        t = min(1.0, max(0.0, ((u - ax) * ux + (v - ay) * uy) / q))
                    wx = ax + t * ux - u
                    wy = ay + t * uy - v
                    d = wx * wx + wy * wy
                    if d < best:
                        best = d
                        nearer = True
            if point_inside(shapes, s, u, v):
                room[j, k] = -1.0
            elif nearer:
                room[j, k] = np.sqrt(best) + reach


@inner
def find_place(
    shapes: Shapes,
    bins: Bins,
    state: State,
    i: int,
    b: int,
    variants: Ints,
    field: Field,
    cells: Ints,
    axis: int,
    tries: int,
    corners: bool,
    out: Floats,
) -> bool:
    """Best free place of copy i on sheet b that builds up from the low end of `axis`; out = shape, x, y, score.

    `cells` are those where the centre of the largest circle may lie, counted along `axis` first. Where there is room
    for every circle of the shape it is tried exactly, at most `tries` times per variant in vain; the first that fits
    is slid into its corner. If `corners`, box beside box is tried too. Lower score is better: far end of the part
    along `axis`, then a little of the other way.
    """
    found = False
    out[3] = np.inf
    for v in range(len(variants)):
        s = variants[v]
        if (
            shapes.bare[s, 2] - shapes.bare[s, 0] > bins.rect[b, 2] - bins.rect[b, 0]
            or shapes.bare[s, 3] - shapes.bare[s, 1] > bins.rect[b, 3] - bins.rect[b, 1]
        ):
            continue
        if corners and _beside_others(shapes, bins, state, i, b, s, field, axis, out):
            found = True
        if _scan(shapes, bins, state, i, b, s, field, cells, axis, tries, out):
            found = True
    return found


@inner
def _has_room(shapes: Shapes, s: int, field: Field, x: float, y: float) -> bool:
    """Whether every circle of shape s at (x, y) has its room: false only where the shape would meet something."""
    for k in range(shapes.spans[s, 4], shapes.spans[s, 5]):
        u = (x + shapes.circles[k, 0] - field.x0) / field.step
        v = (y + shapes.circles[k, 1] - field.y0) / field.step
        if u < 0.0 or v < 0.0 or u >= field.room.shape[1] or v >= field.room.shape[0]:
            return False
        # Room changes by no more than the way from the cell's centre.
        away = field.step * np.hypot(u - np.floor(u) - 0.5, v - np.floor(v) - 0.5)
        if max(field.room[int(v), int(u)], 0.0) + away < shapes.circles[k, 2] - 1e-6:
            return False
    return True


@inner
def _offer(
    shapes: Shapes, bins: Bins, state: State, i: int, b: int, s: int, x: float, y: float, axis: int, out: Floats
) -> None:
    """Slide a free place into its corner and keep it if its score is the best."""
    for _ in range(6):
        t = slide(shapes, bins, state, i, s, b, x, y, axis)
        if axis == 0:
            x -= t
        else:
            y -= t
        u = slide(shapes, bins, state, i, s, b, x, y, 1 - axis)
        if axis == 0:
            y -= u
        else:
            x -= u
        if t + u < 1e-3:
            break
    score = _score(shapes, bins, b, s, x, y, axis)
    if score < out[3] and is_free(shapes, bins, state, i, s, b, x, y):
        out[0] = s
        out[1] = x
        out[2] = y
        out[3] = score


@inner
def _score(shapes: Shapes, bins: Bins, b: int, s: int, x: float, y: float, axis: int) -> float:
    u = x + shapes.bare[s, 2] - bins.rect[b, 0]
    v = y + shapes.bare[s, 3] - bins.rect[b, 1]
    return float(u + 0.05 * v if axis == 0 else v + 0.05 * u)


@inner
def _beside_others(
    shapes: Shapes, bins: Bins, state: State, i: int, b: int, s: int, field: Field, axis: int, out: Floats
) -> bool:
    before = out[3]
    n = state.filled[b]
    for k in range(n + 1):
        for side in range(4):
            if k == n:
                if side > 0:
                    break
                x = bins.rect[b, 0] - shapes.bare[s, 0]
                y = bins.rect[b, 1] - shapes.bare[s, 1]
            else:
                j = state.members[b, k]
                right = state.box[j, 2] + TOUCH - shapes.box[s, 0]
                above = state.box[j, 3] + TOUCH - shapes.box[s, 1]
                if side == 0:
                    x = right
                    y = state.box[j, 1] - shapes.box[s, 1]
                elif side == 1:
                    x = state.box[j, 0] - shapes.box[s, 0]
                    y = above
                elif side == 2:
                    x = right
                    y = bins.rect[b, 1] - shapes.bare[s, 1]
                else:
                    x = bins.rect[b, 0] - shapes.bare[s, 0]
                    y = above
            if (
                _score(shapes, bins, b, s, x, y, axis) < out[3]
                and _has_room(shapes, s, field, x, y)
                and is_free(shapes, bins, state, i, s, b, x, y)
            ):
                _offer(shapes, bins, state, i, b, s, x, y, axis, out)
    return bool(out[3] < before)


@inner
def _spread(shapes: Shapes, s: int, field: Field) -> int:
    """Note where the circles of a shape are from the first one, if that is in a cell's centre; returns how many."""
    k0 = shapes.spans[s, 4]
    count = 0
    for k in range(k0 + 1, shapes.spans[s, 5]):
        u = (shapes.circles[k, 0] - shapes.circles[k0, 0]) / field.step + 0.5
        v = (shapes.circles[k, 1] - shapes.circles[k0, 1]) / field.step + 0.5
        # Room changes by no more than the way from the cell's centre.
        away = field.step * np.hypot(u - np.floor(u) - 0.5, v - np.floor(v) - 0.5)
        need = shapes.circles[k, 2] - 1e-6 - away
        if need > 0.0:
            field.around[count] = int(np.floor(v)) * field.room.shape[1] + int(np.floor(u))
            field.need[count] = need
            count += 1
    return count


@inner
def _scan(
    shapes: Shapes,
    bins: Bins,
    state: State,
    i: int,
    b: int,
    s: int,
    field: Field,
    cells: Ints,
    axis: int,
    tries: int,
    out: Floats,
) -> bool:
    before = out[3]
    step = field.step
    ny, nx = field.room.shape
    room = field.room.reshape(ny * nx)
    count = _spread(shapes, s, field)
    across_count = ny if axis == 0 else nx
    cx = shapes.circles[shapes.spans[s, 4], 0]
    cy = shapes.circles[shapes.spans[s, 4], 1]
    # Where the largest circle's centre may be, given the sheet; a cell whose centre is just outside is moved in.
    left = bins.rect[b, 0] - shapes.bare[s, 0] + cx
    right = bins.rect[b, 2] - shapes.bare[s, 2] + cx
    low = bins.rect[b, 1] - shapes.bare[s, 1] + cy
    high = bins.rect[b, 3] - shapes.bare[s, 3] + cy
    failed = 0
    hits = 0
    done = -1
    for c in range(len(cells)):
        outer = cells[c] // across_count
        if outer == done:
            continue
        across = cells[c] - outer * across_count
        gx = outer if axis == 0 else across
        gy = across if axis == 0 else outer
        x = field.x0 + (gx + 0.5) * step
        y = field.y0 + (gy + 0.5) * step
        if x >= left and x <= right and y >= low and y <= high:
            at = gy * nx + gx
            good = True
            for k in range(count):
                if room[at + field.around[k]] < field.need[k]:
                    good = False
                    break
            if not good:
                continue
        elif x < left - step or x > right + step or y < low - step or y > high + step:
            continue
        else:
            x = min(max(x, left), right)
            y = min(max(y, low), high)
            if not _has_room(shapes, s, field, x - cx, y - cy):
                continue
        x -= cx
        y -= cy
        if _score(shapes, bins, b, s, x, y, axis) - 4.0 * step >= out[3]:
            return bool(out[3] < before)
        if is_free(shapes, bins, state, i, s, b, x, y):
            _offer(shapes, bins, state, i, b, s, x, y, axis, out)
            hits += 1
            if hits >= 2:
                return bool(out[3] < before)
            done = outer  # the slide has already looked at the rest of this column
            continue
        failed += 1
        if failed > tries:
            return bool(out[3] < before)
    return bool(out[3] < before)

"""Boxes in rows, the rows as long as suits the room there is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

TRIES: Final = 40

Size = tuple[float, float]
"""Width and height."""


PASSES: Final = 3
"""Room for words is asked for in pixels, which are known only once the scale is: so many times it is laid out anew."""


@dataclass(frozen=True, slots=True)
class Flow:
    """Where boxes went: upper left corners by group, y up with 0 at the top; and what they take up in all.

    Fields
    ------
    corners : one tuple of (x, y) per group
    heads : tuple of float
        y of the upper edge of each group, its head included.
    width, height : float
    """

    corners: tuple[tuple[Size, ...], ...]
    heads: tuple[float, ...]
    width: float
    height: float


def flow(groups: Sequence[Sequence[Size]], *, gap: Size, head: float, shape: float) -> Flow:
    """Lay out groups of boxes (width, height) one below the other, each in rows under a head of its own.

    Parameters
    ----------
    gap : between boxes, across and down
    head : height kept free above each group
    shape : width to height of the room; rows are made as long as lets everything be shown largest in it

    Examples
    --------
    >>> flow([[(10, 10)] * 4], gap=(0, 0), head=0, shape=1.0).corners
    (((0.0, 0.0), (10.0, 0.0), (0.0, -10.0), (10.0, -10.0)),)
    """
    widest = max((width for group in groups for width, _height in group), default=1.0)
    longest = max((sum(width + gap[0] for width, _height in group) for group in groups), default=1.0)
    shelves = {widest * (max(longest / widest, 1.0)) ** (step / TRIES) for step in range(TRIES + 1)}
    laid = [_lay(groups, gap, head, shelf) for shelf in sorted(shelves)]
    return min(laid, key=lambda one: max(one.width / shape, one.height))


def flow_with_words(
    groups: Sequence[Sequence[Size]], *, gap_px: Size, head_px: float, edge_px: float, board_px: Size
) -> tuple[Flow, float]:
    """As `flow`, with gaps and heads that have room for words of a fixed size on screen; also mm per pixel.

    Parameters
    ----------
    edge_px : kept free all round
    board_px : the room there is
    """
    room = max(board_px[0] - 2 * edge_px, 50.0), max(board_px[1] - 2 * edge_px, 50.0)
    shape = room[0] / room[1]
    laid = flow(groups, gap=(0.0, 0.0), head=0.0, shape=shape)
    mm_per_px = 1.0
    for _ in range(PASSES):
        mm_per_px = max(laid.width / room[0], laid.height / room[1])
        gap = gap_px[0] * mm_per_px, gap_px[1] * mm_per_px
        laid = flow(groups, gap=gap, head=head_px * mm_per_px, shape=shape)
    return laid, max(laid.width / room[0], laid.height / room[1])


def _lay(groups: Sequence[Sequence[Size]], gap: Size, head: float, shelf: float) -> Flow:
    corners, heads = [], []
    y = widest = 0.0
    for group in groups:
        heads.append(y)
        y -= head
        x = row = 0.0
        placed = []
        for width, height in group:
            if x > 0.0 and x + width > shelf * (1 + 1e-9):
                y -= row + gap[1]
                x = row = 0.0
            placed.append((x, y))
            widest = max(widest, x + width)
            x += width + gap[0]
            row = max(row, height)
        y -= row + gap[1]
        corners.append(tuple(placed))
    return Flow(tuple(corners), tuple(heads), widest, -(y + gap[1]) if groups else 0.0)

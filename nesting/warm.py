"""Getting the compiled kernels ready: compiled once per installation, loaded once per process."""

from __future__ import annotations

from collections.abc import Iterator

from geometry.outline import Outline
from nesting.problem import Part, Problem, Rules, Sheet

_done: set[str] = set()


def warming() -> Iterator[str]:
    """Call every kernel on a toy problem, one stage after the other; yields what is ready. Nothing once all are."""
    if "all" in _done:
        return
    from nesting.board import Board
    from nesting.catalog import catalog
    from nesting.construct import build
    from nesting.kernels.score import Effort
    from nesting.pairs import PairTables
    from nesting.team import WORKERS, Team

    frame = Outline.from_points([(0, 0), (9, 0), (9, 9), (0, 9)], [[(2, 2), (7, 2), (7, 7), (2, 7)]])
    ell = Outline.from_points([(0, 0), (4, 0), (4, 1), (1, 1), (1, 3), (0, 3)])
    flawed = Outline.from_points([(0, 0), (30, 0), (30, 20), (0, 25)])
    parts = (Part("frame", frame), Part("ell", ell, 3, None, True))
    toy = Problem(parts, (Sheet("sheet", flawed, 1),), Rules(0.5, 0.5))
    made = catalog(toy)
    yield "shapes"
    board = Board(toy, made)
    for _ in build(board, range(len(board.items))):
        pass
    yield "placing"
    pairs = PairTables(made, map_step=0.5)
    pairs.add([(made.attitudes[0][0].shape, made.attitudes[1][0].shape)])
    yield "tables"
    team = Team(made, [part for part, _ in board.items], pairs, seed=0)
    try:
        team.use([0])
        places = board.places()
        places[:, 4] = 0
        for k in range(WORKERS):
            team.load(k, places * (0.9, 0.9, 1.0, 1.0, 1.0))
            team.begin(k, even=True)
        team.run(Effort(3, 3, 3, 1, 0.5, 1.0, 1.0, 1.0), 500, range(WORKERS))
        team.is_clean(0)
    finally:
        team.close()
    _done.add("all")
    yield "improving"

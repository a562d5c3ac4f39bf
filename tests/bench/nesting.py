"""First layouts of many different letters, and the effort of a round, timed by hand: `python -m tests.bench.nesting`.

Every letter is a shape of its own: characters of five fonts in ever other heights, about 100 corners each, on 48 x 96
in sheets at 6.35 mm spacing. Times are processor time of one process with warm kernels.
"""

from __future__ import annotations

import argparse
import resource
import string
import time
from itertools import cycle, islice

from nesting.problem import ANY_ANGLE, Part, Problem, Rules, Sheet
from nesting.referee import violations
from nesting.solve import AfterRounds, AfterSeconds, solve
from tests.nesting.letters import letter_pieces
from tests.nesting.shapes import INCH, rectangle

FONTS = (
    "DejaVuSans-Bold.ttf",
    "DejaVuSerif-Bold.ttf",
    "Comfortaa-Bold.ttf",
    "LeagueSpartan-Bold.otf",
    "YanoneKaffeesatz-Bold.otf",
)


def different_letters(count: int, rotations: tuple[float, ...] | None) -> Problem:
    """A job of `count` letters, no two alike."""
    characters = string.ascii_letters + string.digits
    parts: list[Part] = []
    for k, (font, character) in enumerate(islice(cycle((f, c) for c in characters for f in FONTS), count)):
        pieces = letter_pieces(character, 150.0 + 0.173 * k % 250.0, font, 8)
        largest = max(pieces, key=lambda piece: float(piece.outer[:, 0].max()))
        parts.append(Part(f"{character}{k}", largest, rotations=rotations))
    sheet = Sheet("sheet", rectangle(48 * INCH, 96 * INCH), None, 1)
    return Problem(tuple(parts), (sheet,), Rules(6.35, 9.525))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=30, help="rounds of improving to time")
    chosen = parser.parse_args()
    solve(different_letters(12, ANY_ANGLE), AfterSeconds(2.0))  # loads the kernels
    for rotations, name in (((0.0, 90.0, 180.0, 270.0), "quarter turns"), (ANY_ANGLE, "any angle")):
        for count in (60, 125, 250, 500, 1000):
            problem = different_letters(count, rotations)
            corners = sum(len(ring) for part in problem.parts for ring in (part.outline.outer, *part.outline.holes))
            began = time.process_time()
            first = solve(problem, AfterRounds(0))
            took = time.process_time() - began
            began = time.process_time()
            more = solve(problem, AfterRounds(chosen.rounds))
            each = (time.process_time() - began - took) / chosen.rounds
            assert violations(problem, first.plan) == violations(problem, more.plan) == ()
            peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            print(
                f"{name:14s} {count:5d} parts of {corners / count:4.0f} corners: first layout {took:6.2f} s, "
                f"{len(first.plan.layouts)} sheets; a round {1000 * each:6.1f} ms; {peak:5.0f} MB",
                flush=True,
            )


if __name__ == "__main__":
    main()

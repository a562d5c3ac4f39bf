"""The knockout among starts, played by stand-ins with known lengths."""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest

from nesting.knockout import FIRST_ROUND, Knockout

SETTLING = 10


@dataclass(eq=False)
class Runner:
    """What the knockout asks of a layout; each step counts as one stretch."""

    length: float
    age: int = 0
    settled: int = 0
    done: bool = False
    scattered: bool = False
    pauses: list[int] = field(default_factory=list)

    def pause(self) -> None:
        self.pauses.append(self.age)

    def step(self) -> None:
        self.age += 1
        if self.age == SETTLING:
            self.settled = self.age


def played(lengths: list[float], stretches: int) -> tuple[Knockout[Runner], list[Runner]]:
    runners = [Runner(lengths[0])]

    def fresh() -> Runner:
        runners.append(Runner(lengths[len(runners)]))
        return runners[-1]

    game = Knockout(runners[0], fresh)
    for _ in range(stretches):
        game.turn()
        game.now.step()
    return game, runners


ROUND = int(FIRST_ROUND * SETTLING)


def test_two_of_equal_effort_meet_and_the_shorter_goes_on_for_twice_as_long() -> None:
    game, (first, second) = played([5.0, 4.0], 2 * ROUND + 1)
    assert game.now is second
    assert (first.age, second.age) == (ROUND, ROUND + 1)
    game, runners = played([5.0, 4.0, 6.0], 3 * ROUND + 1)
    assert game.now is runners[2]  # the winner has had its two rounds and waits for an equal
    assert [one.age for one in runners] == [ROUND, 2 * ROUND, 1]


def test_the_shortest_of_four_is_never_dropped_wherever_it_starts() -> None:
    for at in range(4):
        lengths = [9.0, 8.0, 7.0]
        lengths.insert(at, 1.0)
        # Four starts of one round, two winners of one more, then their winner's first stretch of the third level.
        game, runners = played(lengths, 6 * ROUND + 1)
        assert game.now.length == 1.0
        assert len(runners) == 4


def test_winners_get_half_of_all_effort_however_long_it_runs() -> None:
    _, runners = played([float(n % 7) for n in range(100)], 80 * ROUND)
    fresh = sum(min(one.age, ROUND) for one in runners)
    assert 0.3 * 80 * ROUND < fresh < 0.5 * 80 * ROUND
    assert max(one.age for one in runners) >= 16 * ROUND


@pytest.mark.parametrize("scattered", [False, True])
def test_a_start_that_cannot_go_on_waits_and_an_aim_does_not_beat_a_layout(scattered: bool) -> None:
    runners = [Runner(5.0), Runner(1.0 if scattered else 4.0, done=True, scattered=scattered, settled=0)]
    game = Knockout(runners[0], lambda: runners[1])
    for _ in range(ROUND + 1):
        game.turn()
        game.now.step()
    game.turn()
    assert game.now is runners[0 if scattered else 1]


def test_nothing_ends_before_only_small_steps_are_left() -> None:
    slow = Runner(5.0)
    game = Knockout(slow, lambda: Runner(1.0))
    slow.age = 10**6
    game.turn()
    assert game.now is slow
    slow.settled = 10**6
    game.turn()
    assert game.now is slow
    slow.age = int(FIRST_ROUND * 10**6)
    game.turn()
    assert game.now is not slow
    assert slow.pauses == [slow.age]

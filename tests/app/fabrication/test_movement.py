"""Movement of faces against the acrylic sheet maker's worked example (8 ft face, made at 68 F, -30 to 160 F)."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.fabrication.movement import Movement, least_bite
from app.fabrication.settings import values_of
from app.job.document import Build
from app.stock.book import MaterialKind

IN = 25.4
DEFAULTS = values_of(Build("b", "b", "face-lit with retainer", ()))
ACRYLIC = Movement.of(MaterialKind.ACRYLIC, DEFAULTS)


def test_expansion_of_an_eight_foot_face():
    # V5 and V6: 96 in x 4.0e-5 per F x 190 F = 0.7296 in; hot half 0.3533, cold half 0.3763.
    assert 96.0 * (ACRYLIC.hot + ACRYLIC.cold) == pytest.approx(0.7296, abs=0.0005)
    assert 96.0 * ACRYLIC.hot == pytest.approx(0.3533, abs=0.0005)
    assert 96.0 * ACRYLIC.cold == pytest.approx(0.3763, abs=0.0005)


def test_hot_gap_and_cold_bite():
    # V7: face 95.5 in an opening of 96, clearance 0.25, flange 1: hot gap 0.0743, cold bite 0.5628 in.
    assert ACRYLIC.hot_gap(95.5 * IN, 0.25 * IN) / IN == pytest.approx(0.0743, abs=0.0005)
    assert ACRYLIC.cold_bite(95.5 * IN, 0.25 * IN, 1.0 * IN) / IN == pytest.approx(0.5628, abs=0.0005)
    # The same face with 1/8 in binds: 0.125 - 0.176 < 0.
    assert ACRYLIC.hot_gap(95.75 * IN, 0.125 * IN) / IN == pytest.approx(-0.051, abs=0.0005)
    # Standing on its lower edge it keeps 0.126 in at the top.
    assert ACRYLIC.dropped_bite(95.5 * IN, 0.25 * IN, 1.0 * IN) / IN == pytest.approx(0.126, abs=0.0005)


def test_other_materials_and_dark_sheet():
    # Total travel of 96 in: polycarbonate 0.693, dark acrylic x 1.4 = 1.02 in (computed from the makers' figures).
    plastic = Movement.of(MaterialKind.POLYCARBONATE, DEFAULTS)
    assert 96.0 * (plastic.hot + plastic.cold) == pytest.approx(0.693, abs=0.0005)
    dark = Movement.of(MaterialKind.ACRYLIC, DEFAULTS | {"movement factor": 1.4})
    assert 96.0 * (dark.hot + dark.cold) == pytest.approx(1.02, abs=0.005)
    for kind in MaterialKind:
        assert Movement.of(kind, DEFAULTS).hot > 0.0


def test_least_clearance_of_the_example():
    # c = dL_hot / 2 = 0.176 in rounded up to a sixteenth: 3/16.
    step = IN / 16.0
    assert ACRYLIC.least_clearance(96.0 * IN, 1.0 * IN, 0.375 * IN, step) == pytest.approx(3.0 / 16.0 * IN)
    assert ACRYLIC.least_clearance(20.0 * IN, 1.0 * IN, 0.25 * IN, step) == pytest.approx(1.0 / 16.0 * IN)
    assert ACRYLIC.least_clearance(264.0 * IN, 1.0 * IN, 0.375 * IN, step) is None


@given(st.floats(100.0, 8000.0), st.floats(5.0, 60.0), st.floats(1.0, 10.0))
def test_least_clearance_is_the_first_step_that_passes(opening, flange, bite):
    step = 1.5875
    found = ACRYLIC.least_clearance(opening, flange, bite, step)

    def passes(clearance: float) -> bool:
        face = opening - 2.0 * clearance
        return (
            face > 0.0
            and ACRYLIC.hot_gap(face, clearance) >= -1e-6
            and ACRYLIC.cold_bite(face, clearance, flange) >= bite - 1e-6
        )

    tried = [k * step for k in range(1, math.ceil(opening / 2.0 / step) + 1) if passes(k * step)]
    assert found == (pytest.approx(tried[0]) if tried else None)


def test_small_letters_may_have_less_bite():
    assert least_bite(23.9 * IN, DEFAULTS) == pytest.approx(0.25 * IN)
    assert least_bite(24.0 * IN, DEFAULTS) == pytest.approx(0.375 * IN)

"""Movement of a face with heat and cold inside its retainer.

Three tests, for a face cut with clearance c on each side of the opening between the return's walls, under a flange
that covers F of it measured from the wall: hot, c - dL_hot / 2 must not be below 0; cold, the bite
F - c - dL_cold / 2 must not be below the least; and a face that stands on its lower edge leaves F - 2 c - dL_cold at
the top. Faces get hotter than frames in the sun, so the face's own movement counts, not the difference.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from app.stock.book import MaterialKind

SMALL_LETTER: Final = 609.6
"""Letters lower than this, mm (24 in), may have the smaller cold bite. Common practice."""

_ROUNDING: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Movement:
    """How a face grows: shares of its length from as made to hottest, and from as made to coldest; both positive."""

    hot: float
    cold: float

    @classmethod
    def of(cls, kind: MaterialKind, values: Mapping[str, float]) -> Movement:
        """Movement of a material under the settings of a build."""
        per_degree = values[f"expansion of {kind.value}"] * values["movement factor"]
        return cls(
            hot=per_degree * (values["hottest"] - values["made at"]),
            cold=per_degree * (values["made at"] - values["coldest"]),
        )

    def hot_gap(self, face: float, clearance: float) -> float:
        """Gap left on each side of a face of that length when hottest; below 0 it binds. mm."""
        return clearance - self.hot * face / 2.0

    def cold_bite(self, face: float, clearance: float, flange: float) -> float:
        """Cover of the flange over each edge of a centred face when coldest, mm; `flange` is measured from the wall."""
        return flange - clearance - self.cold * face / 2.0

    def dropped_bite(self, face: float, clearance: float, flange: float) -> float:
        """Cover at the top of a face that stands on its lower edge, when coldest, mm."""
        return flange - 2.0 * clearance - self.cold * face

    def least_clearance(self, opening: float, flange: float, bite: float, step: float) -> float | None:
        """Smallest clearance, in whole steps, that neither binds when hot nor slips out when cold; None if none does.

        Parameters
        ----------
        opening : float
            Distance between the walls, mm.
        flange : float
            Width of the flange measured from the wall, mm.
        bite : float
            Least cover when cold, mm.
        step : float
            mm
        """
        # c >= hot (W - 2 c) / 2, solved for c.
        steps = max(1, math.ceil(self.hot * opening / (2.0 * (1.0 + self.hot)) / step - _ROUNDING))
        clearance = steps * step
        face = opening - 2.0 * clearance
        if face <= 0.0 or self.cold_bite(face, clearance, flange) < bite - _ROUNDING:
            return None  # more clearance would only slip out sooner
        return clearance


def least_bite(letter_height: float, values: Mapping[str, float]) -> float:
    """Least cold bite of a letter of that height, mm."""
    small = letter_height < SMALL_LETTER - 0.01  # a 24 in letter is not small for a rounding's sake
    return values["least cold bite of small letters" if small else "least cold bite"]

"""What geometry raises when it has no answer."""

from __future__ import annotations


class GeometryError(Exception):
    """Base of every error raised by this package."""


class InvalidLength(GeometryError, ValueError):
    """Text that is not a length."""

    def __init__(self, text: str, why: str) -> None:
        super().__init__(text, why)  # all arguments, so the error survives pickling between processes
        self.text, self.why = text, why

    def __str__(self) -> str:
        return f"'{self.text}' is not a length: {self.why}"


class MissingUnit(InvalidLength):
    """A number with no unit where one is needed."""

    def __init__(self, text: str) -> None:
        super().__init__(text, 'it has no unit; write it like "24 in", 4\' 6", or "610 mm"')

    def __reduce__(self) -> tuple[type[MissingUnit], tuple[str]]:
        return MissingUnit, (self.text,)


class InvalidContour(GeometryError, ValueError):
    """Segments that do not make a contour (gap between neighbours, no length, not a number)."""


class OpenContour(GeometryError, ValueError):
    """A contour whose ends do not meet."""

    def __init__(self, gap: float, at: tuple[float, float]) -> None:
        super().__init__(gap, at)
        self.gap, self.at = gap, at

    def __str__(self) -> str:
        return f"contour is open by {self.gap:.3f} mm at ({self.at[0]:.2f}, {self.at[1]:.2f})"


class InvalidOutline(GeometryError, ValueError):
    """Points that do not bound one region of material."""

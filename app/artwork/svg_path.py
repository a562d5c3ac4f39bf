"""SVG path data (W3C SVG 1.1, chapter 8.3) as contours with true arcs and curves, in the path's own coordinates."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass

from geometry.arcs import ellipse_arc
from geometry.build import has_no_length
from geometry.contour import Contour
from geometry.curve import Arc, Cubic, Line, Point, Segment

_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")
_BETWEEN = re.compile(r"[ \t\r\n\f]*,?[ \t\r\n\f]*")
_SPACE = re.compile(r"[ \t\r\n\f]*")
_ARGUMENTS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}
STRAIGHT_BULGE = 1e-9  # below this an arc departs from its chord by less than the chord's own rounding


@dataclass(frozen=True, slots=True)
class CentreArc:
    """An elliptical arc by its centre; angles in degrees, positive from +x towards +y of the same frame."""

    centre: Point
    rx: float
    ry: float
    rotation: float
    start: float
    sweep: float


class TooManyPieces(ValueError):
    """Path data with more pieces than were allowed."""


class PathError(ValueError):
    """Path data that breaks the grammar; everything before `position` stands (SVG 1.1, appendix F.2)."""

    def __init__(self, why: str, position: int) -> None:
        super().__init__(why, position)
        self.why, self.position = why, position


def parse_path(
    data: str, *, tolerance: float = 1e-4, most: float = math.inf
) -> tuple[tuple[Contour, ...], PathError | None]:
    """Contours of path data, and the grammar error that ended it if there was one.

    Subpaths without length are left out. Open subpaths stay open; filling closes them, which is the caller's business.

    Parameters
    ----------
    data : str
        The ``d`` attribute.
    tolerance : float
        How far the cubics of an elliptical arc may depart from it, in the path's units.
    most : float
        Most pieces (commands) the path may have.

    Raises
    ------
    TooManyPieces
        If it has more.
    """
    builder = _Builder(tolerance)
    try:
        for number, (command, position, values) in enumerate(_commands(data)):
            if number > most:
                raise TooManyPieces
            builder.take(command, values, position)
    except PathError as error:
        return builder.finish(), error
    return builder.finish(), None


def _commands(data: str) -> Iterator[tuple[str, int, list[float]]]:
    position = _skip(_SPACE, data, 0)
    first = True
    while position < len(data):
        letter = data[position]
        if letter.upper() not in _ARGUMENTS:
            raise PathError(f"'{letter}' is no path command", position)
        if first and letter not in "Mm":
            raise PathError("path data must start with M", position)
        first = False
        at = position
        position = _skip(_SPACE, data, position + 1)
        wanted = _ARGUMENTS[letter.upper()]
        if wanted == 0:
            yield letter, at, []
            continue
        while True:
            values, position = _arguments(data, position, letter, wanted)
            yield letter, at, values
            # Further pairs after a moveto are linetos.
            letter = {"M": "L", "m": "l"}.get(letter, letter)
            after = _skip(_BETWEEN, data, position)
            if after >= len(data) or not (data[after].isdigit() or data[after] in "+-."):
                position = _skip(_SPACE, data, position)
                break
            position = after


def _arguments(data: str, position: int, letter: str, wanted: int) -> tuple[list[float], int]:
    values: list[float] = []
    for index in range(wanted):
        if index:
            position = _skip(_BETWEEN, data, position)
        if letter in "Aa" and index in (3, 4):  # flags are single characters and need no separator: "a1 1 0 0110 5"
            flag = data[position : position + 1]
            if flag not in ("0", "1"):
                raise PathError(f"an arc flag must be 0 or 1, not '{flag}'", position)
            values.append(float(flag))
            position += 1
            continue
        match = _NUMBER.match(data, position)
        if match is None:
            raise PathError(f"a number is missing after {letter}", position)
        value = float(match.group())
        if not math.isfinite(value):
            raise PathError(f"{match.group()} is too large a number", position)
        values.append(value)
        position = match.end()
    return values, position


def _skip(pattern: re.Pattern[str], data: str, position: int) -> int:
    match = pattern.match(data, position)
    return match.end() if match else position


class _Builder:
    """Collects the segments of one path."""

    def __init__(self, tolerance: float) -> None:
        self.tolerance = tolerance
        self.contours: list[Contour] = []
        self.segments: list[Segment] = []
        self.start: Point = (0.0, 0.0)
        self.at: Point = (0.0, 0.0)
        self.reflect_cubic: Point | None = None
        self.reflect_quadratic: Point | None = None

    def take(self, command: str, values: list[float], position: int) -> None:
        relative = command.islower()
        kind = command.upper()
        base_x, base_y = self.at if relative else (0.0, 0.0)
        cubic_before, quadratic_before = self.reflect_cubic, self.reflect_quadratic
        self.reflect_cubic = self.reflect_quadratic = None
        if kind == "Z":
            self.close()
            return
        if kind == "A":
            end = (base_x + values[5], base_y + values[6])
        elif kind == "H":
            end = (base_x + values[0], self.at[1])
        elif kind == "V":
            end = (self.at[0], base_y + values[0])
        else:
            end = (base_x + values[-2], base_y + values[-1])
        if not (math.isfinite(end[0]) and math.isfinite(end[1])):
            raise PathError("the path runs to infinity", position)
        controls = [(base_x + values[i], base_y + values[i + 1]) for i in range(0, len(values) - 2, 2)]
        if kind == "M":
            self.break_off()
            self.start = self.at = end
        elif kind in "LHV":
            self.add(Line(self.at, end))
        elif kind == "C":
            self.add(Cubic(self.at, controls[0], controls[1], end))
            self.reflect_cubic = controls[1]
        elif kind == "S":
            self.add(Cubic(self.at, self.reflected(cubic_before), controls[0], end))
            self.reflect_cubic = controls[0]
        elif kind in "QT":
            control = controls[0] if kind == "Q" else self.reflected(quadratic_before)
            self.add(raised(self.at, control, end))
            self.reflect_quadratic = control
        else:
            self.arc(values, end)

    def reflected(self, control: Point | None) -> Point:
        if control is None:
            return self.at
        return (2.0 * self.at[0] - control[0], 2.0 * self.at[1] - control[1])

    def arc(self, values: list[float], end: Point) -> None:
        for segment in arc_segments(
            self.at, end, values[0], values[1], values[2], values[3] != 0.0, values[4] != 0.0, tolerance=self.tolerance
        ):
            self.add(segment)
        self.at = end

    def add(self, segment: Segment) -> None:
        self.at = segment.end
        if not has_no_length(segment):
            self.segments.append(segment)

    def close(self) -> None:
        if self.segments:
            if self.at != self.start:
                self.segments.append(Line(self.at, self.start))
            self.contours.append(Contour(tuple(self.segments), is_closed=True))
            self.segments = []
        self.at = self.start

    def break_off(self) -> None:
        if self.segments:
            is_closed = self.segments[0].start == self.segments[-1].end
            self.contours.append(Contour(tuple(self.segments), is_closed=is_closed))
            self.segments = []

    def finish(self) -> tuple[Contour, ...]:
        self.break_off()
        return tuple(self.contours)


def raised(start: Point, control: Point, end: Point) -> Cubic:
    """Quadratic Bézier as a cubic, exactly."""
    third = 2.0 / 3.0
    return Cubic(
        start,
        (start[0] + third * (control[0] - start[0]), start[1] + third * (control[1] - start[1])),
        (end[0] + third * (control[0] - end[0]), end[1] + third * (control[1] - end[1])),
        end,
    )


def arc_segments(
    start: Point,
    end: Point,
    rx: float,
    ry: float,
    rotation: float,
    large: bool,
    sweep: bool,
    *,
    tolerance: float = 1e-4,
) -> tuple[Segment, ...]:
    """Segments of an SVG elliptical arc command: circular ones as arcs, others as cubics within `tolerance`.

    Out-of-range values are mended as SVG 1.1, appendix F.6.2 and F.6.6, says: no radius gives a line, radii too
    small are scaled up, equal ends give nothing.
    """
    if start == end:
        return ()
    if rx == 0.0 or ry == 0.0:
        return (Line(start, end),)
    if abs(rx) == abs(ry):
        return _circular(start, end, abs(rx), large, sweep)
    arc = centre_arc(start, end, rx, ry, rotation, large, sweep)
    if arc is None or arc.sweep == 0.0:
        return (Line(start, end),)
    cubics = list(ellipse_arc(arc.centre, arc.rx, arc.ry, arc.rotation, arc.start, arc.sweep, tolerance=tolerance))
    first, last = cubics[0], cubics[-1]
    cubics[0] = Cubic(start, first.control1, first.control2, first.end)
    last = cubics[-1]
    cubics[-1] = Cubic(last.start, last.control1, last.control2, end)
    return tuple(cubics)


def centre_arc(
    start: Point, end: Point, rx: float, ry: float, rotation: float, large: bool, sweep: bool
) -> CentreArc | None:
    """Centre and angles of an arc given by its ends (SVG 1.1 implementation notes, F.6.5 and F.6.6).

    None when the ends coincide, a radius is zero, or the numbers are too extreme to tell a centre.
    """
    if start == end or rx == 0.0 or ry == 0.0:
        return None
    rx, ry = abs(rx), abs(ry)
    phi = math.radians(rotation % 360.0)
    cos_phi, sin_phi = math.cos(phi), math.sin(phi)
    half_x, half_y = (start[0] - end[0]) / 2.0, (start[1] - end[1]) / 2.0
    x1 = cos_phi * half_x + sin_phi * half_y
    y1 = -sin_phi * half_x + cos_phi * half_y
    ux, uy = x1 / rx, y1 / ry
    if not (math.isfinite(ux) and math.isfinite(uy)):
        return None
    lack = ux * ux + uy * uy  # F.6.6.2: above 1 the ellipse is too small to reach
    if not math.isfinite(lack) or lack == 0.0:
        return None
    if lack > 1.0:
        grow = math.sqrt(lack)
        rx, ry, ux, uy, lack = rx * grow, ry * grow, ux / grow, uy / grow, 1.0
    # F.6.5.2 divided through by rx² ry²: the factor is sqrt((1 - lack) / lack).
    factor = math.sqrt(max(0.0, (1.0 - lack) / lack)) * (1.0 if large != sweep else -1.0)
    centre_x1, centre_y1 = factor * rx * uy, -factor * ry * ux
    centre = (
        cos_phi * centre_x1 - sin_phi * centre_y1 + (start[0] + end[0]) / 2.0,
        sin_phi * centre_x1 + cos_phi * centre_y1 + (start[1] + end[1]) / 2.0,
    )
    theta = math.atan2((y1 - centre_y1) / ry, (x1 - centre_x1) / rx)
    theta_end = math.atan2((-y1 - centre_y1) / ry, (-x1 - centre_x1) / rx)
    turn = math.degrees(theta_end - theta) % 360.0
    if not sweep and turn > 0.0:
        turn -= 360.0
    return CentreArc(centre, rx, ry, rotation, math.degrees(theta), turn)


def _circular(start: Point, end: Point, radius: float, large: bool, sweep: bool) -> tuple[Segment, ...]:
    dx, dy = end[0] - start[0], end[1] - start[1]
    chord = math.hypot(dx, dy)
    if chord == 0.0 or not math.isfinite(chord):
        return ()
    half_angle = math.asin(min(1.0, chord / 2.0 / radius)) if radius > 0.0 else math.pi / 2.0
    turn = 2.0 * math.pi - 2.0 * half_angle if large else 2.0 * half_angle
    bulge = math.tan(turn / 4.0) * (1.0 if sweep else -1.0)
    if abs(bulge) < STRAIGHT_BULGE:
        return (Line(start, end),)
    if abs(bulge) <= 1.0:
        return (Arc(start, end, bulge),)
    # More than half a turn: two arcs, since a bulge near infinity cannot hold its centre well.
    apex = (
        (start[0] + end[0]) / 2.0 + bulge * dy / 2.0,
        (start[1] + end[1]) / 2.0 - bulge * dx / 2.0,
    )
    half = math.tan(math.atan(abs(bulge)) / 2.0) * (1.0 if sweep else -1.0)
    return (Arc(start, apex, half), Arc(apex, end, half))

"""Lengths as people write them, to and from millimetres, in exact fractions: an inch is 25.4 mm by definition."""

from __future__ import annotations

import math
import re
from fractions import Fraction
from typing import Final

from geometry.errors import InvalidLength, MissingUnit

_INCH: Final = Fraction(254, 10)  # international inch of 1959, by definition
_EXACT: Final[dict[str, Fraction]] = {
    "in": _INCH,
    "ft": 12 * _INCH,
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "pt": _INCH / 72,
    "px": _INCH / 96,  # CSS pixel
    "pc": _INCH / 6,
    "yd": 36 * _INCH,
}

MM_PER: Final[dict[str, float]] = {name: float(value) for name, value in _EXACT.items()}
"""Millimetres in one of each unit."""

_NAMES: Final[dict[str, str]] = {
    **{name: name for name in _EXACT},
    **dict.fromkeys(("inch", "inches", '"'), "in"),
    **dict.fromkeys(("foot", "feet", "'"), "ft"),
    **dict.fromkeys(("millimetre", "millimetres", "millimeter", "millimeters"), "mm"),
    **dict.fromkeys(("centimetre", "centimetres", "centimeter", "centimeters"), "cm"),
    **dict.fromkeys(("metre", "metres", "meter", "meters"), "m"),
    **dict.fromkeys(("point", "points"), "pt"),
    **dict.fromkeys(("pixel", "pixels"), "px"),
    **dict.fromkeys(("pica", "picas"), "pc"),
    **dict.fromkeys(("yard", "yards"), "yd"),
}

_VULGAR: Final[dict[str, str]] = {
    "½": "1/2", "⅓": "1/3", "⅔": "2/3", "¼": "1/4", "¾": "3/4", "⅕": "1/5", "⅖": "2/5", "⅗": "3/5", "⅘": "4/5",
    "⅙": "1/6", "⅚": "5/6", "⅐": "1/7", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8", "⅑": "1/9", "⅒": "1/10",
}  # fmt: skip
_PLAIN: Final = str.maketrans(
    {
        **{sign: f" {text}" for sign, text in _VULGAR.items()},
        **dict.fromkeys("′’‘ʹ´`", "'"),
        **dict.fromkeys("″”“„ʺ", '"'),
        **dict.fromkeys("‐‑‒–—−", "-"),
        **dict.fromkeys("\u00a0\u2007\u2009\u202f\t", " "),
        "⁄": "/",
        "∕": "/",
    }
)

_DECIMAL: Final = r"(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d{1,2})?"


def _number_pattern(n: int) -> str:
    fraction = rf"(?:(?P<whole{n}>\d+)(?:\s+|\s*-\s*))?(?P<num{n}>\d+)\s*/\s*(?P<den{n}>\d+)"
    return rf"(?:{fraction}|(?P<dec{n}>{_DECIMAL}))"


_SINGLE: Final = re.compile(rf"{_number_pattern(1)}\s*(?P<unit>\"|'|[a-z]+\.?)?")
_FEET_INCHES: Final = re.compile(
    rf"{_number_pattern(1)}\s*(?:'|(?:feet|foot|ft)\b\.?)\s*-?\s*{_number_pattern(2)}\s*(?:\"|(?:inches|inch|in)\b\.?)?"
)
_LONGEST: Final = 80  # characters; nobody writes a length longer than this


def parse_length(text: str, *, default_unit: str | None = None) -> float:
    r"""Length in mm from text such as ``3/16"``, ``1-1/2"``, ``1 1/2 in``, ``4' 6 1/2"``, ``4ft 6in`` or ``457 mm``.

    Typographic quotes, primes, dashes and fraction signs are read like the plain ones, and a second number after
    feet is inches. A leading minus makes the whole length negative; whether that makes sense is for the caller to say.

    Parameters
    ----------
    text : str
    default_unit : str or None
        A key of ``MM_PER``, used when the text names no unit.

    Raises
    ------
    MissingUnit
        If there is no unit in the text and no default.
    InvalidLength
        If the text is not a length: decimal commas, unknown units, a zero denominator, values that are not finite.

    Examples
    --------
    >>> parse_length("4' 6 1/2\"")
    1384.3
    """
    if default_unit is not None and default_unit not in _EXACT:
        raise ValueError(f"default_unit is '{default_unit}'; known units are {', '.join(_EXACT)}")
    shown = text.strip()
    if len(shown) > _LONGEST:
        raise InvalidLength(shown[:_LONGEST] + "…", f"it is longer than {_LONGEST} characters")
    plain = " ".join(shown.translate(_PLAIN).replace("''", '"').lower().split())
    if not plain:
        raise InvalidLength(shown, 'it is empty; write it like "24 in", 4\' 6", or "610 mm"')
    if "," in plain:
        raise InvalidLength(shown, "it has a comma; write decimals with a point and leave out thousands separators")
    sign = 1
    if plain[0] in "+-":
        sign, plain = (-1 if plain[0] == "-" else 1), plain[1:].lstrip()
    exact = sign * _exact_length(shown, plain, default_unit)
    try:
        value = float(exact)
    except OverflowError:
        value = math.inf
    if not math.isfinite(value):
        raise InvalidLength(shown, "it is too large")
    return value


def format_inches(mm: float, *, denominator: int = 16) -> str:
    """Inches with a reduced fraction, ``1 1/2"``, or decimals, ``1.013"``, when no such fraction is within 0.0005 in.

    Parameters
    ----------
    mm : float
    denominator : int
        Finest fraction to use.
    """
    inches = Fraction(mm) / _INCH
    nearest = Fraction(round(inches * denominator), denominator)
    if abs(inches - nearest) > Fraction(5, 10_000):
        return f'{_trimmed(float(inches), 3)}"'
    sign = "-" if nearest < 0 else ""
    whole, rest = divmod(abs(nearest), 1)
    if rest == 0:
        return f'{sign}{whole}"'
    return f'{sign}{rest}"' if whole == 0 else f'{sign}{whole} {rest}"'


def format_mm(mm: float) -> str:
    """Millimetres, ``38.1 mm``: at most two decimals, three below 10 mm."""
    return f"{_trimmed(mm, 3 if abs(mm) < 10 else 2)} mm"


def format_length(mm: float, units: str) -> str:
    """Length for people in the units they chose, ``"in"`` or ``"mm"``."""
    if units == "in":
        return format_inches(mm)
    if units == "mm":
        return format_mm(mm)
    raise ValueError(f"units must be 'in' or 'mm', not '{units}'")


def format_both(mm: float) -> str:
    """Inches with millimetres beside them: ``24" (609.6 mm)``."""
    return f"{format_inches(mm)} ({format_mm(mm)})"


def _exact_length(shown: str, plain: str, default_unit: str | None) -> Fraction:
    if match := _FEET_INCHES.fullmatch(plain):
        return _number(shown, match, 1) * _EXACT["ft"] + _number(shown, match, 2) * _EXACT["in"]
    match = _SINGLE.fullmatch(plain)
    if match is None:
        raise InvalidLength(shown, 'it cannot be read; write it like "24 in", 4\' 6", 1-1/2", or "610 mm"')
    value = _number(shown, match, 1)
    word = match["unit"]
    if word is None:
        if default_unit is None:
            raise MissingUnit(shown)
        return value * _EXACT[default_unit]
    unit = _NAMES.get(word.rstrip("."))
    if unit is None:
        raise InvalidLength(shown, f"'{word}' is not a unit known here; use one of {', '.join(_EXACT)}")
    return value * _EXACT[unit]


def _number(shown: str, match: re.Match[str], n: int) -> Fraction:
    if (decimal := match[f"dec{n}"]) is not None:
        return Fraction(decimal)
    denominator = int(match[f"den{n}"])
    if denominator == 0:
        raise InvalidLength(shown, "its fraction has a zero below the line")
    return int(match[f"whole{n}"] or 0) + Fraction(int(match[f"num{n}"]), denominator)


def _trimmed(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text

"""Findings: what a reader or a rule has to say about something the user can live with or must decide."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How much a finding matters."""

    NOTE = "note"  # said for the record
    WARNING = "warning"  # look at it before cutting
    ERROR = "error"  # something asked for was not done


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to say, with its place and what was done about it.

    Fields
    ------
    code : str
        Stable short name ("open-contour"); each room lists its codes in a StrEnum.
    severity : Severity
    message : str
        One sentence: the thing, the value, the limit, the way out.
    where : tuple of float or None
        Place in the drawing, mm, or None when it has none.
    fixed : bool
        True when the program already put it right.
    subject : str
        Id of the letter, part, file or object spoken of; empty when the whole drawing is meant.
    """

    code: str
    severity: Severity
    message: str
    where: tuple[float, float] | None = None
    fixed: bool = False
    subject: str = ""

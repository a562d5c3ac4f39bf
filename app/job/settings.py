"""The settings a build can change, with their defaults, bounds and marks.

Every number that is common practice is a setting. The table stands beside this module as CSV; to add a setting, add
a row there and name it in the kinds of build that use it (`app.job.kinds`).
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from importlib import resources
from typing import Final

from app.job.quantities import Quantity, parse_quantity


@dataclass(frozen=True, slots=True)
class Setting:
    """One number of a build that can be changed.

    Fields
    ------
    name : str
        As written in job files and shown to people.
    quantity : Quantity
    default, least, most : float
        In the quantity's unit; `least` and `most` bound what is accepted.
    mark : str
        Where the default comes from: a sort of source, or "common practice".
    meaning : str
        One sentence for the person who sets it.
    """

    name: str
    quantity: Quantity
    default: float
    least: float
    most: float
    mark: str
    meaning: str


def _read() -> dict[str, Setting]:
    text = resources.files("app.job").joinpath("settings.csv").read_text(encoding="utf-8")
    found = {}
    for row in csv.DictReader(text.splitlines()):
        quantity = Quantity[row["quantity"].upper()]
        default, least, most = (parse_quantity(row[key], quantity) for key in ("default", "least", "most"))
        found[row["name"]] = Setting(row["name"], quantity, default, least, most, row["mark"], row["meaning"])
    return found


SETTINGS: Final[dict[str, Setting]] = _read()
"""All settings of all kinds, by name."""

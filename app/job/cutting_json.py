"""The operator's choices in the job file, and their bounds."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import fields
from enum import StrEnum
from typing import Final

from app.errors import JobError
from app.job.cutting import USUAL, Cutting, Direction, DxfVersion, Hold, Lead, MaterialFeed, Page
from app.job.fields import Fields, Json

_BOUNDS: Final = {
    "lead_radius": (1.0, 10.0, ""),
    "ramp_angle": (0.5, 45.0, " degrees"),
    "tab_width": (0.5, 100.0, " mm"),
    "tab_thickness": (0.05, 100.0, " mm"),
    "skin": (0.01, 10.0, " mm"),
    "rapid": (1.0, 1e6, " mm/min"),
    "acceleration": (1.0, 1e6, " mm/s²"),
}


def check_cutting(cutting: Cutting, materials: tuple[str, ...]) -> None:
    """Refuse numbers that make no sense.

    Raises
    ------
    JobError
        About the first fault.
    """
    for name, (least, most, unit) in _BOUNDS.items():
        value = getattr(cutting, name)
        if not (math.isfinite(value) and least <= value <= most):
            raise JobError(f"cutting, {name} of {value:g}{unit} is out of range; give {least:g} to {most:g}{unit}")
    named = [one.material for one in cutting.feeds]
    for one in cutting.feeds:
        if one.material not in materials:
            raise JobError(f"cutting, feeds: '{one.material}' is not a material of this job; name one that is")
        if named.count(one.material) > 1:
            raise JobError(f"cutting, feeds: '{one.material}' is given twice; give it once")
        for what, value in (("feed", one.feed), ("depth", one.depth)):
            if not (math.isfinite(value) and 0.01 <= value <= 1e6):
                raise JobError(f"cutting, feeds of '{one.material}', {what} of {value:g} mm makes no sense; check it")


def cutting_from_json(value: Json) -> Cutting:
    """The object under "cutting" in a job file; whatever it leaves out keeps its default.

    Raises
    ------
    JobFileError
        About the first field that is wrong.
    """
    given = Fields(value, "cutting", [one.name for one in fields(Cutting)])
    usual = USUAL
    return Cutting(
        paths=given.optional("paths", given.yes_no, usual.paths),
        direction=given.optional("direction", lambda key: given.choice(key, Direction), usual.direction),
        lead=given.optional("lead", lambda key: given.choice(key, Lead), usual.lead),
        lead_radius=given.optional("lead_radius", given.number, usual.lead_radius),
        ramp_angle=given.optional("ramp_angle", given.number, usual.ramp_angle),
        hold=given.optional("hold", lambda key: given.choice(key, Hold), usual.hold),
        tab_width=given.optional("tab_width", given.length, usual.tab_width),
        tab_thickness=given.optional("tab_thickness", given.length, usual.tab_thickness),
        skin=given.optional("skin", given.length, usual.skin),
        shares_cuts=given.optional("shares_cuts", given.yes_no, usual.shares_cuts),
        dxf_version=given.optional("dxf_version", lambda key: given.choice(key, DxfVersion), usual.dxf_version),
        page=given.optional("page", lambda key: given.choice(key, Page), usual.page),
        rapid=given.optional("rapid", given.length, usual.rapid),
        acceleration=given.optional("acceleration", given.length, usual.acceleration),
        feeds=tuple(_feed(name, one) for name, one in (given.mapping("feeds") if given.has("feeds") else {}).items()),
    )


def _feed(material: str, value: Json) -> MaterialFeed:
    given = Fields(value, f"cutting, feeds of '{material}'", ("feed", "depth"))
    return MaterialFeed(material, given.length("feed"), given.length("depth"))


def cutting_to_json(cutting: Cutting, length: Callable[[float], str]) -> dict[str, object]:
    """What differs from the defaults, as the object under "cutting" in a job file; lengths by `length`."""
    usual = USUAL
    lengths = ("tab_width", "tab_thickness", "skin", "rapid", "acceleration")
    found: dict[str, object] = {}
    for one in fields(Cutting):
        value = getattr(cutting, one.name)
        if value == getattr(usual, one.name):
            continue
        if one.name == "feeds":
            found["feeds"] = {
                each.material: {"feed": length(each.feed), "depth": length(each.depth)} for each in cutting.feeds
            }
        elif one.name in lengths:
            found[one.name] = length(value)
        else:
            found[one.name] = value.value if isinstance(value, StrEnum) else value
    return found

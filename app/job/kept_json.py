"""The kept plan in a job file: one line for each part on a sheet, and the checks that a file needs."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from decimal import Decimal
from typing import Final

from app.errors import JobError
from app.job.fields import Fields, Json
from app.job.kept import KeptPart, KeptPlan, KeptSheet
from nesting.plan import Placement

_PLAN_KEYS: Final = ("by_hand", "sheets", "shapes")
_SHEET_KEYS: Final = ("stock", "locked", "parts")
_PART_KEYS: Final = ("part", "copy", "x", "y", "rotation_deg", "mirrored", "locked")
FARTHEST: Final = 1e6
"""mm; a part farther off than this is a slip."""


def kept_text(plan: KeptPlan, length: Callable[[float], str]) -> str:
    """The plan as JSON text, indented as the value of a key of the job file's object."""

    def place(value: float) -> str:
        text = length(value + 0.0)  # no negative zero
        return f"{Decimal(repr(value)):f} mm" if "e" in text else text

    def part(one: KeptPart) -> str:
        at = one.placement
        found: dict[str, object] = {"part": at.part, "copy": at.copy, "x": place(at.x), "y": place(at.y)}
        if at.rotation:
            found["rotation_deg"] = at.rotation
        if at.mirrored:
            found["mirrored"] = True
        if one.is_locked:
            found["locked"] = True
        return json.dumps(found, ensure_ascii=False, allow_nan=False)

    def sheet(one: KeptSheet) -> str:
        head = f'"stock": {json.dumps(one.stock, ensure_ascii=False)},'
        lock = ' "locked": true,' if one.is_locked else ""
        return (
            f'      {{{head}{lock} "parts": [\n'
            + ",\n".join(f"        {part(each)}" for each in one.parts)
            + "\n      ]}"
        )

    sheets = ",\n".join(map(sheet, plan.sheets))
    shapes = ",\n".join(
        f"      {json.dumps(name, ensure_ascii=False)}: {json.dumps(text, ensure_ascii=False)}"
        for name, text in plan.shapes
    )
    return (
        f'{{\n    "by_hand": {json.dumps(plan.is_by_hand)},\n    "sheets": [\n{sheets}\n    ],\n'
        f'    "shapes": {{\n{shapes}\n    }}\n  }}'
    )


def kept_from_json(value: Json) -> KeptPlan:
    """The kept plan of a job file.

    Raises
    ------
    JobFileError
    """
    fields = Fields(value, "plan", _PLAN_KEYS)
    shapes = Fields(fields.raw("shapes"), "plan, shapes", fields.mapping("shapes")) if fields.has("shapes") else None
    return KeptPlan(
        sheets=tuple(
            _sheet(one, f"plan, sheet {number}") for number, one in enumerate(fields.entries("sheets"), start=1)
        ),
        shapes=tuple((name, shapes.text(name)) for name in fields.mapping("shapes")) if shapes is not None else (),
        is_by_hand=fields.optional("by_hand", fields.yes_no, False),
    )


def check_kept(plan: KeptPlan) -> None:
    """Refuse a kept plan that does not agree with itself; whether it fits the job's parts and stock comes later.

    Raises
    ------
    JobError
    """
    seen: dict[tuple[str, int], int] = {}
    for number, sheet in enumerate(plan.sheets, start=1):
        if not sheet.parts:
            raise JobError(f"plan, sheet {number} holds no part; leave it out")
        for part in sheet.parts:
            at = part.placement
            where = f"plan, sheet {number}, part '{at.part}' copy {at.copy}"
            if at.copy < 0:
                raise JobError(f"{where}: copies count from 0")
            if not all(math.isfinite(one) and abs(one) <= FARTHEST for one in (at.x, at.y, at.rotation)):
                raise JobError(f"{where} lies nowhere near its sheet ({at.x:g}, {at.y:g} mm); correct its place")
            if part.key in seen:
                raise JobError(f"{where} is on sheet {seen[part.key]} too; a copy has one place")
            seen[part.key] = number


def _sheet(value: Json, where: str) -> KeptSheet:
    fields = Fields(value, where, _SHEET_KEYS)
    return KeptSheet(
        stock=fields.text("stock"),
        parts=tuple(
            _part(one, f"{where}, part {number}") for number, one in enumerate(fields.entries("parts"), start=1)
        ),
        is_locked=fields.optional("locked", fields.yes_no, False),
    )


def _part(value: Json, where: str) -> KeptPart:
    fields = Fields(value, where, _PART_KEYS)
    placement = Placement(
        part=fields.text("part"),
        copy=fields.whole("copy"),
        x=fields.length("x"),
        y=fields.length("y"),
        rotation=fields.optional("rotation_deg", fields.number, 0.0) % 360.0,
        mirrored=fields.optional("mirrored", fields.yes_no, False),
    )
    return KeptPart(placement, fields.optional("locked", fields.yes_no, False))

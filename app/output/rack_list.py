"""The pieces on the rack as text and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from app.output.text_table import text_table
from app.stock.rack import REVIEW_AFTER_DAYS
from app.stock.rack_items import ON_THE_RACK, RackOffcut
from geometry.units import format_both


def rack_text(pieces: Sequence[RackOffcut], now: datetime) -> str:
    """One line per piece, and a word on those that are old."""
    if not pieces:
        return "nothing on the rack"
    rows = [
        [
            str(piece.id),
            piece.material,
            f"{format_both(piece.width)} × {format_both(piece.height)}",
            "measured" if piece.measured else "planned",
            "" if len(piece.shape) == 4 else "not a rectangle",
            piece.slot,
            piece.lot,
            piece.job,
            f"{piece.age_days(now)} d",
            piece.status.value + (f" for {piece.reserved_for}" if piece.reserved_for else ""),
        ]
        for piece in pieces
    ]
    headings = ["no.", "material", "usable size", "", "", "place", "lot", "from job", "age", "state"]
    old = [piece for piece in pieces if piece.status in ON_THE_RACK and piece.age_days(now) >= REVIEW_AFTER_DAYS]
    lines = [text_table(headings, rows, right=(0, 8))]
    if old:
        named = ", ".join(str(piece.id) for piece in old)
        lines.append(f"{len(old)} there for {REVIEW_AFTER_DAYS} days or more; use them up or throw them out: {named}")
    return "\n".join(lines)


def rack_json(pieces: Sequence[RackOffcut], now: datetime) -> dict[str, Any]:
    """The pieces for other programs; lengths mm, times UTC."""
    return {
        "version": 1,
        "units": "mm",
        "offcuts": [
            {
                "id": piece.id,
                "material": piece.material,
                "thickness": piece.thickness,
                "usable_width": piece.width,
                "usable_height": piece.height,
                "measured": piece.measured is not None,
                "measured_thickness": piece.measured.thickness if piece.measured else None,
                "outline": [list(point) for point in piece.shape],
                "lot": piece.lot,
                "slot": piece.slot,
                "job": piece.job,
                "note": piece.note,
                "status": piece.status.value,
                "reserved_for": piece.reserved_for or None,
                "parent": piece.parent,
                "kept_at": piece.kept_at.isoformat(),
                "age_days": piece.age_days(now),
            }
            for piece in pieces
        ],
    }

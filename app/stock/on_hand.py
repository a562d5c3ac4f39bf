"""Whole sheets in the shop, counted by stock size. They live in the rack's file, so that cutting one is one step."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from app.stock.rack import Rack
from app.stock.rack_items import RackError

MOST: Final = 100_000
"""No shop has more sheets of one size."""


def on_hand(rack: Rack) -> dict[str, int]:
    """Count by stock id, for the sizes that are counted at all."""
    with rack.telling():
        rows = rack.connection.execute("SELECT stock, count FROM on_hand ORDER BY stock").fetchall()
    return {row["stock"]: row["count"] for row in rows}


def set_on_hand(rack: Rack, counts: Mapping[str, int], *, materials: Mapping[str, str]) -> None:
    """Record what was counted, all or nothing.

    Parameters
    ----------
    rack : Rack
    counts : mapping of stock id to number of sheets
    materials : mapping of stock id to material id

    Raises
    ------
    RackError
        When a count makes no sense.
    """
    for stock, count in counts.items():
        if not 0 <= count <= MOST:
            raise RackError(f"stock '{stock}', count {count} makes no sense; give 0 to {MOST}")
    with rack.transaction() as connection:
        for stock, count in counts.items():
            connection.execute(
                "INSERT INTO on_hand (stock, material, count) VALUES (?, ?, ?) "
                "ON CONFLICT (stock) DO UPDATE SET material = excluded.material, count = excluded.count",
                (stock, materials[stock], count),
            )

"""The list of film: what the strip engine laid, panel by panel, read back from the CSV."""

from __future__ import annotations

import csv
from dataclasses import replace

import pytest

from app.fabrication.part import Goods, Strip
from app.output.film_table import film_table
from app.output.table_files import write_csv
from app.output.tables import coils_table
from app.planning.strip_lists import strip_lists
from tests.app.output.plans import sign_plan

IN = 25.4


def test_every_panel_stands_on_the_list_once_and_within_the_roll(tmp_path):
    strips = tuple(
        Strip(f"a-{n:02d}", "film panel 1 of 1", Goods.FILM, w * IN, h * IN, h * IN, quantity, stock_width=47.5 * IN)
        for n, (w, h, quantity) in enumerate([(20, 30, 2), (27.5, 30, 1), (47.5, 12, 1)])
    )
    plan = replace(sign_plan(), strips=strips)
    write_csv(film_table(plan), tmp_path / "film.csv")
    with (tmp_path / "film.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert sorted((row["letter"], row["copy"]) for row in rows) == [
        ("a-00", "1"),
        ("a-00", "2"),
        ("a-01", "1"),
        ("a-02", "1"),
    ]
    (found,) = strip_lists(strips)
    for row in rows:
        along, across, length, width = (float(row[f"{name} mm"]) for name in ("along", "across", "length", "width"))
        assert along >= -0.01
        assert along + length <= found.total + 0.01
        assert across >= -0.01
        assert across + width <= 47.5 * IN + 0.01
        assert float(row["along in"]) == pytest.approx(along / IN, abs=0.001)
    # 30 in with 20 and 27.5 beside each other, 30 in with 20, 12 in over the whole width.
    assert found.total / IN == pytest.approx(72.0, abs=0.01)
    assert [row[3] for row in coils_table(plan).rows] == [found.total]


def test_no_film_no_row():
    assert film_table(replace(sign_plan(), strips=())).rows == ()

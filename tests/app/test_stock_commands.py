"""Rack, stock book, comparison, order, recut and booking from the command line."""

from __future__ import annotations

import csv
import json
import os
from pathlib import Path

import pytest

from app.cli import main
from app.stock import shop_book
from app.stock.rack import Rack
from app.stock.rack_items import OffcutStatus

SQUARES = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="1000mm" height="400mm" viewBox="0 0 1000 400">'
    '<rect x="0" y="0" width="400" height="400"/><rect x="500" y="0" width="400" height="400"/></svg>'
)


@pytest.fixture
def rack_file(tmp_path, monkeypatch):
    monkeypatch.setenv("LETTERBED_RACK", str(tmp_path / "shop" / "rack.db"))
    monkeypatch.setenv(shop_book.PLACE_VARIABLE, str(tmp_path / "shop" / "book"))
    return tmp_path / "shop" / "rack.db"


@pytest.fixture
def job(tmp_path, rack_file) -> Path:
    (tmp_path / "squares.svg").write_text(SQUARES, encoding="utf-8")
    path = tmp_path / "job.json"
    path.write_text(
        json.dumps(
            {
                "letterbed_job": 1,
                "name": "two squares",
                "units": "mm",
                "artwork": [{"id": "line1", "name": "squares", "file": "squares.svg", "build": "lit"}],
                "builds": [
                    {
                        "id": "lit",
                        "name": "lit",
                        "kind": "face-lit with retainer",
                        "materials": {"backer": "alu-2mm", "face": "acrylic-white-3mm", "retainer": "alu-2mm"},
                    }
                ],
            }
        ),
        encoding="utf-8",
    )
    return path


def run(capsys, *arguments: object) -> tuple[int, str, str]:
    status = main([str(argument) for argument in arguments])
    captured = capsys.readouterr()
    return status, captured.out, captured.err


def test_the_life_of_a_piece_from_the_command_line(capsys, rack_file, tmp_path):
    assert run(capsys, "rack", "list")[1] == "nothing on the rack\n"
    status, printed, _ = run(
        capsys, "rack", "add", "--material", "alu-0.063", "--size", "24 x 36 in", "--slot", "B2", "--lot", "L7"
    )
    assert (status, printed) == (0, "kept as offcut 1\n")
    assert "609.6 mm" in run(capsys, "rack", "list")[1]
    assert run(capsys, "rack", "reserve", 1, "--job", "hall")[0] == 0
    status, printed, said = run(capsys, "rack", "take", 1)
    assert (status, printed) == (2, "")
    assert said == "letterbed: offcut 1 is reserved for 'hall'; name that job\n"
    assert run(capsys, "rack", "take", 1, "--job", "hall")[0] == 0
    assert run(capsys, "rack", "return", 1, "--size", "600mm x 20in", "--slot", "C1")[0] == 0
    assert run(capsys, "rack", "measure", 1, "--size", "590mm x 500mm", "--thickness", "1.6mm")[0] == 0
    assert run(capsys, "rack", "move", 1, "D4")[0] == 0
    (piece,) = json.loads(run(capsys, "rack", "list", "--json")[1])["offcuts"]
    assert (piece["usable_width"], piece["usable_height"], piece["slot"]) == (590.0, 500.0, "D4")
    status, printed, _ = run(capsys, "rack", "history", 1)
    assert [line.split("  ")[1] for line in printed.splitlines()] == [
        "kept", "reserved", "taken", "returned", "measured", "moved", "measured", "moved",
    ]  # fmt: skip
    assert run(capsys, "rack", "labels", "--out", tmp_path / "labels.pdf")[0] == 0
    assert (tmp_path / "labels.pdf").read_bytes().startswith(b"%PDF")
    assert run(capsys, "rack", "discard", 1, "--note", "bent")[0] == 0
    assert run(capsys, "rack", "list")[1] == "nothing on the rack\n"
    assert "discarded" in run(capsys, "rack", "list", "--all")[1]


def test_an_irregular_piece_from_a_drawing(capsys, rack_file, tmp_path):
    (tmp_path / "piece.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="900mm" height="900mm" viewBox="0 0 900 900">'
        '<path d="M100 800 h600 v-300 h-350 v-400 h-250 z"/></svg>',
        encoding="utf-8",
    )
    status, _, said = run(capsys, "rack", "add", "--material", "pvc-white-6mm", "--outline", tmp_path / "piece.svg")
    assert status == 0, said
    with Rack(rack_file) as rack:
        assert len(rack.offcut(1).outline) == 6
    assert "not a rectangle" in run(capsys, "rack", "list")[1]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("add", "--material", "alu-0.063", "--size", "24in"), "'24in' is not a size"),
        (("add", "--material", "alu-0.063", "--size", "24 x 36"), "unit"),
        (("add", "--material", "alu-0.06", "--size", "24in x 36in"), "did you mean"),
        (("take", "7"), "there is no offcut 7"),
        (("sheets", "alu-0.063-48x96"), "not NAME=VALUE"),
        (("sheets", "alu-0.063-48x96=many"), "not a whole number"),
        (("sheets", "alu-0.063-48x97=1"), "did you mean"),
        (("list", "--rack-file", os.devnull), "rack"),
    ],
)
def test_bad_input_is_one_sentence_and_status_2(capsys, rack_file, arguments, words):
    status, printed, said = run(capsys, "rack", *arguments)
    assert (status, printed) == (2, "")
    assert said.startswith("letterbed: ")
    assert words in said
    assert len(said.strip().splitlines()) == 1


def test_a_thickness_outside_the_tolerance_is_pointed_out(capsys, rack_file):
    status, printed, _ = run(
        capsys, "rack", "add", "--material", "acrylic-white-4.5mm", "--size", "600mm x 600mm",
        "--measured-thickness", "6mm",
    )  # fmt: skip
    assert status == 0
    # ISO 7823-1 (trade.md V8): 4.5 mm cast acrylic may have 3.65 to 5.35 mm.
    assert "look again" in printed
    assert "5.35 mm" in printed


def test_the_stock_book_goes_out_and_comes_in(capsys, rack_file, tmp_path):
    folder = tmp_path / "tables"
    assert run(capsys, "stock", "export", folder)[0] == 0
    text = (folder / "sheets.csv").read_text(encoding="utf-8-sig")
    (folder / "sheets.csv").write_text(text.replace(",75.00,", ",77.00,"), encoding="utf-8")
    status, printed, said = run(capsys, "stock", "import", folder)
    assert status == 0, said
    assert "now the shop's own stock book" in printed
    assert "77.00" in run(capsys, "stock", "list", "--material", "alu-0.063")[1]
    assert "alu-0.063" in run(capsys, "stock", "list")[1]
    (folder / "sheets.csv").write_text(text.replace(",75.00,", ",cheap,"), encoding="utf-8")
    status, _, said = run(capsys, "stock", "import", folder)
    assert status == 2
    assert "sheets.csv, line" in said


def test_compare_prints_and_writes(capsys, job, tmp_path):
    files = {kind: tmp_path / f"c.{kind}" for kind in ("csv", "pdf", "svg")}
    options = [item for kind, path in files.items() for item in (f"--{kind}", path)]
    status, printed, said = run(
        capsys, "compare", job, "--rounds", 0, "--material", "alu-2mm", "--spacing", "12mm", *options
    )
    assert status == 0, said
    assert "Recommended:" in printed
    assert "spacing 12 mm" in printed
    assert all(path.stat().st_size > 500 for path in files.values())
    status, printed, _ = run(capsys, "compare", job, "--rounds", 0, "--material", "alu-2mm", "--json")
    assert status == 0
    assert json.loads(printed)["materials"][0]["recommended"]
    status, _, said = run(capsys, "compare", job, "--material", "alu-3mm")
    assert status == 2
    assert "did you mean" in said


def test_order_recut_and_booking_go_together(capsys, job, rack_file, tmp_path):
    run(capsys, "rack", "sheets", "alu-2mm-1000x2000=2")
    out = tmp_path / "order"
    status, printed, said = run(capsys, "order", job, "--rounds", 0, "--out", out, "--plans")
    assert status == 0, said
    assert "everything:" in printed
    assert {"order.csv", "order.xlsx", "order.pdf", "01-two-squares"} == {path.name for path in out.iterdir()}

    plan = out / "01-two-squares"
    sheets = json.loads((plan / "plan.json").read_text(encoding="utf-8"))["sheets"]
    listed = csv.DictReader((plan / "offcuts.csv").read_text(encoding="utf-8-sig").splitlines())
    number = next(n for n in (int(row["sheet"]) for row in listed) if sheets[n - 1]["material"] == "alu-2mm")
    status, printed, said = run(
        capsys, "cut", job, plan, number, "--measured", f"S{number:02d}-A=610mm x 500mm",
        "--slot", f"S{number:02d}-A=B1", "--lot", "L9",
    )  # fmt: skip
    assert status == 0, said
    with Rack(rack_file) as rack:
        piece = rack.offcuts()[0]
        assert (piece.width, piece.height, piece.slot, piece.lot, piece.job) == (610, 500, "B1", "L9", "two squares")
        kept = len(rack.offcuts())
    status, _, said = run(capsys, "cut", job, plan, number)
    assert status == 2
    assert "already" in said
    with Rack(rack_file) as rack:
        assert len(rack.offcuts()) == kept

    part = sheets[number - 1]["placements"][0]["part"]
    again = tmp_path / "again"
    status, printed, said = run(capsys, "recut", job, "--parts", part, "--rounds", 0, "--out", again, "--note", "chip")
    assert status == 0, said
    assert "1 of 1 pieces marked as spoiled" in printed
    recut = json.loads((again / "plan.json").read_text(encoding="utf-8"))
    assert [(one["id"], one["quantity"]) for one in recut["parts"]] == [(part, 1)]
    first = recut["sheets"][0]["stock"]
    assert first.startswith("rack:"), "the rack comes before a new sheet"
    with Rack(rack_file) as rack:
        taken = rack.offcut(int(first.removeprefix("rack:")))
        assert (taken.status, taken.reserved_for) == (OffcutStatus.RESERVED, "two squares")
    twice = tmp_path / "twice"
    status, printed, said = run(capsys, "recut", job, "--parts", part, "--rounds", 0, "--out", twice, "--no-rack")
    assert status == 0, said
    assert "1 of these pieces waits in the recut" in printed
    assert run(capsys, "cut", job, again, 1)[0] == 0
    status, printed, said = run(capsys, "cut", job, twice, 1)
    assert status == 0, said
    assert f"part {part}: " in printed
    assert "good pieces are cut, the job asks for" in printed
    with Rack(rack_file) as rack:
        assert rack.offcut(taken.id).status is OffcutStatus.USED
    status, printed, _ = run(capsys, "recut", job, "--list")
    assert "3 sheets booked as cut" in printed
    assert "1 spoiled" in printed
    assert f"{part} x 1 (chip)" in printed

    rest = tmp_path / "rest"
    status, printed, said = run(capsys, "recut", job, "--rest", "--rounds", 0, "--out", rest)
    assert status == 0, said
    whole = json.loads((plan / "plan.json").read_text(encoding="utf-8"))
    done = len(sheets[number - 1]["placements"])
    wanted = sum(one["quantity"] for one in whole["parts"])
    left = json.loads((rest / "plan.json").read_text(encoding="utf-8"))
    assert sum(one["quantity"] for one in left["parts"]) == wanted - done
    for n in range(1, len(left["sheets"]) + 1):
        assert run(capsys, "cut", job, rest, n)[0] == 0
    status, printed, _ = run(capsys, "recut", job, "--rest", "--out", tmp_path / "none")
    assert status == 0
    assert "nothing is left to plan" in printed
    assert not (tmp_path / "none").exists()


def test_recut_says_what_is_missing(capsys, job):
    status, _, said = run(capsys, "recut", job, "--parts", "line1-01-fase", "--out", "x")
    assert status == 2
    assert "line1-01-face" in said or "is not a part" in said
    status, _, said = run(capsys, "recut", job, "--rest")
    assert status == 2
    assert "--out" in said


def test_a_plan_on_the_rack_reserves_what_it_uses_and_a_failed_one_does_not(capsys, job, rack_file, tmp_path):
    for _ in range(2):
        run(capsys, "rack", "add", "--material", "alu-2mm", "--size", "980mm x 980mm")
    occupied = tmp_path / "occupied"
    occupied.mkdir()
    (occupied / "letter.txt").write_text("precious", encoding="utf-8")
    assert run(capsys, "plan", job, "--rack", "--rounds", 0, "--out", occupied)[0] == 2
    with Rack(rack_file) as rack:
        assert {one.status for one in rack.offcuts()} == {OffcutStatus.KEPT}
    out = tmp_path / "cut"
    status, _, said = run(capsys, "plan", job, "--rack", "--rounds", 0, "--out", out)
    assert status == 0, said
    stocks = [sheet["stock"] for sheet in json.loads((out / "plan.json").read_text(encoding="utf-8"))["sheets"]]
    used = {int(stock.removeprefix("rack:")) for stock in stocks if stock.startswith("rack:")}
    assert used
    with Rack(rack_file) as rack:
        assert {one.id for one in rack.offcuts() if one.reserved_for == "two squares"} == used
    plain = json.loads(run(capsys, "rack", "list", "--json")[1])
    assert {one["id"] for one in plain["offcuts"] if one["reserved_for"]} == used

"""`letterbed rack ...`: the offcuts on the rack and the whole sheets in the shop."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import TYPE_CHECKING

from app.commands.options import OptionError, add_rack_file, length, named, open_rack, size

if TYPE_CHECKING:
    from app.stock.rack_items import Measured, NewOffcut, RackOffcut

Run = Callable[[argparse.Namespace], int]


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command with its own commands."""
    rack = commands.add_parser(
        "rack",
        help="offcuts: list, add, take, reserve, return, discard, labels; sheets on hand",
        description='Keep offcuts for the next job. Sizes are written with their unit: 24in, 1 1/2", 610mm.',
    )
    acts = rack.add_subparsers(title="commands", metavar="", required=True)

    def act(name: str, help_text: str, run: Run) -> argparse.ArgumentParser:
        parser = acts.add_parser(name, help=help_text, description=help_text[0].upper() + help_text[1:] + ".")
        add_rack_file(parser)
        parser.set_defaults(run=run)
        return parser

    def numbers(parser: argparse.ArgumentParser) -> None:
        parser.add_argument("numbers", type=int, nargs="+", metavar="N", help="number of the offcut")

    listed = act("list", "what is on the rack", _list)
    listed.add_argument("--all", action="store_true", help="those taken, used and discarded too")
    listed.add_argument("--material", metavar="ID", help="of one material only")
    listed.add_argument("--old", type=int, nargs="?", const=90, metavar="DAYS", help="only older ones (90 days)")
    listed.add_argument("--json", action="store_true", help="print JSON instead of text")

    added = act("add", "put a piece on the rack", _add)
    added.add_argument("--material", required=True, metavar="ID", help="material id of the stock book")
    shape = added.add_mutually_exclusive_group(required=True)
    shape.add_argument("--size", metavar="W x H", help='a rectangle, measured: "24in x 36in"')
    shape.add_argument("--outline", metavar="FILE", help="true outline of any shape, from an SVG or DXF file")
    added.add_argument("--thickness", metavar="LENGTH", help="nominal (the stock book's when left out)")
    added.add_argument("--measured-thickness", metavar="LENGTH", help="as measured")
    for name, words in (("lot", "colour or production lot"), ("slot", "place on the rack"), ("job", "job of origin"),
                        ("note", "anything else")):  # fmt: skip
        added.add_argument(f"--{name}", default="", metavar="TEXT", help=words)

    taken = act("take", "take pieces off the rack", _take)
    numbers(taken)
    taken.add_argument("--job", default="", metavar="NAME", help="job they are for; needed when they are reserved")
    taken.add_argument("--note", default="", metavar="TEXT")

    returned = act("return", "put a taken piece back, with its new size when something was cut off", _return)
    returned.add_argument("number", type=int, metavar="N")
    returned.add_argument("--size", metavar="W x H", help="as measured now")
    returned.add_argument("--slot", metavar="TEXT", help="place on the rack")

    reserved = act("reserve", "keep pieces for a job", _reserve)
    numbers(reserved)
    reserved.add_argument("--job", required=True, metavar="NAME")

    numbers(act("release", "give reserved pieces free again", _release))

    discarded = act("discard", "throw pieces away", _discard)
    numbers(discarded)
    discarded.add_argument("--note", default="", metavar="TEXT", help="why")

    measured = act("measure", "record the size found on a piece; it counts instead of the planned one", _measure)
    measured.add_argument("number", type=int, metavar="N")
    measured.add_argument("--size", required=True, metavar="W x H")
    measured.add_argument("--thickness", metavar="LENGTH")

    moved = act("move", "record another place on the rack", _move)
    moved.add_argument("number", type=int, metavar="N")
    moved.add_argument("slot", metavar="SLOT")

    history = act("history", "what happened to a piece", _history)
    history.add_argument("number", type=int, metavar="N")

    labels = act("labels", "labels with a QR code, for all pieces or some", _labels)
    labels.add_argument("numbers", type=int, nargs="*", metavar="N")
    labels.add_argument("--out", required=True, metavar="FILE", help="PDF file to write")
    labels.add_argument("--units", choices=("in", "mm"), default="in", help="units on the labels, and the label grid")

    sheets = act("sheets", "whole sheets, coils and rolls on hand; with STOCK=COUNT records what was counted", _sheets)
    sheets.add_argument("counts", nargs="*", metavar="STOCK=COUNT", help="stock id of the stock book, and how many")


def _list(chosen: argparse.Namespace) -> int:
    import json

    from app.output.rack_list import rack_json, rack_text
    from app.stock.rack_items import ON_THE_RACK, OffcutStatus

    statuses = tuple(OffcutStatus) if chosen.all else ON_THE_RACK
    with open_rack(chosen) as rack:
        now = rack.clock()
        pieces = rack.offcuts(material=chosen.material, statuses=statuses)
        if chosen.old is not None:
            pieces = tuple(piece for piece in pieces if piece.age_days(now) >= chosen.old)
    print(json.dumps(rack_json(pieces, now), indent=1, ensure_ascii=False) if chosen.json else rack_text(pieces, now))
    return 0


def _add(chosen: argparse.Namespace) -> int:
    piece = _new_piece(chosen)
    with open_rack(chosen) as rack:
        (kept,) = rack.keep([piece])
    print(f"kept as offcut {kept.id}")
    _warn_of_thickness(kept)
    return 0


def _new_piece(chosen: argparse.Namespace) -> NewOffcut:
    from app.stock.rack_items import Measured, NewOffcut, rectangle_offcut

    thickness = length("--thickness", chosen.thickness) if chosen.thickness else _nominal_thickness(chosen.material)
    measured_thickness = (
        length("--measured-thickness", chosen.measured_thickness) if chosen.measured_thickness else None
    )
    texts = {name: getattr(chosen, name) for name in ("lot", "slot", "job", "note")}
    if chosen.size:
        width, height = size("--size", chosen.size)
        return rectangle_offcut(
            chosen.material, thickness, width, height, measured=Measured(width, height, measured_thickness), **texts
        )
    from app.planning.rack_outline import outline_of_file

    outline, usable = outline_of_file(chosen.outline)
    return NewOffcut(chosen.material, thickness, outline, usable, **texts)


def _nominal_thickness(material: str) -> float:
    from app.job.names import unknown
    from app.stock.shop_book import shop_book

    materials = shop_book().materials
    if material not in materials:
        said = unknown(material, materials, what="a material of the stock book", listed=False)
        raise OptionError(f"--material: {said}; give --thickness for a material of a job's own")
    return materials[material].material.thickness


def _warn_of_thickness(piece: RackOffcut) -> None:
    from app.stock.shop_book import thickness_doubt

    doubt = thickness_doubt(piece)
    if doubt:
        print(doubt)


def _take(chosen: argparse.Namespace) -> int:
    with open_rack(chosen) as rack:
        rack.take(chosen.numbers, job=chosen.job, note=chosen.note)
    return _said("taken", chosen.numbers)


def _return(chosen: argparse.Namespace) -> int:
    with open_rack(chosen) as rack:
        rack.put_back(chosen.number, measured=_measured(chosen.size, None), slot=chosen.slot)
    return _said("back on the rack", [chosen.number])


def _reserve(chosen: argparse.Namespace) -> int:
    with open_rack(chosen) as rack:
        rack.reserve(chosen.numbers, chosen.job)
    return _said(f"reserved for '{chosen.job}'", chosen.numbers)


def _release(chosen: argparse.Namespace) -> int:
    with open_rack(chosen) as rack:
        rack.release(chosen.numbers)
    return _said("free for any job", chosen.numbers)


def _discard(chosen: argparse.Namespace) -> int:
    with open_rack(chosen) as rack:
        rack.discard(chosen.numbers, note=chosen.note)
    return _said("discarded", chosen.numbers)


def _measure(chosen: argparse.Namespace) -> int:
    measured = _measured(chosen.size, chosen.thickness)
    assert measured is not None  # the option is required
    with open_rack(chosen) as rack:
        piece = rack.measure(chosen.number, measured)
    _warn_of_thickness(piece)
    return _said("measured", [chosen.number])


def _move(chosen: argparse.Namespace) -> int:
    with open_rack(chosen) as rack:
        rack.move(chosen.number, chosen.slot)
    return _said(f"at {chosen.slot}", [chosen.number])


def _history(chosen: argparse.Namespace) -> int:
    with open_rack(chosen) as rack:
        entries = rack.history(chosen.number)
    for entry in entries:
        words = [f"{entry.at:%Y-%m-%d %H:%M} UTC", entry.what.value, entry.job, entry.note]
        print("  ".join(word for word in words if word))
    return 0


def _labels(chosen: argparse.Namespace) -> int:
    from pathlib import Path

    from app.errors import ExportError
    from app.job.document import DisplayUnits
    from app.output.order_files import replace_file
    from app.output.rack_labels import write_rack_labels
    from app.stock.shop_book import shop_book

    with open_rack(chosen) as rack:
        pieces = tuple(rack.offcut(number) for number in chosen.numbers) if chosen.numbers else rack.offcuts()
    names = {one.material.id: one.material.name for one in shop_book().materials.values()}
    path = Path(chosen.out)
    try:
        replace_file(
            path, lambda draft: write_rack_labels(pieces, draft, units=DisplayUnits(chosen.units), names=names)
        )
    except OSError as error:
        raise ExportError(f"'{path}' could not be written: {error.strerror or error}") from error
    print(f"{len(pieces)} {'label' if len(pieces) == 1 else 'labels'} in {path}")
    return 0


def _sheets(chosen: argparse.Namespace) -> int:
    from app.job.names import unknown
    from app.stock.on_hand import on_hand, set_on_hand
    from app.stock.shop_book import shop_book

    counts = named("sheets", chosen.counts, _count)
    book = shop_book()
    # Coils and rolls are counted likewise; they are of no material of the book.
    materials = {size.id: size.material for size in book.sheets.values()}
    materials |= dict.fromkeys([*book.coils, *book.rolls], "")
    for stock in counts:
        if stock not in materials:
            raise OptionError(
                f"{unknown(stock, materials, what='a size, coil or roll of the stock book', listed=False)}"
            )
    with open_rack(chosen) as rack:
        if counts:
            set_on_hand(rack, counts, materials={stock: materials[stock] for stock in counts})
        there = on_hand(rack)
    for stock, count in there.items():
        print(f"{count:5d}  {stock}")
    if not there:
        print("no sheet size is counted yet; record one with STOCK=COUNT")
    return 0


def _count(option: str, text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 6):
        raise OptionError(f"{option}: '{text}' is not a whole number of sheets")
    return int(text)


def _measured(sides: str | None, thickness: str | None) -> Measured | None:
    from app.stock.rack_items import Measured

    if sides is None:
        return None
    width, height = size("--size", sides)
    return Measured(width, height, length("--thickness", thickness) if thickness else None)


def _said(what: str, numbers: list[int]) -> int:
    print(f"offcut {', '.join(map(str, numbers))}: {what}")
    return 0

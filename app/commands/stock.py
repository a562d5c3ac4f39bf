"""`letterbed stock ...`: the stock book, out and in as tables."""

from __future__ import annotations

import argparse

from app.errors import AppError


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command with its own commands."""
    stock = commands.add_parser(
        "stock",
        help="stock book: list, export, import as CSV tables",
        description="Materials, sheet sizes, coils, rolls and cutters. Export the tables, edit them in a spreadsheet, "
        "and import them as the shop's own stock book.",
    )
    acts = stock.add_subparsers(title="commands", metavar="", required=True)
    listed = acts.add_parser("list", help="what the stock book holds", description="What the stock book holds.")
    listed.add_argument("--material", metavar="ID", help="sheet sizes of one material, with real sizes and prices")
    listed.set_defaults(run=_list)
    exported = acts.add_parser("export", help="write the tables", description="Write the stock book as CSV tables.")
    exported.add_argument("folder", metavar="DIR", help="new folder, or one with an earlier export")
    exported.set_defaults(run=_export)
    imported = acts.add_parser(
        "import",
        help="make edited tables the shop's own stock book",
        description="Check every line of the tables and make them the shop's own stock book. A table with a fault "
        "changes nothing.",
    )
    imported.add_argument("folder", metavar="DIR", help="folder of tables")
    imported.set_defaults(run=_import)


def _list(chosen: argparse.Namespace) -> int:
    from app.job.names import unknown
    from app.output.text_table import text_table
    from app.stock.money import format_price
    from app.stock.shop_book import has_own_book, shop_book
    from geometry.units import format_both

    book = shop_book()
    if chosen.material is None:
        rows = [
            [one.material.id, one.material.name, format_both(one.material.thickness), str(len(book.sizes_of(name)))]
            for name, one in book.materials.items()
        ]
        print(text_table(["material", "name", "thickness", "sizes"], rows, right=(3,)))
        print(f"{'the shop’s own stock book' if has_own_book() else 'the shipped stock book; its prices are invented'}")
        return 0
    if chosen.material not in book.materials:
        raise AppError(unknown(chosen.material, book.materials, what="a material of the stock book", listed=False))
    sizes = {size.id: size for size in book.sizes_of(chosen.material)}
    rows = [
        [
            size.id,
            size.name,
            f"{format_both(size.width)} × {format_both(size.height)}",
            "not known" if size.price is None else format_price(size.price, book.currency),
            str(book.sheets[size.id].minimum),
            book.sheets[size.id].supplier,
        ]
        for size in sizes.values()
    ]
    headings = ["stock", "size", "real size", f"price each {book.currency}", "fewest", "supplier"]
    print(text_table(headings, rows, right=(3, 4)))
    return 0


def _export(chosen: argparse.Namespace) -> int:
    from app.stock.book_folder import write_book
    from app.stock.book_tables import TABLES
    from app.stock.shop_book import shop_book

    write_book(shop_book(), chosen.folder)
    print(f"{len(TABLES)} tables in {chosen.folder}")
    return 0


def _import(chosen: argparse.Namespace) -> int:
    from app.stock.shop_book import import_book

    book = import_book(chosen.folder)
    print(
        f"{len(book.materials)} materials, {len(book.sheets)} sheet sizes, {len(book.coils)} coils, "
        f"{len(book.rolls)} rolls and {len(book.cutters)} cutters are now the shop's own stock book"
    )
    return 0

"""The stock book as a folder of CSV files; what stands in them is `app.stock.book_tables`' to say."""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path
from typing import Final

from app.stock.book_tables import TABLES, BookError, book_texts, parse_book
from app.stock.supply import ShopBook

_LARGEST: Final = 20_000_000  # bytes; no stock book is larger


def read_book(folder: str | os.PathLike[str], *, currency: str = "USD") -> ShopBook:
    """The stock book of a folder of tables; coils and rolls may be missing.

    Parameters
    ----------
    folder : str or path
    currency : str
        For prices whose row names none.

    Raises
    ------
    BookError
        One sentence: table, line, column, value, what to write instead.
    """
    where = Path(folder)
    if not where.is_dir():
        raise BookError(
            f"{where} is not a folder; a stock book is a folder of tables (cutters.csv, materials.csv, ...)"
        )
    texts = {}
    for table in TABLES:
        path = where / f"{table}.csv"
        if path.exists():
            texts[table] = _text(path)
        elif table not in ("coils", "rolls"):
            raise BookError(f"{where} has no {table}.csv; 'letterbed stock export' writes all tables")
    return parse_book(texts, currency=currency)


def write_book(book: ShopBook, folder: str | os.PathLike[str]) -> None:
    """Write the tables into a folder, which is made or, when it holds nothing but such tables, replaced as a whole.

    Raises
    ------
    BookError
        When the folder holds other things or cannot be written; it is then as it was.
    """
    where = Path(folder).absolute()
    try:
        _check_ours(where)
        where.parent.mkdir(parents=True, exist_ok=True)
        fresh = Path(tempfile.mkdtemp(prefix=f".{where.name}-", dir=where.parent))
        try:
            for table, text in book_texts(book).items():
                (fresh / f"{table}.csv").write_text(text, encoding="utf-8-sig", newline="")
            fresh.chmod(0o755)
            _swap(fresh, where)
        finally:
            shutil.rmtree(fresh, ignore_errors=True)
    except OSError as error:
        raise BookError(f"{where} could not be written: {error.strerror or error}") from error


def remove_book(folder: str | os.PathLike[str]) -> None:
    """Remove a folder of tables.

    Raises
    ------
    BookError
        When it holds other things or cannot be removed.
    """
    where = Path(folder).absolute()
    try:
        _check_ours(where)
        shutil.rmtree(where)
    except OSError as error:
        raise BookError(f"{where} could not be removed: {error.strerror or error}") from error


def _check_ours(where: Path) -> None:
    """Make sure that a folder, when it is there, holds nothing but tables."""
    others = sorted({one.name for one in where.iterdir()} - {f"{one}.csv" for one in TABLES}) if where.exists() else []
    if others:
        raise BookError(f"{where} holds other things ({others[0]}); name a new folder for the stock book")


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > _LARGEST:
            raise BookError(f"{path.name} is larger than {_LARGEST // 1_000_000} MB; that is no stock book")
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise BookError(f'{path.name} is not UTF-8 text; save it as "CSV UTF-8"') from error
    except OSError as error:
        raise BookError(f"{path.name} cannot be read: {error.strerror or error}") from error


def _swap(fresh: Path, where: Path) -> None:
    """Put the fresh folder in the place of the old one; at no moment is a half-written table in place."""
    if not where.exists():
        fresh.rename(where)
        return
    old = Path(tempfile.mkdtemp(prefix=f".{where.name}-", dir=where.parent))
    where.rename(old / "old")
    try:
        fresh.rename(where)
    except OSError:
        (old / "old").rename(where)
        raise
    finally:
        shutil.rmtree(old, ignore_errors=True)

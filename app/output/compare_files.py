"""A comparison as a file: CSV, JSON, PDF or SVG, by the file's name."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from datetime import datetime
from os import PathLike
from pathlib import Path
from typing import Final

from app.errors import ExportError
from app.job.document import Job
from app.output.compare_pages import write_compare_pdf, write_compare_svg
from app.output.compare_tables import Compared, compare_json, compare_table
from app.output.order_files import replace_file
from app.output.table_files import write_csv
from app.planning.compare import Effort

KINDS: Final = ("csv", "pdf", "svg", "json")


def write_comparison(
    job: Job, found: Sequence[Compared], effort: Effort, path: str | PathLike[str], *, when: datetime, kind: str = ""
) -> None:
    """Write a comparison as one of `KINDS`; the ending of the name says which when `kind` does not.

    Raises
    ------
    ExportError
        When there is no such kind or the file cannot be written; an older file is then as it was.
    """
    where = Path(path)
    writers: dict[str, Callable[[Path], None]] = {
        "csv": lambda draft: write_csv(compare_table(job, found), draft),
        "pdf": lambda draft: write_compare_pdf(job, found, effort, draft, when=when),
        "svg": lambda draft: write_compare_svg(job, found, draft),
        "json": lambda draft: _write_json(job, found, effort, draft),
    }
    wanted = kind or where.suffix[1:].lower()
    if wanted not in writers:
        raise ExportError(f"'{where.name}' ends in none of {', '.join(KINDS)}; end the name in one of them")
    try:
        replace_file(where, writers[wanted])
    except OSError as error:
        raise ExportError(f"'{path}' could not be written: {error.strerror or error}") from error


def _write_json(job: Job, found: Sequence[Compared], effort: Effort, path: Path) -> None:
    path.write_text(json.dumps(compare_json(job, found, effort), indent=1, ensure_ascii=False), encoding="utf-8")

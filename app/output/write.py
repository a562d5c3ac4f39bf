"""Everything a plan is written to, all or nothing.

All files are made in a folder beside the one wanted, the cut files are read back and compared with the plan, and only
then does the new folder take the place of the old one. Whatever goes wrong before that leaves everything as it was.
"""

from __future__ import annotations

import errno
import json
import re
import secrets
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from os import PathLike
from pathlib import Path
from typing import Final

from app.errors import ExportError
from app.output.film_table import film_table
from app.output.plan_json import SHEET_FOLDER, VERSION, write_plan_json
from app.output.report import write_report
from app.output.sheet_files import DRAWING_FOLDER, drawing_name, sheet_work
from app.output.table_files import write_csv, write_xlsx
from app.output.tables import (
    buy_table,
    coils_table,
    findings_table,
    letters_table,
    offcuts_table,
    parts_table,
    strips_table,
    unplaced_table,
)
from app.planning.job_plan import JobPlan

PLAN: Final = "plan.json"
FILES: Final = (
    PLAN,
    "report.pdf",
    "parts.csv",
    "offcuts.csv",
    "buy_list.csv",
    "strips.csv",
    "film.csv",
    "letters.csv",
    "findings.csv",
    "order.xlsx",
    "labels.pdf",
)
"""What stands in the folder beside the cut files."""

_SHEET_FILES: Final = {
    SHEET_FOLDER: re.compile(r"\d{2,}-[a-z0-9-]+\.dxf"),
    DRAWING_FOLDER: re.compile(r"\d{2,}-[a-z0-9-]+\.svg"),
}
_LEAST_HEAD: Final = re.compile(rf'\s*\{{\s*"version"\s*:\s*{VERSION}\s*[,}}]')


@dataclass(frozen=True, slots=True)
class Written:
    """The folder and its files, cut files first."""

    folder: Path
    files: tuple[Path, ...]


def check_folder(folder: str | PathLike[str]) -> None:
    """Make sure that a folder may be written or replaced.

    It may when it is not there yet, is empty, or holds an earlier plan and nothing else, and files can be made there.

    Raises
    ------
    ExportError
        When it is a file, holds something that is not ours, or the disk lets nothing be written.
    """
    if not str(folder):
        raise ExportError("the name of the folder to write is empty; give the name of a new or empty folder")
    path = Path(folder)
    try:
        _try_to_write(path.absolute())
        if not path.exists() and not path.is_symlink():
            return
        if not path.is_dir():
            raise ExportError(f"'{folder}' is not a folder; give the name of a new or empty folder")
        whole = path.resolve()
        if whole in (Path.cwd(), *Path.cwd().parents):
            raise ExportError(
                f"folder '{folder}' is the one the program runs in, and replacing it would pull it away; give another "
                "name or start from another folder"
            )
        entries = sorted(path.iterdir())
        if not entries:
            return
        if not _is_our_plan(path / PLAN):
            raise ExportError(
                f"folder '{folder}' is not empty and holds no earlier plan; give the name of a new or empty folder"
            )
        strange = [entry for entry in entries if not _is_ours(entry)]
    except OSError as error:
        raise ExportError(f"folder '{folder}' cannot be used ({_why(error)}); choose another") from error
    if strange:
        raise ExportError(
            f"folder '{folder}' holds '{strange[0].relative_to(path)}' beside an earlier plan; move it away or choose "
            "another folder, since the earlier plan is replaced"
        )


def write_plan(
    plan: JobPlan,
    out_dir: str | PathLike[str],
    *,
    when: datetime,
    on_progress: Callable[[float, str], None] | None = None,
) -> Written:
    """Write all files of a plan into `out_dir`: all of them, or none.

    Parameters
    ----------
    plan : JobPlan
    out_dir : path
        A new or empty folder, or one that holds an earlier plan, which is replaced.
    when : datetime
        Stands on report and lists as the date of the plan.
    on_progress : callable, optional
        Gets a fraction from 0 to 1 and a few words; an exception it raises stops the writing and leaves nothing.

    Raises
    ------
    ExportError
        When the referee has found faults in the plan, the folder may not be used, a file
        cannot be written, or a cut file does not read back as planned.
    """
    if plan.faults:
        raise ExportError(
            f"the plan cannot be cut as it stands and nothing was written: {plan.faults[0].message}"
            + (f", and {len(plan.faults) - 1} more like it" if len(plan.faults) > 1 else "")
            + "; move the part to a free place or plan anew"
        )
    check_folder(out_dir)
    told = on_progress or (lambda fraction, stage: None)
    target = Path(out_dir).absolute()
    if target.is_symlink():
        target = target.resolve()
    try:
        with _draft_beside(target) as draft:
            names = _write_all(plan, draft, when, told)
            told(0.99, "putting the files in place")
            _swap(draft, target)
    except OSError as error:
        raise ExportError(
            f"'{out_dir}' could not be written ({_why(error)}); nothing was changed: free some space or choose "
            "another folder"
        ) from error
    told(1.0, "written")
    return Written(target, tuple(target / name for name in names))


def _write_all(plan: JobPlan, folder: Path, when: datetime, told: Callable[[float, str], None]) -> list[str]:
    count = len(plan.sheets)
    names = [f"{SHEET_FOLDER}/{planned.file}" for planned in plan.sheets]
    if len(set(names)) != count:
        raise ExportError("two sheets of the plan have the same file name; nothing was written")
    (folder / SHEET_FOLDER).mkdir()
    (folder / DRAWING_FOLDER).mkdir()
    names += [f"{DRAWING_FOLDER}/{drawing_name(planned)}" for planned in plan.sheets]
    with sheet_work(plan, folder) as work:
        told(0.01, "plan for other programs")
        write_plan_json(plan, folder / PLAN)
        told(0.02, f"cut file 1 of {count}")
        sheets = []
        for cut in work.sheets():
            sheets.append(cut)
            told(0.02 + 0.58 * len(sheets) / count, f"cut file {min(len(sheets) + 1, count)} of {count}")
        told(0.6, "labels")
        labels = work.labels(sheets, folder / "labels.pdf")
        buy, parts, offcuts = buy_table(plan), parts_table(plan, sheets), offcuts_table(plan, when)
        letters, strips, coils = letters_table(plan), strips_table(plan), coils_table(plan)
        film, findings = film_table(plan), findings_table(plan)
        tables = (buy, parts, offcuts, unplaced_table(plan), coils, strips, film, letters)
        steps: list[tuple[str, str, Callable[[Path], None]]] = [
            ("report.pdf", "report", lambda path: write_report(plan, sheets, path, when=when)),
            ("parts.csv", "lists", lambda path: write_csv(parts, path)),
            ("offcuts.csv", "lists", lambda path: write_csv(offcuts, path)),
            ("buy_list.csv", "lists", lambda path: write_csv(buy, path)),
            ("strips.csv", "lists", lambda path: write_csv(strips, path)),
            ("film.csv", "lists", lambda path: write_csv(film, path)),
            ("letters.csv", "lists", lambda path: write_csv(letters, path)),
            ("findings.csv", "lists", lambda path: write_csv(findings, path)),
            ("order.xlsx", "order", lambda path: write_xlsx(tables, path, title=plan.job.name, when=when)),
        ]
        for done, (name, stage, write) in enumerate(steps):
            told(0.65 + 0.33 * done / len(steps), stage)
            write(folder / name)
        if labels is not None:
            labels.result()
    return names + list(FILES)


def _try_to_write(path: Path) -> None:
    """Make and remove a folder where the draft will stand: permissions alone do not tell (a share, a full disk)."""
    there = next(folder for folder in path.parents if folder.exists())
    with tempfile.TemporaryDirectory(prefix=".", dir=there):
        pass


@contextmanager
def _draft_beside(target: Path) -> Iterator[Path]:
    """A new folder on the target's disk, and the folders above it; all of them gone again unless it moved away."""
    made = [folder for folder in target.parents if not folder.exists()]
    target.parent.mkdir(parents=True, exist_ok=True)
    draft = target.parent / f".{target.name}.{secrets.token_hex(4)}"
    try:
        draft.mkdir()
        yield draft
    except BaseException:
        shutil.rmtree(draft, ignore_errors=True)
        for folder in made:  # nearest first, each only when nobody else put something in
            try:
                folder.rmdir()
            except OSError:
                break
        raise


def _swap(draft: Path, target: Path) -> None:
    """Put the draft in the target's place; when that fails the old folder is back where it was."""
    if not target.exists():
        draft.rename(target)
        return
    # Asked again at the last moment: somebody may have put a file in while the new ones were made.
    check_folder(target)
    old = draft.with_name(f"{draft.name}.old")
    target.rename(old)
    try:
        draft.rename(target)
    except BaseException:
        old.rename(target)
        raise
    # The new plan is in place; what is left of the old one may stay if it cannot be removed.
    shutil.rmtree(old, ignore_errors=True)


def _is_our_plan(path: Path) -> bool:
    if not path.is_file():
        return False
    try:
        with path.open(encoding="utf-8") as file:
            if not _LEAST_HEAD.match(file.read(200)):
                return False
            file.seek(0)
            content = json.load(file)
    except ValueError:
        return False
    return isinstance(content, dict) and content.get("version") == VERSION and "sheets" in content


def _is_ours(entry: Path) -> bool:
    if entry.is_symlink():
        return False
    if entry.is_dir():
        pattern = _SHEET_FILES.get(entry.name)
        return pattern is not None and all(
            one.is_file() and not one.is_symlink() and pattern.fullmatch(one.name) for one in entry.iterdir()
        )
    return entry.name in FILES


def _why(error: OSError) -> str:
    plain = {
        errno.ENOSPC: "the disk is full",
        errno.EACCES: "no permission",
        errno.EPERM: "no permission",
        errno.EROFS: "the disk is read-only",
        errno.ENAMETOOLONG: "the name is too long",
        errno.EBUSY: "it is in use",
    }
    return plain.get(error.errno or 0, error.strerror or str(error))

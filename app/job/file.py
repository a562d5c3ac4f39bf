"""The job file: JSON that a person can read and edit by hand.

Every length carries its unit. Cutters, materials and sheet sizes of the shipped stock book may be named by id alone,
``"stock": ["alu-0.125-48x120", {"id": "alu-0.125-60x120", "count": 2}]``: what stands as a bare name, or is not
written out in the object, is the book's; what is written out is the job's own. Lists left out are filled with what
the builds use.

What is written reads back as an equal job, and writing it again gives the same bytes.
"""

from __future__ import annotations

import json
import os
import re
import tempfile
import time
from contextlib import suppress
from decimal import Decimal
from typing import Final

from app.errors import JobError, JobFileError, NewerJobFile
from app.job.check import check_job
from app.job.document import Job
from app.job.fields import Json
from app.job.from_json import job_from_json
from app.job.to_json import job_text

LARGEST: Final = 50_000_000
"""No job file is larger than this, bytes; a larger one is something else."""

STALE_S: Final = 60.0
"""A draft older than this was left by a program that was killed: writing one takes a moment."""


def read_job(path: str | os.PathLike[str]) -> Job:
    """The job of a file; its `folder` is the file's folder, where relative paths start.

    Raises
    ------
    JobFileError
        One sentence: the file, the field, what is wrong and what to write instead.
    NewerJobFile
        When a later version of the program wrote it.
    """
    path = os.fspath(path)
    shown = os.path.basename(path) or path
    try:
        text = _read_text(path, shown)
    except JobFileError as error:
        raise JobFileError(_one_line(f"{shown}: {error}")) from error
    return job_of_text(text, shown, folder=os.path.dirname(os.path.abspath(path)))


def job_of_text(text: str, shown: str, *, folder: str) -> Job:
    """The job of a file's text; `shown` names the file in messages, `folder` is where relative paths start.

    Raises
    ------
    JobFileError, NewerJobFile
        As `read_job`.
    """
    try:
        return check_job(job_from_json(_parse(text), folder=folder))
    except NewerJobFile as error:
        raise NewerJobFile(_one_line(f"{shown}: {error}")) from error
    except (JobFileError, JobError) as error:
        raise JobFileError(_one_line(f"{shown}: {error}")) from error


def write_job(job: Job, path: str | os.PathLike[str]) -> None:
    """Write the job; the file is either the old one or the new one at every moment, whatever happens.

    Relative paths of artwork and fonts are written as they stand.

    Raises
    ------
    JobError
        When the job's parts do not agree; nothing is written.
    JobFileError
        When the file cannot be written; the old one, if any, is unharmed.
    """
    path = os.fspath(path)
    text = job_text(check_job(job))
    folder = os.path.dirname(os.path.abspath(path))
    shown = os.path.basename(path) or path
    try:
        data = text.encode("utf-8")
        handle, temporary = tempfile.mkstemp(prefix=f".{shown[:100]}-", suffix=".part", dir=folder)
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(data)
                stream.flush()
                os.fsync(stream.fileno())
            _keep_mode(path, temporary)
            os.replace(temporary, path)
        except BaseException:
            os.unlink(temporary)
            raise
        _sync_folder(folder)
        _remove_stale(folder, shown)
    except UnicodeEncodeError as error:
        raise JobFileError(f"{shown}: the text {error.object[error.start : error.end]!r} cannot be saved") from error
    except OSError as error:
        raise JobFileError(f"{shown} could not be written: {_reason(error)}") from error


def _read_text(path: str, shown: str) -> str:
    try:
        with open(path, "rb") as stream:
            data = stream.read(LARGEST + 1)
    except FileNotFoundError:
        raise JobFileError("there is no such file; check the name and the folder") from None
    except IsADirectoryError:
        raise JobFileError("this is a folder; name the job file in it") from None
    except (OSError, ValueError) as error:
        raise JobFileError(f"the file cannot be read: {_reason(error)}") from error
    if len(data) > LARGEST:
        raise JobFileError(f"the file is larger than {LARGEST // 1_000_000} MB, more than any job file; is it artwork?")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise JobFileError(f"line {line} is not UTF-8 text; save the file as UTF-8, if it is a job file") from error


def _parse(text: str) -> Json:
    if not text.strip():
        raise JobFileError("the file is empty")
    try:
        value: Json = json.loads(
            text, parse_float=Decimal, parse_constant=_refuse_constant, object_pairs_hook=_without_repeats
        )
    except json.JSONDecodeError as error:
        place = f"line {error.lineno}, column {error.colno}"
        raise JobFileError(f"{place}: not valid JSON, as a job file is; correct it there") from error
    except RecursionError as error:
        raise JobFileError("the file is nested too deep for a job file") from error
    except ValueError as error:  # whole numbers of thousands of digits
        raise JobFileError(f"the file holds a number that cannot be read ({error})") from error
    return value


def _refuse_constant(name: str) -> Json:
    raise JobFileError(f"{name} is not a number that can be used")


def _without_repeats(pairs: list[tuple[str, Json]]) -> dict[str, Json]:
    found = dict(pairs)
    if len(found) < len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise JobFileError(f"'{twice}' stands twice in the same object; keep one of the two")
    return found


def _remove_stale(folder: str, shown: str) -> None:
    """Remove drafts of this job that a killed program left; one that another program is writing now stays."""
    draft = re.compile(rf"\.{re.escape(shown[:100])}-[a-z0-9_]{{8}}\.part")
    with suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            if draft.fullmatch(entry.name):
                with suppress(OSError):
                    if time.time() - entry.stat(follow_symlinks=False).st_mtime > STALE_S:
                        os.unlink(entry.path)


def _keep_mode(path: str, temporary: str) -> None:
    """Give the new file the old one's permissions, or the usual ones for a new file."""
    try:
        mode = os.stat(path).st_mode & 0o777
    except FileNotFoundError:
        mask = os.umask(0)
        os.umask(mask)
        mode = 0o666 & ~mask
    os.chmod(temporary, mode)


def _sync_folder(folder: str) -> None:
    """Make the rename itself last through a loss of power; not every system can."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _reason(error: Exception) -> str:
    return (error.strerror if isinstance(error, OSError) else None) or str(error)


def _one_line(message: str) -> str:
    """The message with line breaks and the like, which names in a file may hold, written out."""
    return "".join(sign if sign.isprintable() else repr(sign)[1:-1] for sign in message)

"""Jobs from files: one begun with an artwork, one saved elsewhere, the samples beside the package."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Final

import app
from app.job.document import Artwork, Job, Scale, ScaleBy, Text

JOB_SUFFIX: Final = ".json"
SAMPLE_FOLDER: Final = Path(app.__file__).parent.parent / "sample_jobs"
SAMPLE_LARGEST: Final = 2_000_000


Usual = Callable[[Job], Job]
"""Gives a new job what its owner usually has."""


def job_from_artwork(path: str, usual: Usual = lambda job: job) -> Job:
    """A new job with one artwork file and the default build, materials and stock."""
    from app.job.new import new_job

    path = os.path.abspath(path)
    stem, _suffix = os.path.splitext(os.path.basename(path))
    return with_artwork_file(usual(new_job(stem, folder=os.path.dirname(path))), path)


def job_from_words(text: Text, capital: float, usual: Usual = lambda job: job) -> Job:
    """A new job with words in a font, capitals `capital` mm high; its folder is the font's until it is saved."""
    from app.job.new import new_job

    job = new_job(_title(text.words), folder=os.path.dirname(os.path.abspath(text.font)))
    return with_words(usual(job), text, capital)


def with_artwork_file(job: Job, path: str) -> Job:
    """The job with one more artwork file, made by its first build."""
    stem, _suffix = os.path.splitext(os.path.basename(path))
    return _with(job, stem, file=_from_folder(path, job.folder))


def with_words(job: Job, text: Text, capital: float) -> Job:
    """The job with more words, set in a font file, capitals `capital` mm high."""
    text = replace(text, font=_from_folder(text.font, job.folder))
    return _with(job, _title(text.words), text=text, scale=Scale(ScaleBy.CAPITAL_HEIGHT, capital))


def with_other_words(job: Job, artwork: Artwork, text: Text, capital: float | None) -> Job:
    """The job with one artwork's words set otherwise; a capital height of None leaves its size as it is set."""
    from app.job.edits import set_artwork_name, set_artwork_text, set_scale

    former = artwork.text
    job = set_artwork_text(job, artwork.id, replace(text, font=_from_folder(text.font, job.folder)))
    if former is not None and artwork.name == _title(former.words):
        job = set_artwork_name(job, artwork.id, _title(text.words))
    if capital is not None:
        job = set_scale(job, artwork.id, Scale(ScaleBy.CAPITAL_HEIGHT, capital))
    return job


def fonts_at_hand(job: Job | None) -> list[tuple[str, str]]:
    """Name and path of the fonts of the open job and of those that come with the samples."""
    paths = [os.path.join(job.folder, one.text.font) for one in job.artwork if one.text] if job is not None else []
    shipped = SAMPLE_FOLDER / "fonts"
    paths += sorted(str(path) for path in shipped.glob("*.[ot]tf")) if shipped.is_dir() else []
    found = {os.path.normpath(path): os.path.splitext(os.path.basename(path))[0] for path in paths}
    return [(name.replace("-", " "), path) for path, name in found.items() if os.path.isfile(path)]


def _with(job: Job, name: str, **fields: object) -> Job:
    from app.job.edits import add_artwork
    from app.job.new import free_id

    own_id = free_id(name, [one.id for one in job.artwork])
    return add_artwork(job, Artwork(id=own_id, name=name, build=job.builds[0].id, **fields))


def _title(words: str) -> str:
    """The first line that says anything."""
    return next(line.strip() for line in words.splitlines() if line.strip())[:40]


def _from_folder(path: str, folder: str) -> str:
    """A path as it is written in a job of this folder: from there where it lies below, else absolute."""
    path = os.path.abspath(path)
    if folder and Path(path).is_relative_to(os.path.abspath(folder)):
        return os.path.relpath(path, folder).replace(os.sep, "/")
    return path


def moved_to(job: Job, folder: str) -> Job:
    """The job as it reads from another folder: paths that started in the old one now lead back to it."""
    folder = os.path.abspath(folder)
    if not job.folder or os.path.abspath(job.folder) == folder:
        return replace(job, folder=folder)

    def led_back(path: str) -> str:
        if os.path.isabs(path):
            return path
        full = os.path.abspath(os.path.join(job.folder, path))
        try:
            return os.path.relpath(full, folder).replace(os.sep, "/")
        except ValueError:  # another drive
            return full

    def moved(artwork: Artwork) -> Artwork:
        if artwork.file is not None:
            return replace(artwork, file=led_back(artwork.file))
        if artwork.text is not None:
            return replace(artwork, text=replace(artwork.text, font=led_back(artwork.text.font)))
        return artwork

    return replace(job, artwork=tuple(moved(one) for one in job.artwork), folder=folder)


def sample_jobs(folder: Path = SAMPLE_FOLDER) -> list[tuple[str, str]]:
    """Name and path of each job file below a folder; nothing when there is no such folder."""
    found = []
    for path in sorted(folder.rglob(f"*{JOB_SUFFIX}")) if folder.is_dir() else []:
        name = job_name(path)
        if name:
            found.append((name[0].upper() + name[1:], str(path)))
    return found


def job_name(path: Path) -> str:
    """The name in a job file without reading the job; nothing when it is not one."""
    try:
        document = json.loads(path.read_text(encoding="utf-8")) if path.stat().st_size <= SAMPLE_LARGEST else {}
    except (OSError, ValueError):
        return ""
    is_job = isinstance(document, dict) and "letterbed_job" in document
    return str(document.get("name") or path.stem) if is_job else ""

"""The settings of a build as its rules see them: every setting of the catalogue, its own value or the default."""

from __future__ import annotations

from app.job.document import Build
from app.job.settings import SETTINGS


def values_of(build: Build) -> dict[str, float]:
    """Value of every setting by name, in the setting's unit; what the build does not say is the default."""
    return {name: setting.default for name, setting in SETTINGS.items()} | dict(build.settings)

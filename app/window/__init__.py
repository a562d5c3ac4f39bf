"""The window: the only room that knows Qt."""

from __future__ import annotations


def start(job_path: str | None = None) -> int:
    """Open the window, with a job or artwork file when one is given; the exit code when it is closed."""
    from app.window.start import run  # so that importing this package costs no Qt

    return run(job_path)

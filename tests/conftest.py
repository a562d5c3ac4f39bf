"""What all tests share: no screen, no settings of the person at the keyboard, and nothing left running."""

from __future__ import annotations

import gc
import multiprocessing
import os
import threading
import time

import psutil
import pytest
from hypothesis import HealthCheck, settings

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

settings.register_profile("default", max_examples=40, deadline=None)
settings.register_profile(
    "thorough", max_examples=1000, deadline=None, suppress_health_check=[HealthCheck.too_slow], print_blob=True
)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "default"))

QT_FIXTURES = {"qtbot", "qapp"}
GRACE_S = 3.0
"""Threads and children that were told to end get this long to do so."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if _uses_qt(item):
            item.add_marker(pytest.mark.ui)
            # Said by the offscreen platform about every dialog; means nothing.
            item.add_marker(pytest.mark.qt_log_ignore("does not support propagateSizeHints", extend=True))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_teardown(item: pytest.Item, nextitem: pytest.Item | None):
    """Fail the test that leaves a thread or a child process behind; fixtures have been closed by then."""
    result = yield
    before = item.stash.get(_BEFORE, None)
    if before is not None:
        left = _wait_for_none(before, with_children=_uses_qt(item))
        assert not left, f"left running: {', '.join(left)}"
    return result


@pytest.hookimpl(wrapper=True)
def pytest_runtest_setup(item: pytest.Item):
    item.stash[_BEFORE] = _running(with_children=_uses_qt(item))
    return (yield)


@pytest.fixture(autouse=True)
def _own_settings(request: pytest.FixtureRequest):
    """Settings of the window go to a folder of the test, whatever asks for them; timers must not outlive it."""
    if not QT_FIXTURES & set(request.fixturenames):
        yield
        return
    from PySide6.QtCore import QSettings

    folder = request.getfixturevalue("tmp_path") / "settings"
    request.getfixturevalue("monkeypatch").setenv("LETTERBED_UNSAVED", str(folder / "unsaved"))
    QSettings.setDefaultFormat(QSettings.Format.IniFormat)
    QSettings.setPath(QSettings.Format.IniFormat, QSettings.Scope.UserScope, str(folder))
    yield


@pytest.fixture
def no_timers_left(qapp):
    """Fail the test when a timer of the program still ticks at its end. Ask for it before what is to be closed."""
    yield
    from PySide6.QtCore import QCoreApplication, QEvent, QTimer

    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    ticking = [timer for timer in gc.get_objects() if isinstance(timer, QTimer) and _ticks(timer)]
    assert not ticking, f"{len(ticking)} timers still tick: {ticking}"


_BEFORE = pytest.StashKey[set[str]]()


def _running(*, with_children: bool) -> set[str]:
    """Names of the threads and children there are now. Children of any make are looked for only where Qt is used:
    that look goes through all processes of the machine.
    """
    found = {f"thread {thread.name} ({thread.ident})" for thread in threading.enumerate()}
    found |= {f"process {child.pid}: {child.name}" for child in multiprocessing.active_children()}
    if with_children:
        known = {child.pid for child in multiprocessing.active_children()}
        for child in psutil.Process().children(recursive=True):
            try:
                line = " ".join(child.cmdline())
            except psutil.Error:
                continue
            # The resource tracker of multiprocessing serves the whole run and is no test's to end.
            if child.pid not in known and "resource_tracker" not in line:
                found.add(f"process {child.pid}: {line[:120]}")
    return found


def _wait_for_none(before: set[str], *, with_children: bool) -> list[str]:
    until = time.monotonic() + GRACE_S
    while (left := _running(with_children=with_children) - before) and time.monotonic() < until:
        time.sleep(0.02)
    return sorted(left)


def _uses_qt(item: pytest.Item) -> bool:
    return bool(QT_FIXTURES & set(getattr(item, "fixturenames", ())))


def _ticks(timer) -> bool:
    try:
        return timer.isActive()
    except RuntimeError:  # its C++ half is gone already
        return False

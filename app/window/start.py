"""Start the window."""

from __future__ import annotations

import os
import signal
import sys
from types import TracebackType

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication

from app.window.main_window import MainWindow
from app.window.session import Session
from app.window.settings import ORGANISATION, WindowSettings
from app.window.theme import Theme


def run(job_path: str | None = None) -> int:
    """Open the window, with a job or artwork file when one is given; return the exit code when it is closed."""
    app = QApplication.instance() or QApplication(sys.argv[:1])
    app.setApplicationName(ORGANISATION)
    app.setOrganizationName(ORGANISATION)
    app.setApplicationDisplayName(ORGANISATION)
    settings = WindowSettings()
    theme = Theme(app, settings.theme)
    window = MainWindow(Session(), theme, settings)
    _show_faults_in(window)
    signal.signal(signal.SIGINT, signal.SIG_DFL)  # Ctrl-C in the terminal ends the program, as one expects
    window.show()
    QTimer.singleShot(0, window, window.offer_unsaved)
    if job_path is not None:
        path = os.path.abspath(job_path)
        QTimer.singleShot(0, window, lambda: window.open_path(path))
    return app.exec()


def _show_faults_in(window: MainWindow) -> None:
    """Show what no code has caught, once per kind and line, besides printing it."""
    print_it = sys.excepthook
    shown: set[tuple[type[BaseException], int]] = set()

    def hook(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        print_it(kind, error, trace)
        last = trace
        while last is not None and last.tb_next is not None:
            last = last.tb_next
        key = (kind, last.tb_lineno if last is not None else 0)
        if key not in shown and not issubclass(kind, KeyboardInterrupt):
            shown.add(key)  # a fault in a paint event would otherwise open dialogs without end
            window.show_error(error)

    sys.excepthook = hook

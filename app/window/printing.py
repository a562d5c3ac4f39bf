"""The drawing one is looking at, on paper: as on the screen, in the light colours, under the name of the job."""

from __future__ import annotations

from datetime import datetime

from PySide6.QtCore import QMarginsF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QPageLayout, QPageSize, QPainter
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtWidgets import QDialog, QWidget

from app.errors import ExportError
from app.job.document import DisplayUnits, Job
from app.window.drawing_view import DrawingView
from app.window.theme import LIGHT, Theme

HEAD_PX = 44
MARGIN_MM = 12.0


def ask_and_print(parent: QWidget, view: DrawingView, theme: Theme, job: Job, title: str) -> None:
    """Ask for a printer, or a PDF file, and print a drawing on it."""
    printer = paper_for(view, job)
    dialog = QPrintDialog(printer, parent)
    dialog.setWindowTitle("Print the drawing")
    is_wanted = dialog.exec() == QDialog.DialogCode.Accepted
    dialog.deleteLater()
    if is_wanted:
        print_drawing(printer, view, theme, job, title)


def paper_for(view: DrawingView, job: Job) -> QPrinter:
    """A printer with the paper of the job's units, laid as the drawing lies."""
    printer = QPrinter(QPrinter.PrinterMode.ScreenResolution)
    is_letter = job.units is DisplayUnits.INCHES
    printer.setPageSize(QPageSize(QPageSize.PageSizeId.Letter if is_letter else QPageSize.PageSizeId.A4))
    size = view.viewport().size()
    is_wide = size.width() >= size.height()
    ways = QPageLayout.Orientation
    printer.setPageOrientation(ways.Landscape if is_wide else ways.Portrait)
    printer.setPageMargins(QMarginsF(MARGIN_MM, MARGIN_MM, MARGIN_MM, MARGIN_MM), QPageLayout.Unit.Millimeter)
    printer.setDocName(job.name)
    return printer


def print_drawing(printer: QPrinter, view: DrawingView, theme: Theme, job: Job, title: str) -> None:
    """Print what a drawing shows.

    Raises
    ------
    ExportError
        When the printer takes nothing.
    """
    # A dot of the paper for each pixel of the screen: words on drawings have a size in pixels.
    shown = view.viewport().size()
    inches = printer.pageLayout().paintRect(QPageLayout.Unit.Inch)
    printer.setResolution(
        max(round(max(shown.width() / inches.width(), (shown.height() + HEAD_PX) / inches.height())), 36)
    )
    room = printer.pageLayout().paintRectPixels(printer.resolution())
    painter = QPainter()
    if not painter.begin(printer):
        raise ExportError("the printer took nothing; check that it is on, or that the file can be written")
    colours, theme.colours = theme.colours, LIGHT  # paper is white; nobody is told, the screen is not drawn meanwhile
    try:
        font = QFont(painter.font())
        font.setPixelSize(15)
        font.setBold(True)
        painter.setFont(font)
        painter.setPen(QColor(LIGHT.ink))
        line = QRectF(0, 0, room.width(), 24)
        painter.drawText(line, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, f"{job.name}: {title}")
        font.setBold(False)
        font.setPixelSize(11)
        painter.setFont(font)
        when = f"Letterbed, {datetime.now().astimezone():%Y-%m-%d %H:%M}. Not to scale; lengths as written."
        painter.drawText(line, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, when)
        target = QRectF((room.width() - shown.width()) / 2, HEAD_PX, shown.width(), shown.height())
        view.render(painter, target, view.viewport().rect())
    finally:
        theme.colours = colours
        painter.end()

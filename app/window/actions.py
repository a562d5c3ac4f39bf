"""Everything that can be done from the menus, as data; menus and the page of shortcuts are both made from it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMainWindow


@dataclass(frozen=True, slots=True)
class ActionSpec:
    """One thing that can be done.

    Fields
    ------
    id : str
    menu : str
        Title of its menu.
    text : str
        With an ampersand before the letter to press in the menu.
    shortcuts : tuple of str
        The first is shown.
    tip : str
    group : str
        Actions of one group are ticked one at a time; empty for plain actions.
    starts_section : bool
        Whether a dividing line goes before it.
    """

    id: str
    menu: str
    text: str
    shortcuts: tuple[str, ...] = ()
    tip: str = ""
    group: str = ""
    starts_section: bool = False


ACTIONS: tuple[ActionSpec, ...] = (
    ActionSpec("new", "&File", "&New job from artwork…", ("Ctrl+N",), "Begin a job with an SVG, DXF or PDF file"),
    ActionSpec(
        "new_words", "&File", "New job from &words…", ("Ctrl+Shift+N",), "Begin a job with words set in a font file"
    ),
    ActionSpec("open", "&File", "&Open job…", ("Ctrl+O",), "Open a job file"),
    ActionSpec("save", "&File", "&Save", ("Ctrl+S",), "Save the job", starts_section=True),
    ActionSpec("save_as", "&File", "Save &as…", ("Ctrl+Shift+S",), "Save the job in another file"),
    ActionSpec(
        "print",
        "&File",
        "&Print the drawing…",
        ("Ctrl+P",),
        "Print the drawing as it is shown, or keep it as a PDF",
        starts_section=True,
    ),
    ActionSpec("quit", "&File", "&Quit", ("Ctrl+Q",), "Close the window", starts_section=True),
    ActionSpec("undo", "&Edit", "&Undo", ("Ctrl+Z",), "Take back the last edit"),
    ActionSpec("redo", "&Edit", "&Redo", ("Ctrl+Shift+Z", "Ctrl+Y"), "Do the edit again"),
    ActionSpec(
        "add_artwork",
        "&Edit",
        "&Add artwork…",
        ("Ctrl+Shift+A",),
        "Add an SVG, DXF or PDF file to this job",
        starts_section=True,
    ),
    ActionSpec("add_words", "&Edit", "Add &words…", ("Ctrl+Shift+W",), "Add words set in a font file to this job"),
    ActionSpec("two_points", "&Edit", "Size by two &points…", ("S",), "Set the size by two points of the drawing"),
    ActionSpec("inches", "&Edit", "Lengths in &inches", (), "Show lengths in inches", "units", starts_section=True),
    ActionSpec("millimetres", "&Edit", "Lengths in &millimetres", (), "Show lengths in millimetres", "units"),
    ActionSpec("go_1", "&Go", "&Artwork", ("Ctrl+1",), "The artwork and its size", "places"),
    ActionSpec("go_2", "&Go", "&Parts", ("Ctrl+2",), "The parts to cut", "places"),
    ActionSpec("go_3", "&Go", "S&tock", ("Ctrl+3",), "What they are cut from", "places"),
    ActionSpec("go_4", "&Go", "&Sheets", ("Ctrl+4",), "The planned sheets", "places"),
    ActionSpec("go_5", "&Go", "O&rder", ("Ctrl+5",), "What to buy, for one job or several", "places"),
    ActionSpec("go_6", "&Go", "&Output", ("Ctrl+6",), "The files, what was cut, what is cut again", "places"),
    ActionSpec(
        "next_step",
        "&Go",
        "&Next step",
        ("Ctrl+Return",),
        "Press the button at the foot of the panel",
        starts_section=True,
    ),
    ActionSpec("page_after", "&Go", "Page after", ("Ctrl+Tab",), "Show the next page of this place", "", True),
    ActionSpec("page_before", "&Go", "Page before", ("Ctrl+Shift+Tab",), "Show the page before"),
    ActionSpec(
        "sheet_before",
        "&Go",
        "Sheet &before",
        ("PgUp",),
        "Show the sheet, or page of the report, before",
        starts_section=True,
    ),
    ActionSpec("sheet_after", "&Go", "Sheet a&fter", ("PgDown",), "Show the sheet, or page of the report, after"),
    ActionSpec("choose_all", "S&heet", "Select &all parts", ("Ctrl+A",), "Select every part on this sheet"),
    ActionSpec("turn_left", "S&heet", "Turn &left", ("[",), "Turn a quarter anticlockwise", starts_section=True),
    ActionSpec("turn_right", "S&heet", "Turn &right", ("]",), "Turn a quarter clockwise"),
    ActionSpec("mirror", "S&heet", "&Mirror", ("M",), "Mirror left to right, where the material allows it"),
    ActionSpec("snap", "S&heet", "To the &nearest place", ("N",), "Bring to the nearest place where it may lie"),
    ActionSpec(
        "part_before", "S&heet", "To the sheet &before", ("Ctrl+PgUp",), "Move to the sheet before", starts_section=True
    ),
    ActionSpec("part_after", "S&heet", "To the sheet a&fter", ("Ctrl+PgDown",), "Move to the sheet after"),
    ActionSpec("part_new", "S&heet", "To a ne&w sheet", ("Ctrl+Shift+PgDown",), "Move to one more sheet of this stock"),
    ActionSpec("take_off", "S&heet", "&Take off", ("Del",), "Take off this sheet; not placed then"),
    ActionSpec(
        "lock", "S&heet", "Loc&k or unlock", ("K",), "Keep in its place while the rest is planned", starts_section=True
    ),
    ActionSpec("lock_sheet", "S&heet", "Lock or unlock the &sheet", ("Shift+K",), "Leave this sheet as it is"),
    ActionSpec("unlock_all", "S&heet", "&Unlock everything", ("Ctrl+Shift+K",), "Take off every lock"),
    ActionSpec("cut_again", "S&heet", "&Cut again…", (), "Plan chosen parts again that were spoiled or lost"),
    ActionSpec(
        "measure", "S&heet", "M&easure", ("D",), "Measure from corner to corner or edge to edge", starts_section=True
    ),
    ActionSpec("plan", "&Plan", "&Plan", ("F5",), "Put every part onto stock"),
    ActionSpec("pause", "&Plan", "Pa&use or go on", ("P",), "Hold the planning, or let it go on"),
    ActionSpec("cancel", "&Plan", "&Cancel, keep the best plan", ("Esc",), "Stop planning and keep the best plan"),
    ActionSpec(
        "stop", "&Plan", "&Stop at once", ("Shift+Esc",), "End planning now and keep the last plan that was shown"
    ),
    ActionSpec("write", "&Plan", "&Write files", ("Ctrl+E",), "Write cut files and lists", starts_section=True),
    ActionSpec("fit", "&View", "&Fit the drawing", ("F", "Home"), "Show the whole drawing"),
    ActionSpec("closer", "&View", "Zoom &in", ("+", "="), "Zoom in"),
    ActionSpec("farther", "&View", "Zoom &out", ("-",), "Zoom out"),
    ActionSpec("turn", "&View", "&Turn the sheet", ("T",), "Lay the sheet on its side or stand it up"),
    ActionSpec("by_role", "&View", "Parts by &role", ("R",), "Show the parts laid out by role", starts_section=True),
    ActionSpec("in_place", "&View", "Parts in p&lace", ("L",), "Show the parts where they belong"),
    ActionSpec("theme_system", "&View", "Colours as the s&ystem", (), "", "theme", starts_section=True),
    ActionSpec("theme_light", "&View", "Light &colours", (), "", "theme"),
    ActionSpec("theme_dark", "&View", "&Dark colours", ("Ctrl+D",), "", "theme"),
    ActionSpec("shortcuts", "&Help", "&Keyboard shortcuts", ("F1",), "List every shortcut"),
    ActionSpec("about", "&Help", "&About Letterbed", (), "What this is"),
)

VIEW_KEYS: tuple[tuple[str, str], ...] = (
    ("Move the drawing", "Arrow keys, or drag"),
    ("Zoom about the cursor", "Wheel"),
    ("Next thing on the drawing", "Full stop"),
    ("Thing before on the drawing", "Comma"),
    ("Look closely at a thing", "Double click"),
    ("Select more things", "Ctrl or Shift and click"),
    ("Box parts on a sheet", "Shift and drag"),
    ("Move a part on a sheet", "Drag"),
    ("Move it to another sheet", "Drag onto the list of sheets"),
    ("Nudge selected parts", "Arrow keys; Shift for the fine step"),
    ("Move the drawing with parts selected", "Ctrl and arrow keys"),
    ("Turn by steps of 15°", "Shift while turning"),
    ("Let go, or put back what is in hand", "Esc"),
)
"""What the drawing itself answers to."""


@dataclass(slots=True)
class Actions:
    """The actions made, by id."""

    by_id: dict[str, QAction] = field(default_factory=dict)

    def __getitem__(self, name: str) -> QAction:
        return self.by_id[name]


def build_actions(
    window: QMainWindow, callbacks: Mapping[str, Callable[[], object]], specs: Sequence[ActionSpec] = ACTIONS
) -> Actions:
    """Make the menus of a window from the specs; each id needs its callback."""
    made = Actions()
    menus = {}
    groups: dict[str, QActionGroup] = {}
    for spec in specs:
        if spec.menu not in menus:
            menus[spec.menu] = window.menuBar().addMenu(spec.menu)
            menus[spec.menu].setToolTipsVisible(True)
        menu = menus[spec.menu]
        if spec.starts_section:
            menu.addSeparator()
        action = QAction(spec.text, window)
        action.setObjectName(spec.id)
        action.setShortcuts([QKeySequence(shortcut) for shortcut in spec.shortcuts])
        action.setToolTip(spec.tip or spec.text.replace("&", ""))
        action.setStatusTip(action.toolTip())
        if spec.group:
            action.setCheckable(True)
            group = groups.setdefault(spec.group, QActionGroup(window))
            group.addAction(action)
        callback = callbacks[spec.id]
        action.triggered.connect(lambda _checked=False, callback=callback: callback())
        menu.addAction(action)
        made.by_id[spec.id] = action
    return made


def shortcut_rows(specs: Sequence[ActionSpec] = ACTIONS) -> list[tuple[str, str, str]]:
    """Menu, what is done, and the keys, of everything that has keys."""
    rows = [
        (spec.menu.replace("&", ""), spec.text.replace("&", "").rstrip("…"), "  or  ".join(spec.shortcuts))
        for spec in specs
        if spec.shortcuts
    ]
    return rows + [("Drawing", what, keys) for what, keys in VIEW_KEYS]

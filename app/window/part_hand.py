"""The hand that moves parts on a sheet: takes hold of them, drags and turns them, and shows how they would stand."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum, auto
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainterPath
from PySide6.QtWidgets import QGraphicsScene

from app.planning.job_plan import PlacedPart
from app.window.drawing_view import CLICK_SLOP_PX, DrawingView
from app.window.hand import Hand, take_off_board
from app.window.part_marks import VERDICT_COLOURS, PartMarks
from app.window.paths import PathCache, placement_transform
from app.window.picture import Thing
from app.window.theme import Theme
from nesting.plan import Placement

if TYPE_CHECKING:
    from nesting.clearance import Standing

HANDLE_PX: Final = 30.0
"""How far the handle for turning stands off the part."""
TURN_STEP: Final = 15.0
"""Degrees, with Shift held."""

Judge = Callable[[Sequence[Placement]], "Sequence[Standing]"]
"""How parts would stand, moved so."""


class _Doing(Enum):
    NOTHING = auto()
    PRESSED = auto()
    MOVING = auto()
    TURNING = auto()
    BOXING = auto()


@dataclass(slots=True)
class _Grasp:
    """What is held: things with their parts, where the mouse took hold, and where the parts are now."""

    things: list[Thing]
    placed: list[PlacedPart]
    start: QPointF
    middle: QPointF
    now: tuple[Placement, ...] = ()


class PartHand(Hand):
    """Moves, turns and boxes the parts of one sheet.

    Signals
    -------
    grasped : the parts in hand are about to move; `judge` is to be set
    dropped : tuple of Placement, QPoint
        Where they were let go, and the place on the screen.
    over : QPoint or None
        Where on the screen parts are being dragged.
    nudged : float, float, bool
        Steps in x and y of an arrow key, and whether the step is the fine one.
    refused : str
        Why a part does not move.

    Fields
    ------
    faults : mapping of thing key to how it stands
    may_edit, is_locked : bool
        Whether parts may be moved at all; whether the whole sheet is locked.
    judge : callable
        Says how parts would stand; to be set when `grasped` is told.
    gap : (QPointF, QPointF, str) or None
        A clearance to be shown: between which points, and how much.
    """

    grasped = Signal()
    dropped = Signal(object, object)
    over = Signal(object)
    nudged = Signal(float, float, bool)
    refused = Signal(str)

    def __init__(self, view: DrawingView, theme: Theme, paths: PathCache, word_gap: Callable[[Standing], str]) -> None:
        super().__init__()
        self._view, self._theme, self._paths = view, theme, paths
        self._word_gap = word_gap
        self._placed: dict[str, PlacedPart] = {}
        self._marks: PartMarks | None = None
        self._doing = _Doing.NOTHING
        self._pressed_px = QPointF()
        self._pressed_thing: Thing | None = None
        self._grasp: _Grasp | None = None
        self._box_from = QPointF()
        self._box_to = QPointF()
        self.faults: Mapping[str, str] = {}
        self.may_edit = False
        self.is_locked = False
        self.judge: Judge | None = None
        self.gap: tuple[QPointF, QPointF, str] | None = None
        view.selected.connect(self.refresh)
        view.zoomed.connect(self.refresh)

    # What is on the board

    def show_parts(self, placed: Mapping[str, PlacedPart], faults: Mapping[str, str]) -> None:
        """Take up the parts on the board by the keys of their things, and which of them stand badly and how."""
        self._placed, self.faults = dict(placed), faults
        self._let_go()
        self.refresh()

    @property
    def chosen(self) -> list[PlacedPart]:
        """The parts that are selected."""
        return [self._placed[one.key] for one in self._view.selections if one.key in self._placed]

    @property
    def held(self) -> list[PlacedPart]:
        """The parts in hand, as they lay before."""
        return self._grasp.placed if self._grasp is not None else []

    @property
    def is_moving(self) -> bool:
        """Whether parts are in hand."""
        return self._doing in (_Doing.MOVING, _Doing.TURNING)

    def attach(self, scene: QGraphicsScene) -> None:
        """Put the marks on the board."""
        self._marks = PartMarks(self._theme, self, scene.sceneRect())
        scene.addItem(self._marks)

    def detach(self) -> None:
        """Take the marks off it."""
        self._let_go()
        take_off_board(self._marks)
        self._marks = None

    def refresh(self) -> None:
        """Paint the marks anew."""
        self._view.viewport().update()

    # What the board tells

    def press(self, at: QPointF, slop: float, event: QMouseEvent) -> bool:
        """Take hold of a part, of the handle for turning, or of the corner of a box."""
        picture = self._view.picture
        if event.button() != Qt.MouseButton.LeftButton or picture is None:
            return False
        self._view.setFocus()
        handle = self.handle()
        if handle is not None and math.hypot(at.x() - handle.x(), at.y() - handle.y()) <= slop:
            self._take(at, [self._view.selection])
            self._doing = _Doing.TURNING
            return True
        thing = picture.at(at, slop / 3.0)
        self._pressed_px, self._pressed_thing, self._box_from, self._box_to = event.position(), thing, at, at
        if event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
            self._doing = _Doing.BOXING  # over a part too: sheets are full of them
            return True
        adds = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
        if thing is None or adds or thing.key not in self._placed or not self.may_edit:
            return False
        self._doing = _Doing.PRESSED
        return True

    def move(self, at: QPointF, slop: float, event: QMouseEvent) -> bool:
        """Drag what is held."""
        match self._doing:
            case _Doing.NOTHING:
                return False
            case _Doing.PRESSED:
                if self._is_dragged(event):
                    self._begin_move()
            case _Doing.BOXING:
                self._box_to = at
        if self._doing is _Doing.MOVING and self._grasp is not None:
            from app.planning.by_hand import moved

            way = at - self._grasp.start
            self._carry(moved(self._grasp.placed, way.x(), way.y()))
            self.over.emit(event.globalPosition().toPoint())
        elif self._doing is _Doing.TURNING:
            self._turn_to(at, in_steps=bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier))
        self.refresh()
        return True

    def release(self, at: QPointF, slop: float, event: QMouseEvent) -> bool:
        """Let go."""
        doing, self._doing = self._doing, _Doing.NOTHING
        picture = self._view.picture
        if doing is _Doing.NOTHING or picture is None:
            return False
        if doing is _Doing.PRESSED:
            self._view.select(self._pressed_thing)
        elif doing is _Doing.BOXING and not self._is_dragged(event):
            self._view.add_or_remove(self._pressed_thing)
        elif doing is _Doing.BOXING:
            box = QRectF(self._box_from, at).normalized()
            inside = [one for one in picture.things if one.key in self._placed and box.contains(one.area())]
            self._view.select_all([*(one for one in self._view.selections if one not in inside), *inside])
        elif self._grasp is not None:
            now, self._grasp = self._grasp.now, None
            self.over.emit(None)
            if now:
                self.dropped.emit(now, event.globalPosition().toPoint())
        self._pressed_thing = None
        self.refresh()
        return True

    def key(self, event: QKeyEvent) -> bool:
        """Esc puts back what is in hand, or lets go of the selection; the arrows nudge what is selected."""
        if event.key() == Qt.Key.Key_Escape and (self._doing is not _Doing.NOTHING or self._view.selections):
            if self._doing is not _Doing.NOTHING:
                self._let_go(put_back=True)
            else:
                self._view.select(None)
            return True
        ways = {
            Qt.Key.Key_Left: QPointF(-1, 0),
            Qt.Key.Key_Right: QPointF(1, 0),
            Qt.Key.Key_Up: QPointF(0, -1),
            Qt.Key.Key_Down: QPointF(0, 1),
        }
        if event.key() not in ways or not self.may_edit or not self.chosen:
            return False
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            return False
        way = ways[Qt.Key(event.key())]
        board = self._view.transform()
        across, up = board.inverted()[0].map(way), board.inverted()[0].map(QPointF(0, 0))
        step = across - up
        length = math.hypot(step.x(), step.y())
        fine = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        self.nudged.emit(step.x() / length, step.y() / length, fine)
        return True

    def cursor(self) -> Qt.CursorShape:
        """A hand when something is held."""
        return Qt.CursorShape.SizeAllCursor if self.is_moving else Qt.CursorShape.ArrowCursor

    # What the marks show

    def handle(self) -> QPointF | None:
        """Where the handle for turning is; only of one part that may lie at any angle."""
        if not self.may_edit or len(self._view.selections) != 1:
            return None
        thing = self._view.selection
        placed = self._placed.get(thing.key) if thing is not None else None
        if placed is None or placed.part.rotations is not None or self._bars(placed):
            return None
        from app.planning.by_hand import middle

        now = placed
        if self._doing is _Doing.TURNING and self._grasp is not None and self._grasp.now:
            now = PlacedPart(placed.part, self._grasp.now[0])
        elif self._doing is _Doing.MOVING:
            return None
        x, y = middle([now])
        box = thing.boundingRect()
        reach = max(box.width(), box.height()) / 2.0 + HANDLE_PX / self._view.scale_px
        angle = math.radians(now.placement.rotation + 90.0)
        return QPointF(x + reach * math.cos(angle), y + reach * math.sin(angle))

    def pivot(self) -> QPointF:
        """The middle of the part that the handle turns."""
        from app.planning.by_hand import middle

        return QPointF(*middle(self.chosen))

    def box(self) -> QRectF | None:
        """The box being drawn."""
        return QRectF(self._box_from, self._box_to).normalized() if self._doing is _Doing.BOXING else None

    def path_of(self, thing: Thing) -> QPainterPath:
        """Outline of the part behind a thing, in the part's own frame."""
        return self._paths.of(self._placed[thing.key].part.region)

    def standings(self) -> list[tuple[Thing, str, str]]:
        """Things to be marked: how they stand, and what is said beside them."""
        picture = self._view.picture
        if picture is None:
            return []
        held = {thing.key for thing in self._grasp.things} if self._grasp is not None else set()
        found = []
        for key, kind in self.faults.items():
            thing = picture.thing(key)
            if thing is not None and key not in held:
                found.append((thing, kind, ""))
        if self._grasp is not None and self._grasp.now and self.judge is not None:
            stands = self.judge(self._grasp.now)
            worst = max(stands, key=lambda one: list(VERDICT_COLOURS).index(one.verdict.value), default=None)
            for thing, stand in zip(self._grasp.things, stands, strict=True):
                found.append((thing, stand.verdict.value, self._word_gap(stand) if stand is worst else ""))
        return found

    # Deeds

    def _is_dragged(self, event: QMouseEvent) -> bool:
        """Whether the mouse has gone too far since the press for a click."""
        return (event.position() - self._pressed_px).manhattanLength() > CLICK_SLOP_PX

    def _bars(self, placed: PlacedPart) -> bool:
        return placed.is_locked or self.is_locked

    def _begin_move(self) -> None:
        thing = self._pressed_thing
        if thing is None:
            return
        if thing not in self._view.selections:
            self._view.select(thing)
        if self._bars(self._placed[thing.key]):
            what = "this sheet is locked" if self.is_locked else f"{self._placed[thing.key].part.id} is locked"
            self.refused.emit(f"{what}, so it stays where it is; unlock it first")
            self._doing = _Doing.NOTHING
            return
        self._take(self._box_from, list(self._view.selections))
        self._doing = _Doing.MOVING

    def _take(self, at: QPointF, things: Sequence[Thing | None]) -> None:
        free = [one for one in things if one is not None and one.key in self._placed]
        free = [one for one in free if not self._bars(self._placed[one.key])]
        placed = [self._placed[one.key] for one in free]
        from app.planning.by_hand import middle

        self._grasp = _Grasp(free, placed, at, QPointF(*middle(placed)) if placed else at)
        self.judge = None
        self.grasped.emit()

    def _carry(self, placements: tuple[Placement, ...]) -> None:
        if self._grasp is None:
            return
        self._grasp.now = placements
        for thing, placement in zip(self._grasp.things, placements, strict=True):
            thing.setTransform(placement_transform(placement))

    def _turn_to(self, at: QPointF, *, in_steps: bool) -> None:
        if self._grasp is None:
            return
        from app.planning.by_hand import turned

        way = at - self._grasp.middle
        was = self._grasp.placed[0].placement.rotation
        angle = math.degrees(math.atan2(way.y(), way.x())) - 90.0
        angle = TURN_STEP * round(angle / TURN_STEP) if in_steps else round(angle, 1)
        self._carry(turned(self._grasp.placed, angle - was))

    def _let_go(self, *, put_back: bool = False) -> None:
        if put_back and self._grasp is not None:
            for thing, placed in zip(self._grasp.things, self._grasp.placed, strict=True):
                thing.setTransform(placement_transform(placed.placement))
            self.over.emit(None)
        self._grasp, self._pressed_thing, self._doing = None, None, _Doing.NOTHING
        self.refresh()

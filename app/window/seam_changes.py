"""The seams of the parts: what there is of them, and changing those of one part on the drawing."""

from __future__ import annotations

from PySide6.QtCore import QRectF
from PySide6.QtGui import QTransform

from app.artwork.drawing import Letter
from app.errors import AppError
from app.fabrication.part import CutPart, Role
from app.job import edits
from app.job.document import Seam
from app.job.kinds import KINDS
from app.window.artwork_picture import artwork_frames
from app.window.facts import Section, button, words
from app.window.fields import Choice
from app.window.place import Place
from app.window.seam_bar import SeamBar
from app.window.seam_hand import SeamHand
from app.window.seam_lines import seams_in_words
from app.window.wording import count
from geometry.measure import region_bounds

Divided = tuple[str, Role]
"""Id of a letter and role of a part of it."""


class SeamChanges(Section):
    """A section of the panel of a place, with the bar over its drawing while seams are changed there.

    Fields
    ------
    changing : (letter id, role) or None
        The part whose seams are changed now; nothing else is to be drawn.
    """

    def __init__(self, place: Place) -> None:
        super().__init__("Seams")
        self._place = place
        self.changing: Divided | None = None
        self.told = words("", "muted")
        self.divided = Choice("Part whose seams are changed")
        self.divided.setToolTip("Parts that are divided, and the part that is selected")
        self.change = button("Change seams", tip="Drag, add and remove the seams of this part on the drawing")
        self.change.clicked.connect(self.begin)
        for widget in (self.told, self.divided, self.change):
            self.box.addWidget(widget)
        self.bar = SeamBar()
        self.bar.add_wanted.connect(self._begin_adding)
        self.bar.remove_wanted.connect(lambda: self._hand.remove() if self._hand is not None else None)
        self.bar.find_wanted.connect(self._find_again)
        self.bar.ended.connect(self.end)

    def show_seams(self, selected: CutPart | None) -> None:
        """Say what seams there are; the part selected on the drawing is offered too."""
        prepared = self._place.session.preparation.prepared
        seams = prepared.seams if prepared is not None else ()
        self.told.setText(seams_in_words(seams) if seams else "No part is divided.")
        self.offer(selected)

    @property
    def _hand(self) -> SeamHand | None:
        return self._place.view.hand if isinstance(self._place.view.hand, SeamHand) else None

    def begin(self) -> None:
        """Change the seams of the part chosen, on the drawing."""
        chosen = _divided(self.divided.currentData())
        if chosen is None:
            return
        self.end()
        self.changing = chosen
        try:
            desk = self._desk(chosen)
        except AppError as error:
            self.changing = None
            self._place.said.emit(str(error))
            return
        letter = self._letter(chosen[0])
        frame = self._frame_of(letter, desk.origin)
        if letter is None or frame is None:
            self.changing = None
            return
        hand = SeamHand(self._place.theme, desk, frame, self)
        hand.judged.connect(self._show_check)
        hand.changed.connect(self._set_seams)
        hand.ended.connect(self.end)
        self._place.view.select(None)
        self._place.draw_soon()
        self.bar.begin(f"{letter.name} {chosen[1].value}")
        self._place.view.take_up(hand)
        hand.show_seams(self._seams_in_force(desk.now))
        boxes = [region_bounds(region) for region in letter.regions]
        whole = boxes[0]
        for box in boxes[1:]:
            whole = whole.union(box)
        self._place.layout().activate()
        self._place.view.show_place(frame.mapRect(QRectF(0.0, 0.0, whole.width, whole.height)), around=0.02)
        self._place.view.setFocus()

    def end(self) -> None:
        """Show all parts again."""
        if self.changing is None:
            return
        self.changing = None
        hand = self._hand
        self._place.view.take_up(None)
        if hand is not None:
            hand.deleteLater()
        self.bar.hide()
        self._place.draw_soon()

    def _desk(self, chosen: Divided):
        from app.fabrication.seam_desk import seam_desk

        job, letter, prepared = self._place.job, self._letter(chosen[0]), self._place.session.preparation.prepared
        return seam_desk(job, letter, chosen[1], prepared.seams)

    def _frame_of(self, letter: Letter | None, origin: tuple[float, float]) -> QTransform | None:
        prepared = self._place.session.preparation.prepared
        if letter is None or prepared is None:
            return None
        frames = artwork_frames(prepared, self._place.board_px).frames
        return QTransform.fromTranslate(*origin) * frames[letter.artwork]

    def _letter(self, letter_id: str) -> Letter | None:
        prepared = self._place.session.preparation.prepared
        letters = (letter for one in prepared.lettering for letter in one.letters) if prepared is not None else ()
        return next((letter for letter in letters if letter.id == letter_id), None)

    def _own_seams(self) -> tuple[Seam, ...] | None:
        job = self._place.job
        if job is None or self.changing is None:
            return None
        letter, role = self.changing
        return next((one.seams for one in job.seams if (one.letter, one.part) == (letter, role.value)), None)

    def _seams_in_force(self, now: tuple[Seam, ...]) -> tuple[Seam, ...]:
        own = self._own_seams()
        return now if own is None else own

    def _begin_adding(self) -> None:
        if self._hand is not None:
            self._hand.begin_adding()
            self.bar.say("Click where the seam is to run. It runs upright, or level with Shift.")
            self._place.view.setFocus()

    def _set_seams(self, seams: tuple[Seam, ...], merge: str) -> None:
        if self.changing is not None:
            letter, role = self.changing
            self._place.edit("change seams", lambda job: edits.set_seams(job, letter, role.value, seams), merge=merge)

    def _find_again(self) -> None:
        if self.changing is not None:
            letter, role = self.changing
            self._place.edit("find seams again", lambda job: edits.set_seams(job, letter, role.value, None))

    def _show_check(self, check: object) -> None:
        hand = self._hand
        if hand is not None:
            self.bar.show_check(check, hand.chosen, is_own=self._own_seams() is not None)

    def follow(self) -> None:
        """The job was changed elsewhere, as by an undo: show its seams."""
        own = self._own_seams()
        if self._hand is not None and own is not None:
            self._hand.show_seams(own)

    def renew(self) -> None:
        """After the parts were made anew: the seams of other layers may have moved, or the letter is gone."""
        hand, chosen = self._hand, self.changing
        if hand is None or chosen is None:
            return
        letter = self._letter(chosen[0])
        if letter is None or self._place.session.preparation.prepared is None:
            self.end()
            return
        try:
            desk = self._desk(chosen)
        except AppError:
            self.end()
            return
        hand.take_desk(desk)
        hand.show_seams(self._seams_in_force(desk.now))

    def offer(self, part: CutPart | None) -> None:
        """Offer the parts that are divided, and the part that is selected where it may be."""
        prepared, job = self._place.session.preparation.prepared, self._place.job
        entries: dict[Divided, str] = {}
        if prepared is not None and job is not None:
            names = {letter.id: letter.name for one in prepared.lettering for letter in one.letters}
            numbers: dict[Divided, int] = {}
            for seam in prepared.seams:
                key = (seam.letter, seam.role)
                numbers[key] = numbers.get(key, 0) + 1
            for (letter, role), seams in numbers.items():
                entries[letter, role] = f"{names.get(letter, letter)} {role.value}, {count(seams, 'seam')}"
            if part is not None and part.role.value in self._divisible(part):
                entries.setdefault((part.letter, part.role), f"{names.get(part.letter, part.letter)} {part.role.value}")
        now = _divided(self.divided.currentData())
        wanted = (part.letter, part.role) if part is not None else now
        chosen = wanted if wanted in entries else next(iter(entries), None)
        self.divided.offer([(text, _key(key)) for key, text in entries.items()], _key(chosen) if chosen else None)
        for widget in (self.divided, self.change):
            widget.setVisible(bool(entries))

    def _divisible(self, part: CutPart) -> tuple[str, ...]:
        job, letter = self._place.job, self._letter(part.letter)
        artwork = next((one for one in job.artwork if letter is not None and one.id == letter.artwork), None)
        if artwork is None:
            return ()
        build = next(one for one in job.builds if one.id == artwork.build_of(part.letter))
        return KINDS[build.kind].divisible


def _key(divided: Divided) -> str:
    """As the choice keeps it: Qt makes lists of tuples."""
    return f"{divided[0]}\n{divided[1].value}"


def _divided(key: object) -> Divided | None:
    if not isinstance(key, str):
        return None
    letter, role = key.split("\n")
    return letter, Role(role)

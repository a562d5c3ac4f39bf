"""The job's own sizes: added from the stock book, removed, and the rack's offcuts used first or not."""

from __future__ import annotations

from app.stock.rack import Rack
from app.stock.rack_items import rectangle_offcut
from tests.app.window.stand_ins import BACKER, Desk


def sizes(desk: Desk):
    desk.window.go(2)
    return desk.window.stock.sizes


def test_size_is_removed_as_one_step_and_the_book_offers_it_again(open_desk: Desk):
    place, document = sizes(open_desk), open_desk.session.document
    gone = next(iter(place.counts))
    before = document.job
    place._remove(gone)
    assert gone not in place.counts
    place.more.click()
    stock = open_desk.window.stock
    assert stock.page is stock.book
    assert gone in stock.book.table.all_keys
    assert all(BACKER in stock.book.table.text(key, 0) for key in stock.book.table.all_keys)
    document.undo_stack.undo()
    assert document.job == before


def test_offcuts_are_used_first_when_wished(open_desk: Desk, qtbot):
    place = sizes(open_desk)
    assert not place.rack.isEnabled()
    with Rack() as rack:
        (piece,) = rack.keep([rectangle_offcut(BACKER, 3.175, 900, 900)])
    open_desk.session.rack.look()
    assert place.rack.text() == "Use offcuts of the rack first (1)"
    place.rack.click()
    open_desk.window.plan()
    assert f"rack:{piece.id}" in {size.id for size in open_desk.planner.prepared.job.stock}
    open_desk.planner.finish()
    qtbot.waitUntil(lambda: not open_desk.session.planning.is_running)
    sizes(open_desk).rack.click()
    open_desk.window.plan()
    assert not any(size.id.startswith("rack:") for size in open_desk.planner.prepared.job.stock)

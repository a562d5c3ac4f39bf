"""Work done off the window's thread, and when its answer comes."""

from __future__ import annotations

from concurrent.futures import Future

from app.window.background import Background


class AtOnce:
    """Stands in for a thread that has always ended before it is asked."""

    def submit(self, task, *arguments) -> Future[object]:
        future: Future[object] = Future()
        future.set_result(task(*arguments))
        return future

    def shutdown(self, **_: object) -> None:
        """Nothing runs."""


def test_an_answer_never_comes_in_the_midst_of_asking(qtbot, qapp, monkeypatch):
    background, got = Background("test"), []
    background.close()
    monkeypatch.setattr(background, "_executor", AtOnce())
    background.done.connect(got.append)
    background.start(lambda report: 5)
    assert got == []
    assert background.is_busy
    qtbot.waitUntil(lambda: got == [5])
    assert not background.is_busy


def test_an_answer_forgotten_before_it_came_is_dropped(qtbot, qapp, monkeypatch):
    background, got = Background("test"), []
    background.close()
    monkeypatch.setattr(background, "_executor", AtOnce())
    background.done.connect(got.append)
    background.start(lambda report: "old")
    background.forget()
    background.start(lambda report: "new")
    qtbot.waitUntil(lambda: got != [])
    qtbot.wait(20)
    assert got == ["new"]

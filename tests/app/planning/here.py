"""An executor without threads and processes."""

from __future__ import annotations

from concurrent.futures import Executor, Future


class HereExecutor(Executor):
    """Does the work at once, in this thread."""

    def submit(self, work, /, *args, **kwargs):
        future: Future = Future()
        future.set_result(work(*args, **kwargs))
        return future

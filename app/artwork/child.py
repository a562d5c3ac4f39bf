"""Reading in a process of its own, with limits of time and memory, so that no library can take the program down.

The process is a plain interpreter that imports this package and nothing of the caller's: neither a script without a
main guard nor the window is run a second time. Requests go in and drawings come out as plain bytes. One process
serves many files and words, since starting it costs more than most readings; one that fails is not asked again.
"""

from __future__ import annotations

import dataclasses
import gc
import json
import math
import os
import signal
import struct
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import IO, Any

from app.artwork.drawing import Drawing
from app.artwork.limits import DEFAULT_LIMITS, Limits
from app.artwork.options import ReadOptions
from app.artwork.plain import drawing_from_bytes, drawing_to_bytes
from app.errors import DamagedFile, ReadError, UnsupportedFile
from app.job.document import Align, Text

COMMAND = (sys.executable, "-m", "app.artwork.child")
_ERRORS: dict[str, type[ReadError]] = {
    "ReadError": ReadError,
    "UnsupportedFile": UnsupportedFile,
    "DamagedFile": DamagedFile,
}
_OUT_OF_MEMORY = "OutOfMemory"
_LENGTH = struct.Struct("<Q")
_CHUNK = 1 << 20  # bytes; what the process says about lengths is not believed further than that
_OBJECTS_UNSWEPT = 100_000  # new objects before rubbish is looked for
_GRACE = 5.0  # s for a process that has closed its output to end by itself


class ReadingProcess:
    """A process that reads artwork files and sets words, one after the other; use it in a ``with`` statement.

    It is started with the first request, or by `start` to have it ready by then. A request that takes longer than
    `Limits.seconds` ends with the process killed. The memory of each request is limited to `Limits.memory_bytes` above
    what the process holds before it, where the system can do that (not on Windows).

    Parameters
    ----------
    limits : Limits
    """

    def __init__(self, limits: Limits = DEFAULT_LIMITS) -> None:
        self._limits = limits
        self._process: subprocess.Popen[bytes] | None = None
        self._has_served = False

    def __enter__(self) -> ReadingProcess:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def start(self) -> None:
        """Start the process now, so that it is ready when it is asked.

        Raises
        ------
        ReadError
            If the system starts no process.
        """
        self._running("artwork")

    def close(self) -> None:
        """End the process."""
        process, self._process = self._process, None
        self._has_served = False
        if process is None:
            return
        process.kill()
        process.wait()
        for stream in (process.stdin, process.stdout):
            if stream is not None:
                try:
                    stream.close()
                except OSError:  # what was not yet written has no reader any more
                    continue

    def read_file(self, path: Path, options: ReadOptions) -> Drawing:
        """Drawing of an artwork file.

        Raises
        ------
        ReadError
            What the reader raised; also when it takes too long, needs too much memory, or makes the process end.
        """
        return self._ask(path, {"options": dataclasses.asdict(options)})

    def set_words(self, text: Text, font: Path) -> Drawing:
        """Drawing of words in a font.

        Raises
        ------
        ReadError
            As `read_file`.
        """
        return self._ask(font, {"text": dataclasses.asdict(text)})

    def _ask(self, path: Path, what: dict[str, Any]) -> Drawing:
        request = {"path": str(path), "limits": dataclasses.asdict(self._limits), **what}
        process = self._running(path.name)
        has_served = self._has_served
        expired = threading.Event()

        def expire() -> None:
            expired.set()
            process.kill()

        timer = threading.Timer(self._limits.seconds, expire)
        timer.daemon = True
        timer.start()
        try:
            parts = _exchange(process, json.dumps(request).encode(), self._limits.memory_bytes)
        finally:
            timer.cancel()
            timer.join()
        if not parts:
            code = _code_of(process)
            self.close()
            if expired.is_set():
                raise ReadError(
                    f"{path.name} took longer than {self._limits.seconds:g} s to read, the limit in the settings; "
                    "simplify it, or raise the limit"
                )
            if has_served:
                # A library under the cap of memory aborts where earlier files have left it little: once more, alone.
                return self._ask(path, what)
            raise DamagedFile(f"{path.name} made its reader fail ({_end(code)}); save it again")
        self._has_served = True
        if expired.is_set():
            self.close()
        return self._answer(path, parts)

    def _answer(self, path: Path, parts: list[bytes]) -> Drawing:
        if len(parts) == 1:
            kind, _, message = parts[0].decode(errors="replace").partition("\n")
            if kind == _OUT_OF_MEMORY:
                self.close()  # what is left of it may hold much memory, or be half made
            raise _ERRORS.get(kind, ReadError)(message)
        try:
            return drawing_from_bytes(parts[0], parts[1])
        except (ValueError, KeyError, TypeError) as error:
            self.close()
            raise DamagedFile(f"{path.name} made its reader answer nonsense; save it again") from error

    def _running(self, name: str) -> subprocess.Popen[bytes]:
        if self._process is not None and self._process.poll() is not None:
            self.close()
        if self._process is None:
            environment = {**os.environ, "PYTHONPATH": os.pathsep.join(entry or os.getcwd() for entry in sys.path)}
            try:
                self._process = subprocess.Popen(
                    COMMAND,
                    stdin=subprocess.PIPE,
                    stdout=subprocess.PIPE,
                    stderr=subprocess.DEVNULL,
                    env=environment,
                    creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),  # Windows would flash a console
                )
            except OSError as error:
                raise ReadError(
                    f"{name} cannot be read: no process could be started for it ({error.strerror})"
                ) from error
        return self._process


def _exchange(process: subprocess.Popen[bytes], request: bytes, most: int) -> list[bytes]:
    """Parts of the answer to a request: one is an error, two are a drawing; none when the process fails."""
    if process.stdin is None or process.stdout is None:
        return []
    try:
        _send(process.stdin, request)
        process.stdin.flush()
    except OSError:
        return []
    count = _length(process.stdout)
    if count not in (1, 2):
        return []
    parts: list[bytes] = []
    for _ in range(count):
        length = _length(process.stdout)
        part = None if length is None or length > most else _exactly(process.stdout, length)
        if part is None:
            return []
        parts.append(part)
    return parts


def _exactly(stream: IO[bytes], length: int) -> bytes | None:
    """So many bytes of a stream; None when it ends before."""
    pieces: list[bytes] = []
    while length > 0:
        piece = stream.read(min(length, _CHUNK))
        if not piece:
            return None
        pieces.append(piece)
        length -= len(piece)
    return b"".join(pieces)


def _length(stream: IO[bytes]) -> int | None:
    data = _exactly(stream, _LENGTH.size)
    return None if data is None else int(_LENGTH.unpack(data)[0])


def _send(stream: IO[bytes], part: bytes) -> None:
    stream.write(_LENGTH.pack(len(part)))
    stream.write(part)


def _code_of(process: subprocess.Popen[bytes]) -> int:
    """Exit code of a process that has stopped answering."""
    try:
        return process.wait(_GRACE)
    except subprocess.TimeoutExpired:
        process.kill()
        return process.wait()


def _end(code: int) -> str:
    if code >= 0:
        return f"exit code {code}"
    try:
        return f"ended by {signal.Signals(-code).name}"
    except ValueError:
        return f"ended by signal {-code}"


# What the process does.


def main() -> None:
    """Answer requests from standard input on standard output until there are no more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides when to stop
    gc.set_threshold(_OBJECTS_UNSWEPT)  # a parsed file is many objects that all stay: a quarter of the time saved
    # Libraries may print; only answers may reach the parent.
    with os.fdopen(os.dup(1), "wb") as answers:
        os.dup2(2, 1)
        requests = sys.stdin.buffer
        while (length := _length(requests)) is not None:
            data = _exactly(requests, length)
            if data is None:
                return
            parts = answer_to(json.loads(data))
            answers.write(_LENGTH.pack(len(parts)))
            for part in parts:
                _send(answers, part)
            answers.flush()


def answer_to(request: dict[str, Any]) -> tuple[bytes, ...]:
    """Two parts with the drawing, or one with the kind and words of an error."""
    path, limits = Path(request["path"]), Limits(**request["limits"])
    read = _words_reader(request["text"], path, limits) if "text" in request else _file_reader(request, path, limits)
    _limit_process(limits)
    try:
        return drawing_to_bytes(read())
    except ReadError as error:
        return (f"{type(error).__name__}\n{error}".encode(),)
    except MemoryError:
        limit = f"{limits.memory_bytes / 1e9:.1f} GB"
        said = f"{path.name} needs more than {limit} of memory to read, the limit in the settings; simplify it"
        return (f"{_OUT_OF_MEMORY}\n{said}".encode(),)


def _file_reader(request: dict[str, Any], path: Path, limits: Limits) -> Callable[[], Drawing]:
    from app.artwork import read  # its libraries stay out of the parent

    options = request["options"]
    layers = options["layers"]
    chosen = ReadOptions(
        **{
            **options,
            "layers": None if layers is None else tuple(layers),
            "font_folders": tuple(options["font_folders"]),
        }
    )
    return lambda: read.read_here(path, options=chosen, limits=limits)


def _words_reader(given: dict[str, Any], path: Path, limits: Limits) -> Callable[[], Drawing]:
    from app.artwork.fonts import set_text

    axes = tuple((str(tag), float(value)) for tag, value in given["axes"])
    text = Text(**{**given, "align": Align(given["align"]), "axes": axes})
    return lambda: set_text(text, path, limits=limits)


def _limit_process(limits: Limits) -> None:
    """Cap the address space at what is in use now plus the limit, and the time this request may compute.

    The caller measures the time that passes; the cap on computing holds when the caller is gone.
    """
    try:
        import resource
    except ImportError:  # Windows: only the caller's time limit holds there
        return
    try:
        pages = int(Path("/proc/self/statm").read_text().split()[0])
    except OSError:  # no such file on this system: leave room for the libraries
        pages = 0
    in_use = pages * resource.getpagesize() or 2 * 1024**3
    used = resource.getrusage(resource.RUSAGE_SELF)
    seconds = used.ru_utime + used.ru_stime + 2.0 * limits.seconds + 1.0  # libraries may compute in two threads
    for what, most in ((resource.RLIMIT_AS, in_use + limits.memory_bytes), (resource.RLIMIT_CPU, math.ceil(seconds))):
        # Only the soft limit: the next request sets another.
        _soft, hard = resource.getrlimit(what)
        resource.setrlimit(what, (most if hard == resource.RLIM_INFINITY else min(most, hard), hard))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


if __name__ == "__main__":
    main()

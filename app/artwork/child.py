"""Reading in a process of its own, with limits of time and memory, so that no library can take the program down.

The process is a plain interpreter that imports this package and nothing of the caller's: neither a script without a
main guard nor the window is run a second time. The request goes in and the drawing comes out as plain bytes.
"""

from __future__ import annotations

import dataclasses
import json
import os
import signal
import struct
import subprocess
import sys
from pathlib import Path
from typing import BinaryIO

from app.artwork.drawing import Drawing
from app.artwork.limits import Limits
from app.artwork.options import ReadOptions
from app.artwork.plain import drawing_from_bytes, drawing_to_bytes
from app.errors import DamagedFile, ReadError, UnsupportedFile

COMMAND = (sys.executable, "-m", "app.artwork.child")
_ERRORS: dict[str, type[ReadError]] = {
    "ReadError": ReadError,
    "UnsupportedFile": UnsupportedFile,
    "DamagedFile": DamagedFile,
}
_LENGTH = struct.Struct("<Q")


def read_in_child(path: Path, options: ReadOptions, limits: Limits) -> Drawing:
    """Drawing of a file, read by another process.

    The process is killed after `Limits.seconds`. Its memory is limited to `Limits.memory_bytes` above what it starts
    with where the system can do that (not on Windows).

    Raises
    ------
    ReadError
        What the reader raised; also when the process takes too long, needs too much memory, or dies.
    """
    request = {"path": str(path), "options": dataclasses.asdict(options), "limits": dataclasses.asdict(limits)}
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(entry or os.getcwd() for entry in sys.path)}
    try:
        done = subprocess.run(
            COMMAND,
            input=json.dumps(request).encode(),
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=environment,
            timeout=limits.seconds,
            check=False,
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),  # Windows would flash a console
        )
    except subprocess.TimeoutExpired as error:
        raise ReadError(
            f"{path.name} took longer than {limits.seconds:g} s to read, the limit in the settings; simplify it"
        ) from error
    except OSError as error:
        raise ReadError(f"{path.name} cannot be read: no process could be started for it ({error.strerror})") from error
    parts = _parts(done.stdout)
    if done.returncode != 0 or not parts:
        raise DamagedFile(f"{path.name} made its reader fail ({_end(done.returncode)}); save it again")
    if len(parts) == 1:
        kind, _, message = parts[0].decode(errors="replace").partition("\n")
        raise _ERRORS.get(kind, ReadError)(message)
    try:
        return drawing_from_bytes(parts[0], parts[1])
    except (ValueError, KeyError, TypeError) as error:
        raise DamagedFile(f"{path.name} made its reader answer nonsense; save it again") from error


def _parts(answer: bytes) -> list[bytes]:
    """Length-prefixed parts of an answer: one is an error, two are a drawing; none when it is cut short."""
    parts: list[bytes] = []
    at = 0
    while at < len(answer):
        if at + _LENGTH.size > len(answer):
            return []
        (length,) = _LENGTH.unpack_from(answer, at)
        at += _LENGTH.size
        if at + length > len(answer):
            return []
        parts.append(answer[at : at + length])
        at += length
    return parts if len(parts) <= 2 else []


def _end(code: int) -> str:
    if code >= 0:
        return f"exit code {code}"
    try:
        return f"ended by {signal.Signals(-code).name}"
    except ValueError:
        return f"ended by signal {-code}"


def main() -> None:
    """What the process does: read a request from standard input, write the answer to standard output."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides when to stop
    # Libraries may print; only the answer may reach the parent.
    with os.fdopen(os.dup(1), "wb") as answer:
        os.dup2(2, 1)
        request = json.load(sys.stdin.buffer)
        options, limits = request["options"], Limits(**request["limits"])
        layers = options["layers"]
        chosen = ReadOptions(
            **{
                **options,
                "layers": None if layers is None else tuple(layers),
                "font_folders": tuple(options["font_folders"]),
            }
        )
        for part in answer_to(Path(request["path"]), chosen, limits):
            _send(answer, part)


def answer_to(path: Path, options: ReadOptions, limits: Limits) -> tuple[bytes, ...]:
    """Two parts with the drawing, or one with the kind and words of an error."""
    from app.artwork.read import read_here  # its libraries stay out of the parent

    _limit_memory(limits.memory_bytes)
    try:
        return drawing_to_bytes(read_here(path, options=options, limits=limits))
    except ReadError as error:
        return (f"{type(error).__name__}\n{error}".encode(),)
    except MemoryError:
        limit = f"{limits.memory_bytes / 1e9:.1f} GB"
        return (
            f"ReadError\n{path.name} needs more than {limit} of memory to read, the limit in the settings".encode(),
        )


def _send(answer: BinaryIO, part: bytes) -> None:
    answer.write(_LENGTH.pack(len(part)))
    answer.write(part)


def _limit_memory(extra: int) -> None:
    """Cap the address space at what is in use now plus `extra` bytes, where the system has such a cap."""
    try:
        import resource
    except ImportError:  # Windows: only the time limit holds there
        return
    try:
        pages = int(Path("/proc/self/statm").read_text().split()[0])
    except OSError:  # no such file on this system: leave room for the libraries
        pages = 0
    in_use = pages * resource.getpagesize() or 2 * 1024**3
    _soft, hard = resource.getrlimit(resource.RLIMIT_AS)
    most = in_use + extra
    resource.setrlimit(resource.RLIMIT_AS, (most if hard == resource.RLIM_INFINITY else min(most, hard), hard))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


if __name__ == "__main__":
    main()

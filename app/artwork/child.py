"""Reading in a process of its own, with limits of time and memory, so that no library can take the program down."""

from __future__ import annotations

import multiprocessing
import os
import signal
from multiprocessing.connection import Connection
from pathlib import Path

from app.artwork.drawing import Drawing
from app.artwork.limits import Limits
from app.artwork.options import ReadOptions
from app.artwork.plain import drawing_from_bytes, drawing_to_bytes
from app.errors import DamagedFile, ReadError, UnsupportedFile

_ERRORS: dict[str, type[ReadError]] = {
    "ReadError": ReadError,
    "UnsupportedFile": UnsupportedFile,
    "DamagedFile": DamagedFile,
}
_DRAWING = b"drawing"


def read_in_child(path: Path, options: ReadOptions, limits: Limits) -> Drawing:
    """Drawing of a file, read by a spawned process.

    The process is killed after `Limits.seconds`. Its memory is limited to `Limits.memory_bytes` above what it starts
    with where the system can do that (not on Windows).

    Raises
    ------
    ReadError
        What the reader raised; also when the process takes too long, needs too much memory, or dies.
    """
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(target=_work, args=(theirs, path, options, limits), daemon=True)
    process.start()
    theirs.close()  # else the end of a process that died would never be seen
    try:
        if not ours.poll(limits.seconds):
            raise ReadError(
                f"{path.name} took longer than {limits.seconds:g} s to read, the limit in the settings; simplify it"
            )
        answer = ours.recv_bytes()
        if answer == _DRAWING:
            return drawing_from_bytes(ours.recv_bytes(), ours.recv_bytes())
        kind, _, message = answer.decode().partition("\n")
    except (EOFError, ConnectionError) as error:
        process.join(5.0)
        raise DamagedFile(f"{path.name} made its reader fail ({_end(process.exitcode)}); save it again") from error
    except (ValueError, KeyError, TypeError) as error:
        raise DamagedFile(f"{path.name} made its reader answer nonsense; save it again") from error
    finally:
        ours.close()
        if process.is_alive():
            process.kill()
        process.join()
        process.close()
    raise _ERRORS.get(kind, ReadError)(message)


def _work(answer: Connection, path: Path, options: ReadOptions, limits: Limits) -> None:
    # Imported here so that its cost and its libraries stay out of the parent.
    from app.artwork.read import read_here

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides when to stop
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)  # a library's chatter is not for the user
    _limit_memory(limits.memory_bytes)
    try:
        header, coordinates = drawing_to_bytes(read_here(path, options=options, limits=limits))
    except ReadError as error:
        _fail(answer, type(error), str(error))
    except MemoryError:
        limit = f"{limits.memory_bytes / 1e9:.1f} GB"
        _fail(answer, ReadError, f"{path.name} needs more than {limit} of memory to read, the limit in the settings")
    except Exception as error:
        _fail(answer, DamagedFile, f"{path.name} made its reader fail ({type(error).__name__}); save it again")
        raise
    else:
        answer.send_bytes(_DRAWING)
        answer.send_bytes(header)
        answer.send_bytes(coordinates)
    finally:
        answer.close()


def _fail(answer: Connection, kind: type[ReadError], message: str) -> None:
    answer.send_bytes(f"{kind.__name__}\n{message}".encode())


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


def _end(code: int | None) -> str:
    if code is not None and code < 0:
        try:
            return f"ended by {signal.Signals(-code).name}"
        except ValueError:
            return f"ended by signal {-code}"
    return f"exit code {code}"

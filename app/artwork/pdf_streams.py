"""Content of PDF streams, unpacked within the limits."""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Iterator
from typing import Any

import pikepdf

from app.artwork.limits import Limits
from app.errors import ReadError

_STEP = 1 << 22  # bytes unpacked at a time
_FLATE = frozenset({"/FlateDecode", "/Fl"})


def check_unpacked_size(streams: Any, name: str, limits: Limits) -> None:
    """Unpack streams in steps, so that a packed bomb is found before the library unpacks it whole.

    Only the packing that swells without bound is looked into, once or several times over; a broken one is left to the
    library to mend or refuse.

    Parameters
    ----------
    streams : pikepdf.Stream or pikepdf.Array of them
    name : str
        What to call the file.
    limits : Limits

    Raises
    ------
    ReadError
        If they unpack to more than `Limits.file_bytes` together.
    """
    total = 0
    for stream in list(streams) if isinstance(streams, pikepdf.Array) else [streams]:
        if not isinstance(stream, pikepdf.Stream):
            continue
        filters = stream.get("/Filter")
        names = [str(one) for one in filters] if isinstance(filters, pikepdf.Array) else [str(filters)]
        if not names or not _FLATE.issuperset(names):
            continue
        pieces: Iterable[bytes] = [bytes(stream.read_raw_bytes())]
        for _ in names:
            pieces = _unpacked(pieces)
        try:
            for piece in pieces:
                total += len(piece)
                if total > limits.file_bytes:
                    raise ReadError(
                        f"{name} unpacks to more than {limits.file_bytes / 1e6:.0f} MB, the limit in the settings"
                    )
        except zlib.error:
            continue


def _unpacked(packed: Iterable[bytes]) -> Iterator[bytes]:
    worker = zlib.decompressobj()
    for piece in packed:
        rest = piece
        while rest and not worker.eof:
            yield worker.decompress(rest, _STEP)
            rest = worker.unconsumed_tail

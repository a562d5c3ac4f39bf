"""Compiled geometry of the engine. Importing this package loads numba; nothing else in `nesting` does.

Kernels trust their input: float64 arrays, shapes in range. Each is compiled once per installation and kept in the
user's cache folder under a name made from the source of all kernels: numba by itself would not notice a change in a
kernel that another one calls.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path
from typing import Any, TypeVar, cast

import platformdirs

Function = TypeVar("Function", bound=Callable[..., Any])


def _cache_folder() -> str:
    digest = hashlib.sha256(version("numba").encode())
    for source in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(source.read_bytes())
    return str(platformdirs.user_cache_path("letterbed") / f"kernels-{digest.hexdigest()[:12]}")


# numba reads this when it is first imported, so it must be set before `kernel` is called.
os.environ.setdefault("NUMBA_CACHE_DIR", _cache_folder())


def kernel(function: Function) -> Function:
    """Compile without the interpreter lock and keep on disk; divisions follow IEEE rules, no fast-math."""
    from numba import njit

    return cast("Function", njit(cache=True, nogil=True, error_model="numpy")(function))


# Not among numba's published options: leaves reference counting out of functions that allocate nothing.
_UNCOUNTED: dict[str, Any] = {"_nrt": False}


def inner(function: Function) -> Function:
    """Compile like `kernel`, for functions that allocate nothing.

    Without numba's reference counting: handing a dozen arrays to a small function would otherwise cost more than what
    it does, and threads would fight over the counters.
    """
    from numba import njit

    return cast("Function", njit(cache=True, nogil=True, error_model="numpy", **_UNCOUNTED)(function))


def inlined(function: Function) -> Function:
    """Compile like `inner`, into each caller: handing over a dozen arrays costs more than a look-up."""
    from numba import njit

    compiled = njit(cache=True, nogil=True, error_model="numpy", forceinline=True, **_UNCOUNTED)(function)
    return cast("Function", compiled)

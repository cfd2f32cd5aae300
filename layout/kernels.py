"""Where compiled kernels are kept, and the one decorator that compiles them.

This room is imported before any kernel is defined. It points numba's cache at
a folder that can be written, see ``kernel_cache``.

Kernels are serial on purpose: two server threads inside a parallel kernel can
abort the process. They let go of the interpreter lock, so that a live check
answers while a search runs.
"""

import os
from collections.abc import Callable
from typing import Any, TypeVar, cast, overload

import numba

from layout.kernel_cache import CACHE_VARIABLE, cache_folder, source_hash, user_cache, writable

__all__ = ["CACHE_FOLDER", "cache_folder", "njit", "source_hash", "user_cache", "writable"]

Function = TypeVar("Function", bound=Callable[..., Any])

CACHE_FOLDER = cache_folder()
# numba reads its variables again whenever one of them has changed, so the folder is
# written to both places; processes started from here then share it.
os.environ[CACHE_VARIABLE] = str(CACHE_FOLDER)
numba.config.CACHE_DIR = str(CACHE_FOLDER)  # type: ignore[attr-defined]  # set at run time


@overload
def njit(function: Function, /) -> Function: ...


@overload
def njit(**options: Any) -> Callable[[Function], Function]: ...


def njit(function: Function | None = None, /, **options: Any) -> Any:
    """Compile a function to machine code: cached, without the interpreter lock, serial.

    Parameters
    ----------
    function : callable, optional
        The kernel, when used without brackets.
    **options
        Passed on to numba; ``cache`` and ``nogil`` are on unless said otherwise.

    Returns
    -------
    callable
        The compiled kernel, or the decorator that makes it.

    Raises
    ------
    ValueError
        If ``parallel`` is asked for.
    """
    if options.get("parallel"):
        raise ValueError("kernels are serial: two threads in a parallel kernel abort the process")
    compiled = numba.njit(**{"cache": True, "nogil": True, **options})
    return compiled if function is None else cast(Any, compiled(function))

"""Compiling of loops that numpy cannot take: one decorator for all compiled code of the package.

What was compiled is kept beside the source, or in the user's folder for such things, and found again by
all that it was made from: its own byte code, its constants and the compiled functions it calls, wherever
they stand. Where no folder can be written, every process compiles for itself; the answers are the same.

Rules for compiled functions: no fused or reordered arithmetic (answers must not depend on the machine),
division as in numpy, one set of argument types each (the fronts convert), compiled functions called by
their plain names.
"""

from __future__ import annotations

import hashlib
import pickle
from collections.abc import Callable, Iterator
from contextlib import suppress
from types import CodeType, FunctionType
from typing import Any, TypeVar, cast

import numba
import numpy as np
import numpy.typing as npt
from numba.core.caching import FunctionCache, IndexDataCacheFile
from numba.core.dispatcher import Dispatcher
from numba.core.runtime.nrt import rtsys

__all__ = ["compiled", "solid"]

F = TypeVar("F", bound=Callable[..., Any])

_TRIED = (["0", "68"],)
"""Versions of the library that run kept code with nothing but their run time. Before it loads any, the
library gets ready to compile, which takes ten times as long; that is done anyway where something is compiled.
Other versions take their own way."""

_DAMAGED = (EOFError, pickle.UnpicklingError, AttributeError, ImportError, IndexError)
"""What reading a list of kept code raises that was cut short, or names types that are no longer there."""


def compiled(function: F) -> F:
    """Return a function compiled when it is first called.

    Notes
    -----
    Compiled code holds copies of what it calls and of the constants it reads. The library looks only
    whether the file of the function itself has changed; here all of it counts, so that nothing stale is run.
    """
    dispatcher: Any = numba.njit(error_model="numpy")(function)
    # The library raises this where no folder can be written that could keep it.
    with suppress(RuntimeError):
        dispatcher._cache = _Kept(function)
    return cast("F", dispatcher)


def solid(column: npt.ArrayLike, dtype: type[Any] = np.float64) -> npt.NDArray[Any]:
    """Return a column as compiled code takes it: of one type, without holes, as if it could be written.

    Every other kind of array would be compiled for once more. Copies nothing that is solid already, also
    when it is read-only: compiled code writes into nothing that it was given by a front.
    """
    column = np.ascontiguousarray(column, dtype=dtype)
    return column if column.flags.writeable else np.asarray(_Lent(column))


class _Lent:
    """The memory of a read-only array, for an array that does not say so."""

    def __init__(self, column: npt.NDArray[Any]) -> None:
        address = column.__array_interface__["data"][0]
        self.__array_interface__ = column.__array_interface__ | {"data": (address, False)}
        self._column = column


class _Kept(FunctionCache):
    """Compiled code on disk, under a stamp of all that it was made from."""

    def __init__(self, function: Callable[..., Any]) -> None:
        super().__init__(function)  # type: ignore[no-untyped-call]
        self._stamped = False

    def load_overload(self, sig: object, target_context: Any) -> object:
        """Return what was kept, ``None`` when it is missing or damaged."""
        self._look_for_stamp()
        try:
            if numba.__version__.split(".")[:2] not in _TRIED:
                return super().load_overload(sig, target_context)  # type: ignore[no-untyped-call]
            rtsys.initialize(target_context)
            with self._guard_against_spurious_io_errors():
                return self._load_overload(sig, target_context)  # type: ignore[no-untyped-call]
        except (OSError, *_DAMAGED):
            return None

    def save_overload(self, sig: object, data: object) -> None:
        """Keep compiled code, unless the disk is full or cannot be written any more."""
        self._look_for_stamp()
        with suppress(OSError):
            try:
                super().save_overload(sig, data)  # type: ignore[no-untyped-call]
            except _DAMAGED:
                # The list of what is kept was cut short; a new one is begun.
                self.flush()  # type: ignore[no-untyped-call]
                super().save_overload(sig, data)  # type: ignore[no-untyped-call]

    def _look_for_stamp(self) -> None:
        """Take the stamp now, not when the function was made: what it calls may stand below it."""
        if not self._stamped:
            self._cache_file = _StampedFile(  # type: ignore[no-untyped-call]
                cache_path=self._cache_path,
                filename_base=self._impl.filename_base,
                source_stamp=_stamp(self._py_func),
            )
            self._stamped = True


class _StampedFile(IndexDataCacheFile):
    """The list of what is kept of a function, and the kept code, with the stamp in both.

    The library has it in the list alone, which it writes first. Until the code has followed (for good, where
    the process is killed or the disk full), the list would stand for what earlier code left under that name.
    """

    def _save_data(self, name: str, data: object) -> None:
        super()._save_data(name, (self._source_stamp, data))  # type: ignore[no-untyped-call]

    def _load_data(self, name: str) -> object:
        kept = super()._load_data(name)  # type: ignore[no-untyped-call]
        stamp, data = kept if isinstance(kept, tuple) and len(kept) == 2 else (None, None)
        return data if stamp == self._source_stamp else None


def _stamp(function: FunctionType) -> str:
    """Return a digest of a function and all that it calls, with the constants that these read."""
    digest = hashlib.sha256()
    functions = [function]
    for one in functions:
        for part in _parts(one.__code__, one.__globals__):
            if isinstance(part, bytes):
                digest.update(part + b"\0")
            elif part not in functions:
                functions.append(part)
    return digest.hexdigest()


def _parts(code: CodeType, around: dict[str, Any]) -> Iterator[bytes | FunctionType]:
    """Yield what code is made of: instructions, constants, names and what they stand for."""
    yield code.co_code
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            yield from _parts(constant, around)
        else:
            yield repr(constant).encode()
    for name in code.co_names:
        yield name.encode()
        value = around.get(name)
        if isinstance(value, Dispatcher):
            yield value.py_func
        elif isinstance(value, np.ndarray):
            yield value.tobytes()
        elif isinstance(value, bool | int | float | str | tuple):
            yield repr(value).encode()
        elif isinstance(value, type):
            yield repr(getattr(value, "_fields", ())).encode()

"""What every call of the vector library is wrapped in: no network, no lost errors, one kind of refusal."""

from __future__ import annotations

import logging
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager

import fiona
from fiona._err import CPLE_BaseError
from fiona.errors import FionaError, UnsupportedGeometryTypeError

from towzone.errors import InputError, Problem, quoted

__all__ = ["FAILURES", "damaged", "guarded", "plain_geometry", "refused", "said_by", "warned"]

_OFFLINE = {"GDAL_HTTP_PROXY": "127.0.0.1:1", "PROJ_NETWORK": "OFF"}
"""Measured: with an unreachable proxy no request leaves, and nothing waits for one."""
FAILURES = (FionaError, CPLE_BaseError, UnsupportedGeometryTypeError, OSError, ValueError)
"""What reading a damaged file has been seen to raise; the library has no common root for them."""


@contextmanager
def guarded(path: str, what: str) -> Iterator[None]:
    """Turn every failure of the library inside into a refusal of the file.

    Parameters
    ----------
    path : str
        As the user wrote it.
    what : str
        What the file is, as in ``"Shapefile"``.

    Raises
    ------
    InputError
        The library failed, or met an error that it could only print.
    """
    try:
        with fiona.Env(**_OFFLINE), _lost_errors() as lost:
            yield
    except InputError:
        raise
    except FAILURES as error:
        raise damaged(path, what, said_by(error)) from error
    if lost:
        raise damaged(path, what, lost[0])


def said_by(error: BaseException) -> str:
    """Return what a failure is about: the library's own sentence says little, the one behind it does."""
    return str(error.__cause__ or error)


def damaged(path: str, what: str, said: str) -> InputError:
    """Return the refusal of a damaged file with the words of the library."""
    said = re.sub(r"<[^<>]* at 0x[0-9a-f]+>", "", said)
    return refused(path, f"the {what} is damaged or cannot be read: {quoted(said)}. Export it again")


def refused(path: str, message: str) -> InputError:
    """Return the refusal of a whole file."""
    return InputError(path, [Problem("", message)])


def plain_geometry(geometry: object) -> object:
    """Return a geometry as the plain mapping that GeoJSON has."""
    return None if geometry is None else getattr(geometry, "__geo_interface__", geometry)


@contextmanager
def warned() -> Iterator[list[str]]:
    """Collect what the library warns of while it goes on with less, such as an edge that is not there."""
    said: list[str] = []
    handler = _Listener(said)
    logger = logging.getLogger("fiona")
    logger.addHandler(handler)
    try:
        yield said
    finally:
        logger.removeHandler(handler)


class _Listener(logging.Handler):
    """Keeps the text of warnings."""

    def __init__(self, said: list[str]) -> None:
        super().__init__(logging.WARNING)
        self._said = said

    def emit(self, record: logging.LogRecord) -> None:
        self._said.append(" ".join(record.getMessage().split()))


@contextmanager
def _lost_errors() -> Iterator[list[str]]:
    """Collect errors the library cannot raise, because its own error handler failed over them.

    It happens where a damaged file garbles the text of the message; printed and forgotten, the damage
    would go unnoticed.
    """
    lost: list[str] = []
    before = sys.unraisablehook
    sys.unraisablehook = lambda event: lost.append(str(event.exc_value))
    try:
        yield lost
    finally:
        sys.unraisablehook = before

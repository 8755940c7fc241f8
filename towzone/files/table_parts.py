"""A table read in parts: what each part gives, and what its rows settle for the whole of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.errors import InputError, Problem
from towzone.files.csv_head import listed
from towzone.model.track import LeftOut
from towzone.tracks.options import DateOrder
from towzone.tracks.raw import RawTrack, SourceContent

__all__ = ["WHOLE", "Known", "Settled", "TablePart", "disagreement", "joined_parts", "read_whole"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What is known of a table before a part of it is read.

    Parameters
    ----------
    date_order : DateOrder or None
        Of dates in figures, by other parts.
    since_1970 : bool
        Numbers in the column of times are counted from 1970, by other parts.
    without : frozenset of str
        Vessels whose rows are not read, by their names in the column that tells them apart.
    """

    date_order: DateOrder | None = None
    since_1970: bool = False
    without: frozenset[str] = frozenset()


WHOLE = Known()
"""Nothing is known from elsewhere."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """What the rows of a part settle for all of its table.

    Parameters
    ----------
    orders : frozenset of DateOrder
        In which orders day and month stand.
    time_form : str
        What the times are; empty where there is none.
    decimal_mark : str
        Empty where no number has one.
    is_open : bool
        The times of this part can be read in several ways.
    unnamed_line : int
        The first row that does not say which vessel it is of, or 0.
    """

    orders: frozenset[DateOrder] = frozenset()
    time_form: str = ""
    decimal_mark: str = ""
    is_open: bool = False
    unnamed_line: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class TablePart:
    """What a part of a table gave.

    Parameters
    ----------
    content : SourceContent or None
        ``None`` where the part is open or refused.
    settled : Settled
    refused : InputError or None
        Why it cannot be read.
    vessels : tuple of str
        All vessels with rows in it, by the names that tell them apart, in order of their first rows; an
        empty one for rows that name none.
    suspects : mapping of str to str, or None
        Vessels that have rows with something wrong, and what it is; ``None`` where a row cannot be told to be
        a vessel's.
    seen : tuple of str
        Names met on the way, those of vessels left aside, too.
    """

    content: SourceContent | None
    settled: Settled
    refused: InputError | None = None
    vessels: tuple[str, ...] = ()
    suspects: Mapping[str, str] | None = None
    seen: tuple[str, ...] = ()


def disagreement(file: str, parts: Sequence[Settled], *, named: bool) -> InputError | None:
    """Return why the parts of a table cannot be of one table, if they cannot.

    Parameters
    ----------
    file : str
    parts : sequence of Settled
        Of all of its parts.
    named : bool
        Whether any of its rows says which vessel it is of.
    """
    problems = []
    if len({order for part in parts for order in part.orders}) > 1:
        message = (
            "its dates do not have day and month in one order; write YYYY-MM-DD, or state the order with"
            " --date-order once they do"
        )
        problems.append(Problem("", message))
    forms = sorted({part.time_form for part in parts} - {""})
    if len(forms) > 1:
        problems.append(
            Problem("", f"its times are of several forms ({', '.join(forms)}); write one of them")
        )
    if len({part.decimal_mark for part in parts} - {""}) > 1:
        problems.append(
            Problem("", "its numbers have points and commas for a decimal mark; write one of them")
        )
    unnamed = min((part.unnamed_line for part in parts if part.unnamed_line), default=0)
    if unnamed and named:
        message = "the row does not say which vessel it is of, as others do; fill it in, or leave it out"
        problems.append(Problem(f"line {unnamed}", message))
    return InputError(file, problems) if problems else None


def joined_parts(raws: Sequence[RawTrack]) -> RawTrack:
    """Return the fixes of one vessel in parts of one table as one raw track, the parts one after the other.

    Parameters
    ----------
    raws : sequence of RawTrack
        Of one file, name and vessel, in the order of the parts; not empty.
    """
    if len(raws) == 1:
        return raws[0]
    first = raws[0]
    roles = dict.fromkeys(role for raw in raws for role in raw.readings)
    left_out = [some for raw in raws for some in raw.left_out]
    count = sum(map(len, raws))
    return RawTrack(
        file=first.file,
        name=first.name,
        lon_deg=np.concatenate([raw.lon_deg for raw in raws]),
        lat_deg=np.concatenate([raw.lat_deg for raw in raws]),
        time_us=np.concatenate([raw.time_us for raw in raws]),
        line=np.concatenate([raw.line for raw in raws]),
        bounds=((0, count),) if count else (),
        vessel=first.vessel,
        readings={role: np.concatenate([_reading(raw, role) for raw in raws]) for role in roles},
        left_out=tuple(_left_out(left_out, reason) for reason in dict.fromkeys(s.reason for s in left_out)),
        resolution_m=max(raw.resolution_m for raw in raws),
        any_order=first.any_order,
    )


def _reading(raw: RawTrack, role: str) -> npt.NDArray[np.float32]:
    column = raw.readings.get(role)
    return np.full(len(raw), np.nan, dtype=np.float32) if column is None else column


def _left_out(some: Sequence[LeftOut], reason: str) -> LeftOut:
    mine = [one for one in some if one.reason == reason]
    return LeftOut(
        reason=reason,
        file=mine[0].file,
        line=np.concatenate([one.line for one in mine]),
        time_utc=np.concatenate([one.time_utc for one in mine]),
        lon_deg=np.concatenate([one.lon_deg for one in mine]),
        lat_deg=np.concatenate([one.lat_deg for one in mine]),
    )


def read_whole(asked: Sequence[str]) -> str:
    """Return the remark on a table that names no vessel, where some were asked for."""
    why = "the file does not say which vessel it is of, so that all of it was read"
    return f"asked for {listed(sorted(asked))}; {why}"

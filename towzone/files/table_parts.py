"""A table read in parts: what each part gives, and what its rows settle for the whole of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from towzone.errors import InputError, Problem
from towzone.tracks.options import DateOrder
from towzone.tracks.raw import SourceContent

__all__ = ["WHOLE", "Known", "Settled", "TablePart", "disagreement"]


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
    suspects : frozenset of str, or None
        Vessels that have rows with something wrong; ``None`` where rows cannot be told to be a vessel's.
    """

    content: SourceContent | None
    settled: Settled
    refused: InputError | None = None
    vessels: tuple[str, ...] = ()
    suspects: frozenset[str] | None = None


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

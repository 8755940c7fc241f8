"""What a person should look at, on standard error."""

from __future__ import annotations

from collections.abc import Iterable

import click

from towzone.model.result import CheckResult, Remark
from towzone.tables.cells import plain
from towzone.tables.screen import trip_lines

__all__ = ["print_remarks", "print_trip"]


def print_remarks(remarks: Iterable[Remark]) -> None:
    """Print remarks, one to a line, with file and place."""
    for remark in remarks:
        click.echo(
            plain(": ".join(p for p in ("note", remark.file, remark.where, remark.message) if p)), err=True
        )


def print_trip(result: CheckResult) -> None:
    """Print what a table of rows or tows has no place for: doubts, disagreements, shots."""
    for line in trip_lines(result):
        if line:
            click.echo(line, err=True)

"""What a person should look at, on standard error."""

from __future__ import annotations

from collections.abc import Iterable

import click

from towzone.model.result import Remark
from towzone.tables.cells import plain

__all__ = ["print_remarks"]


def print_remarks(remarks: Iterable[Remark]) -> None:
    """Print remarks, one to a line, with file and place."""
    for remark in remarks:
        place = ": ".join(part for part in (remark.file, remark.where) if part)
        click.echo(plain(f"note: {place}: {remark.message}"), err=True)

"""Options on output, its delivery and exit codes that several commands share."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, TypeVar

import click

from towzone.checks.settings import GearProof
from towzone.cli.options import LENGTH
from towzone.files.outputs import check_writable, write_all
from towzone.geodesy.lines import LineKind

__all__ = [
    "STREAM",
    "area_options",
    "deliver",
    "edges_option",
    "exit_codes",
    "exit_zero_option",
    "format_option",
    "gear_proof_option",
    "output_options",
    "zone_options",
]

STREAM = "-"
_Command = TypeVar("_Command", bound=Callable[..., Any])


def exit_codes(zero: str, one: str = "", four: str = "") -> str:
    """Return the exit codes of a command for its help."""
    lines = {0: zero, 1: one, 2: "the command line makes no sense"}
    lines |= {3: "a file could not be read, was refused, or could not be written", 4: four}
    lines |= {70: "a fault in towzone itself", 130: "interrupted", 141: "the reader of the output went away"}
    return "\b\nExit codes:\n" + "\n".join(f"  {code:<4} {text}" for code, text in lines.items() if text)


def format_option(*forms: str) -> Callable[[_Command], _Command]:
    """Return the option ``--format`` for a choice of forms, the first one the default."""
    return click.option(
        "--format",
        "form",
        type=click.Choice(forms),
        default=forms[0],
        show_default=True,
        help="Form of the result on standard output.",
    )


def exit_zero_option(command: _Command) -> _Command:
    """Add ``--exit-zero``."""
    return click.option(
        "--exit-zero", is_flag=True, help="Exit with 0 whatever was found; errors keep their codes."
    )(command)


def gear_proof_option(command: _Command) -> _Command:
    """Add ``--gear-proof`` as it is for completed tracks."""
    return click.option(
        "--gear-proof",
        type=click.Choice([proof.value for proof in GearProof]),
        default=GearProof.ROPE.value,
        show_default=True,
        help="What proves the gear clear: the length of its rope alone, or the model of its path.",
    )(command)


_ZONES = click.option(
    "--zones",
    "zone_files",
    multiple=True,
    required=True,
    metavar="FILE",
    help="Zone file: GeoJSON, GeoPackage, Shapefile or FlatGeobuf. May be given again.",
)
_MARGIN = click.option("--margin", type=LENGTH, help="Required clearance; overrides every zone's own.")
_LEGS = click.option(
    "--legs",
    type=click.Choice(["rhumb", "geodesic"]),
    default="rhumb",
    show_default=True,
    help="How the corners of a planned line are joined.",
)
_REACH = click.option(
    "--reach",
    type=LENGTH,
    default="5nmi",
    show_default=True,
    help="Zones proved clear beyond this are counted, not listed.",
)


def edges_option(command: _Command) -> _Command:
    """Add ``--edges``."""
    return click.option(
        "--edges",
        type=click.Choice([kind.value for kind in LineKind]),
        help="How corners are joined, for zones that do not say.",
    )(command)


def area_options(command: _Command) -> _Command:
    """Add what completed tracks are held against: ``--zones --margin --edges --reach``."""
    return _ZONES(_MARGIN(edges_option(_REACH(command))))


def zone_options(command: _Command) -> _Command:
    """Add what lines and tracks are held against, and how: ``--zones --margin --edges --legs --reach``."""
    return _ZONES(_MARGIN(edges_option(_LEGS(_REACH(command)))))


def output_options(command: _Command) -> _Command:
    """Add ``-o`` and ``--force``."""
    command = click.option("--force", is_flag=True, help="Replace a file that exists.")(command)
    return click.option(
        "-o",
        "--output",
        metavar="FILE",
        default=STREAM,
        help="Write the result to a file instead of standard output (-).",
    )(command)


def deliver(make: Callable[[], str], output: str, *, force: bool, read: Sequence[str] = ()) -> None:
    """Make a text and write it to a file or to standard output; nothing is made for a file that may not be.

    Raises
    ------
    OutputError
        The file exists, is one of those read, or cannot be written.
    """
    if output == STREAM:
        click.echo(make(), nl=False)
        return
    check_writable(Path(output), force=force, read=read)
    write_all({Path(output): make()})

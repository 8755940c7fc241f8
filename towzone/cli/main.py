"""The commands by name, and what becomes of every error."""

from __future__ import annotations

import io
import os
import sys
import traceback
from collections.abc import Sequence

import click

from towzone import __version__
from towzone.caution import CAUTION
from towzone.cli.lazy import LazyGroup
from towzone.errors import TowzoneError, UsageError
from towzone.files.outputs import UNENCODABLE

__all__ = ["main", "run"]

_COMMANDS = {
    "check": ("towzone.cli.check", "Check planned routes and completed tracks against zones."),
    "plan": ("towzone.cli.plan", "Plan a tow: times, clearances, what to alter, a line that is clear."),
    "fleet": ("towzone.cli.fleet", "Audit many vessels, of positions that need not fit into memory."),
    "tows": ("towzone.cli.tows", "List the tows in a trip, ready for the logbook."),
    "zones": ("towzone.cli.zones", "Look at, check, make and compare zone files."),
    "verify": ("towzone.cli.verify", "Tell whether a record is unchanged, and its answer follows again."),
    "vessel": ("towzone.cli.vessel", "Write a vessel profile to fill in."),
    "demo": ("towzone.cli.demo", "Run the main job on the invented samples."),
}

EXIT_CODES = """\b
Exit codes:
  0    checked completely, clear
  1    at least one finding
  2    the command line makes no sense
  3    a file could not be read, was refused, or could not be written
  4    no finding, but something is undetermined
  70   a fault in towzone itself
  130  interrupted
  141  the reader of the output went away"""


@click.group(
    cls=LazyGroup,
    modules=_COMMANDS,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog=f"{EXIT_CODES}\n\n{CAUTION}",
)
@click.version_option(__version__, "-V", "--version", message="towzone %(version)s")
def cli() -> None:
    """Did the tow keep clear? Clearances of tows from zones, exact and offline.

    \b
    Examples:
      towzone demo
      towzone check planned.gpx --zones zones.geojson --record planned.html
    """


def run() -> None:
    """Run the program and leave with its exit code."""
    if sys.stdout is None:
        sys.exit(3)  # nowhere to write the result to
    for stream in (sys.stdout, sys.stderr):
        # The result is UTF-8 whatever the terminal; half characters from names are written as codes.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(encoding="utf-8", errors=UNENCODABLE)
    sys.exit(main(sys.argv[1:]))


def main(arguments: Sequence[str]) -> int:
    """Run the program on arguments and return the exit code; messages go to standard error.

    The one place where every kind of failure is told apart: a crash must never look like a verdict.
    """
    try:
        code = cli.main(list(arguments), prog_name="towzone", standalone_mode=False)
        sys.stdout.flush()
    except click.exceptions.Abort:
        return _said("interrupted; nothing was written", 130)
    except click.UsageError as error:
        error.show()
        return 2
    except UsageError as error:
        return _said(f"error: {error}", 2)
    except (BrokenPipeError, SystemExit):
        # For a closed pipe click itself leaves with code 1, which would look like a finding.
        _give_up_output()
        return 141
    except (TowzoneError, OSError, click.ClickException) as error:
        try:
            sys.stdout.flush()
        except OSError:
            _give_up_output()
        return _said(f"error: {error}", 3)
    except KeyboardInterrupt:
        return _said("interrupted; nothing was written", 130)
    except Exception:  # noqa: BLE001  the last resort: report a fault of our own as exactly that
        return _said(f"{traceback.format_exc()}towzone has a fault; please report the lines above", 70)
    return int(code or 0)


def _give_up_output() -> None:
    """Let what is left of standard output go nowhere: Python flushes it once more on its way out."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _said(message: str, code: int) -> int:
    click.echo(message, err=True)
    return code

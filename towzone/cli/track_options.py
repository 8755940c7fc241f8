"""Options on tracks and towing that several commands share, and the request made of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

import click

from towzone.checks.settings import CheckSettings, MoveOnRule, Towing
from towzone.cli.check_request import CheckRequest
from towzone.cli.options import DAY, DURATION, LENGTH, SPEED, TIME_ZONE
from towzone.errors import UsageError, quoted
from towzone.tracks.options import DateOrder, ReadingOptions

__all__ = ["many_tracks_options", "request_of", "track_options"]

_Command = TypeVar("_Command", bound=Callable[..., Any])

_STATED = (Towing.DETECT, Towing.ALL, Towing.NONE)

_POSITION_ERROR = click.option(
    "--position-error",
    type=LENGTH,
    help="How far positions may be from the truth.  [default: the vessel's, else 15m]",
)
_GAP = click.option(
    "--gap",
    type=DURATION,
    default="15min",
    show_default=True,
    help="Longest time between fixes that counts as sailed straight.",
)
_MAX_SPEED = click.option(
    "--max-speed",
    type=SPEED,
    help="Fastest the vessel can go; bounds where it was in a gap.  [default: the vessel's, else 12kn]",
)
_TRACK_TZ = click.option(
    "--track-tz", type=TIME_ZONE, help="Time zone of track times that state none (else UTC)."
)
_DATE_ORDER = click.option(
    "--date-order",
    type=click.Choice([order.value for order in DateOrder]),
    help="Whether dates such as 03/04/2026 begin with the day or the month.",
)
_ONLY = click.option(
    "--only",
    multiple=True,
    metavar="VESSEL",
    help="Vessel to read from a file of many: MMSI or name. May be given again.",
)

_OF_ONE = (
    click.option(
        "--vessel", "vessel_file", metavar="FILE.toml", help="Profile of the vessel: gear, speeds, margins."
    ),
    _POSITION_ERROR,
    _GAP,
    _MAX_SPEED,
    click.option(
        "--towing",
        metavar="detect|all|none|FILE.csv",
        default="detect",
        show_default=True,
        help="What counts as towing on a completed track: what its speeds show, all that moves, none of it, "
        "or what a haul log says.",
    ),
    click.option("--move-on", type=LENGTH, help="How far from one tow every later one must be shot."),
    click.option("--from-tow", type=click.IntRange(min=1), help="Number of that tow; needs --move-on."),
    _TRACK_TZ,
    _DATE_ORDER,
    click.option("--date", "day", type=DAY, help="Day (UTC) on which a log without dates begins."),
    click.option("--year", type=click.IntRange(1980, 2099), help="Year in which a wrongly dated log begins."),
    click.option("--receiver", metavar="NAME", help="Which receiver of a log to use, such as GP."),
    _ONLY,
)

_OF_MANY = (_POSITION_ERROR, _GAP, _MAX_SPEED, _TRACK_TZ, _DATE_ORDER, _ONLY)


def track_options(command: _Command) -> _Command:
    """Add the options on tracks and towing to a command."""
    return _added(command, _OF_ONE)


def many_tracks_options(command: _Command) -> _Command:
    """Add those of the options on tracks that hold for the positions of many vessels alike."""
    return _added(command, _OF_MANY)


def _added(command: _Command, options: Sequence[Callable[[_Command], _Command]]) -> _Command:
    for option in reversed(options):
        command = option(command)
    return command


def _names_a_file(text: str) -> bool:
    """Return whether a word is meant as a file: it is one, or looks like one that is missing."""
    return Path(text).exists() or any(mark in text for mark in "./\\")


def request_of(given: dict[str, Any], settings: CheckSettings) -> CheckRequest:
    """Return what is to be read and checked, from the parameters of a command.

    Parameters
    ----------
    settings : CheckSettings
        What the command's own options say.

    Raises
    ------
    UsageError
        Options that belong together are not given together.
    """
    stated = next((towing for towing in _STATED if towing.value == given["towing"]), None)
    if stated is None and not _names_a_file(given["towing"]):
        message = f"--towing: {quoted(given['towing'])} is neither detect, all or none, nor a file"
        raise UsageError(message)
    if (given["move_on"] is None) != (given["from_tow"] is None):
        message = "--move-on and --from-tow belong together: give both or neither"
        raise UsageError(message)
    move_on = None
    if given["move_on"] is not None:
        move_on = MoveOnRule(distance_m=given["move_on"], from_tow=given["from_tow"])
    return CheckRequest(
        tracks=given["tracks"],
        settings=replace(settings, gap_s=given["gap"], towing=stated or Towing.DETECT, move_on=move_on),
        vessel_file=given["vessel_file"],
        haul_log=given["towing"] if stated is None else None,
        position_error_m=given["position_error"],
        max_speed_kn=given["max_speed"],
        reading=ReadingOptions(
            track_tz=given["track_tz"],
            date_order=DateOrder(given["date_order"]) if given["date_order"] else None,
            day=given["day"],
            year=given["year"],
            receiver=given["receiver"],
            only=given["only"],
        ),
        local_tz=given["local_tz"].key if given["local_tz"] is not None else None,
    )

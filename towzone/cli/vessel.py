"""``towzone vessel``: a vessel profile to fill in."""

from __future__ import annotations

import click

from towzone.caution import CAUTION
from towzone.cli.shared_options import deliver, exit_codes, output_options
from towzone.files.vessel_template import vessel_template

__all__ = ["command"]


@click.command(name="vessel", epilog=f"{exit_codes('the profile was written')}\n\n{CAUTION}")
@click.option(
    "--gear",
    metavar="CODE",
    default="OTB",
    show_default=True,
    help="Code of the gear: OTB a bottom otter trawl, OTT a twin rig, TBB beam trawls, and so on.",
)
@output_options
def command(gear: str, output: str, *, force: bool) -> int:
    """Write a vessel profile to fill in, for the option --vessel (to a file: -o vessel.toml).

    Every figure of the vessel and its gear is explained: what it is, how to measure it, what is taken if it
    is left out. No figure counts before you take away the # in front of it.

    \b
    Examples:
      towzone vessel
      towzone vessel --gear OTT
    """
    deliver(lambda: vessel_template(gear.strip().upper()), output, force=force)
    return 0

"""``towzone zones lint``: what is wrong with zone files, or may be."""

from __future__ import annotations

from datetime import date

import click

from towzone.caution import CAUTION
from towzone.cli.options import DAY
from towzone.cli.shared_options import (
    deliver,
    edges_option,
    exit_codes,
    exit_zero_option,
    format_option,
    output_options,
)
from towzone.files.zones import ZoneSurvey, survey_zones
from towzone.geodesy.lines import LineKind
from towzone.surveys.defects import Defect, Severity
from towzone.surveys.lint import file_notes, in_order, lint, refusals
from towzone.tables.zone_lint import lint_to_json, lint_to_text

__all__ = ["command"]

_CODES = exit_codes(
    "nothing wrong; there may be notes",
    "something is refused, or misleads",
    "nothing worse than doubts, which a person should compare with the notice",
)


@click.command(name="lint", epilog=f"{_CODES}\n\n{CAUTION}")
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@click.option("--on", type=DAY, help="Tell which zones have expired, or are not yet valid, on that day.")
@edges_option
@format_option("text", "json")
@output_options
@exit_zero_option
@click.option("-v", "--verbose", is_flag=True, help="List every defect, however often it comes.")
def command(
    files: tuple[str, ...],
    on: date | None,
    edges: str | None,
    form: str,
    output: str,
    *,
    force: bool,
    exit_zero: bool,
    verbose: bool,
) -> int:
    """Tell what is wrong with zone files, or may be, with zone, corner and position.

    \b
    refused   no command uses the file until this is mended
    misleads  the file is used, but most likely says something else than meant
    doubt     compare this with the notice
    note      worth knowing; nothing need be wrong

    Zones of all files are compared with each other. No date is looked at unless --on gives one.

    \b
    Examples:
      towzone zones lint sample_zones/greywether_bank.geojson
      towzone zones lint sample_zones/greywether_bank.geojson --on 2026-05-12 --format json
    """
    found: list[Defect] = []

    def make() -> str:
        surveys = [survey_zones(path, default_edges=LineKind(edges) if edges else None) for path in files]
        found.extend(_defects(surveys, on))
        zones = _count(surveys, found)
        if form == "json":
            return lint_to_json(found, zones, on, [survey.input for survey in surveys])
        return lint_to_text(found, zones, list(files), verbose=verbose)

    deliver(make, output, force=force, read=files)
    return 0 if exit_zero else _exit_code(found)


def _defects(surveys: list[ZoneSurvey], on: date | None) -> tuple[Defect, ...]:
    refused = [
        defect
        for survey in surveys
        for defect in refusals(survey.input.file, survey.problems, survey.candidates)
    ]
    candidates = [candidate for survey in surveys for candidate in survey.candidates]
    notes = [note for survey in surveys for note in file_notes(survey.remarks)]
    return in_order([*notes, *refused, *lint(candidates, on=on)])


def _count(surveys: list[ZoneSurvey], found: list[Defect]) -> int:
    """Return how many features there are: those with a shape, and those refused for having none."""
    features = {(c.file, c.feature) for survey in surveys for c in survey.candidates}
    features |= {(defect.file, defect.feature) for defect in found if defect.feature is not None}
    return len(features)


def _exit_code(defects: list[Defect]) -> int:
    severities = {defect.severity for defect in defects}
    if severities & {Severity.REFUSED, Severity.MISLEADS}:
        return 1
    return 4 if Severity.DOUBT in severities else 0

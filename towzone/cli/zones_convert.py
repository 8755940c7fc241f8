"""``towzone zones convert``: notices and files of other kinds to a zone file."""

from __future__ import annotations

import calendar
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import click

from towzone.caution import CAUTION
from towzone.cli.options import LENGTH, SPEED
from towzone.errors import InputError, Problem, UsageError, quoted
from towzone.files.inputs import load, name_stem
from towzone.files.outputs import check_writable, write_all
from towzone.files.zone_writer import to_zone_file
from towzone.geodesy.lines import LineKind
from towzone.model.draft import Converted
from towzone.model.zone import Prohibition, ZoneKind
from towzone.notices.convert import MOST_CHARACTERS, convert_notice
from towzone.notices.drafts import FORMS
from towzone.tables.screen import plain

__all__ = ["command"]

_STREAM = "-"
_OPEN = 4
_SHOWN_QUESTIONS = 100
_SEASON = re.compile(r"(\d\d)-(\d\d|END)\.\.(\d\d)-(\d\d|END)", re.ASCII)
_DATE = re.compile(r"\d{4}-\d\d-\d\d(T\d\d:\d\d(:\d\d)?(Z|[+-]\d\d:\d\d)?)?", re.ASCII)

_EXIT_CODES = """\b
Exit codes:
  0    the zone file was written
  2    the command line makes no sense
  3    the text was refused, or a file could not be read or written
  4    questions are open; nothing was written
  70   a fault in towzone itself"""


def _properties(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that become properties of every zone written."""
    options = [
        click.option("--kind", type=click.Choice([k.value for k in ZoneKind]), help="What lies there."),
        click.option(
            "--edges", type=click.Choice([k.value for k in LineKind]), help="How corners are joined."
        ),
        click.option(
            "--season",
            multiple=True,
            metavar="MM-DD..MM-DD",
            help="In force each year; END for the last of February.",
        ),
        click.option("--valid-from", metavar="DATE", help="First day or instant in force."),
        click.option("--valid-until", metavar="DATE", help="Last day or instant in force."),
        click.option("--time-zone", metavar="NAME", help="IANA zone in which dates are meant."),
        click.option("--gears", metavar="CODES", help="Gear codes covered, parted by commas."),
        click.option("--except-gears", metavar="CODES", help="Gear codes spared."),
        click.option(
            "--prohibits", metavar="WORDS", help="entry, fishing, bottom_contact, parted by commas."
        ),
        click.option("--margin", metavar="LENGTH", help="Required clearance, such as 0.25nmi."),
        click.option(
            "--radius", metavar="LENGTH", help="The zone is all within this distance, such as 500m."
        ),
        click.option("--transit-min-speed", metavar="SPEED", help="Crossing must keep this, such as 6kn."),
        click.option("--allowed-only-inside", is_flag=True, help="The rule is the other way round."),
        click.option("--source", help="Citation of the notice."),
        click.option("--issued", metavar="DATE", help="Date of the notice."),
        click.option("--note", help="Free text."),
        click.option("--name", help="Name; before the headings when there are several areas."),
        click.option("--id", "zone_id", help="Zone id; numbered when there are several areas."),
    ]
    for option in reversed(options):
        function = option(function)
    return function


@click.command(name="convert", epilog=f"{_EXIT_CODES}\n\n{CAUTION}")
@click.argument("text", metavar="TEXT")
@click.option(
    "--from",
    "source_form",
    type=click.Choice(["notice", "rectangles", "chart", "file"]),
    required=True,
    help="What TEXT is.",
)
@_properties
@click.option(
    "--order",
    "--lonlat-order",
    "order",
    type=click.Choice(["lat-lon", "lon-lat"]),
    help="Which comes first where coordinates have no letters.",
)
@click.option("--shape", "form", type=click.Choice(FORMS), help="What the corners make.")
@click.option(
    "--answer", "answers", multiple=True, metavar="N=VALUE", help="Answer to question N of the run before."
)
@click.option(
    "-o", "--output", "output_file", metavar="FILE", default=_STREAM, help="Write to a file instead of -."
)
@click.option("--force", is_flag=True, help="Replace a file that exists.")
@click.option("-q", "--quiet", is_flag=True, help="No echo and no remarks; questions are always told.")
@click.pass_context
def command(context: click.Context, /, **_: object) -> int:
    """Make a zone file from a published notice, or from a file of another kind.

    TEXT is a file, or - for standard input. What was read is told on standard error, point by point
    beside its line, to be compared with the notice; what is doubtful is asked, and nothing is written
    before every question is answered.

    \b
    Examples:
      towzone zones convert --from notice notice.txt --kind closed_area -o zones.geojson
      towzone zones convert --from notice - --kind cable --shape line --edges rhumb --answer 1=west
    """
    given = context.params
    output = None if given["output_file"] == _STREAM else Path(given["output_file"])
    if output is not None:
        check_writable(output, force=given["force"])
    converted = _converted(given)
    if not given["quiet"]:
        _tell(converted)
    if converted.questions:
        _tell_questions(converted)
        return _OPEN
    text, read = to_zone_file(converted.drafts, str(output or "the zone file"))
    if not given["quiet"]:
        for remark in read.remarks:
            _say(f"note: {remark.where}: {remark.message}")
    if output is None:
        click.echo(text, nl=False)
    else:
        write_all({output: text})
        if not given["quiet"]:
            _say(f"{output}: {len(read.zones)} zone{'' if len(read.zones) == 1 else 's'} written")
    return 0


def _converted(given: Mapping[str, Any]) -> Converted:
    properties = _given_properties(given)
    if given["source_form"] == "notice":
        text, remarks = _read_text(given["text"])
        converted = convert_notice(
            text,
            properties,
            order=given["order"],
            form=given["form"],
            answers=_answers(given["answers"]),
            file=given["text"],
            stem=name_stem(given["text"]),
        )
        return Converted(
            drafts=converted.drafts,
            echoes=converted.echoes,
            questions=converted.questions,
            remarks=(*remarks, *converted.remarks),
        )
    message = f"--from {given['source_form']} is not there yet"
    raise UsageError(message)


def _read_text(path: str) -> tuple[str, list[tuple[str, str]]]:
    """Return the text of a file and what was taken for granted of its encoding."""
    data = load(path).data
    if len(data) > 4 * MOST_CHARACTERS:
        raise InputError(
            path, [Problem("", f"larger than {4 * MOST_CHARACTERS} bytes; give the part with the list")]
        )
    remark: list[tuple[str, str]] = []
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        encoding = "utf-16"
    else:
        try:
            return data.decode("utf-8-sig"), []
        except UnicodeDecodeError:
            encoding = "cp1252"
            remark = [
                ("", "the text is not UTF-8; it was read as Windows-1252, compare degree marks and names")
            ]
    try:
        return data.decode(encoding), remark
    except UnicodeDecodeError as error:
        message = f"byte {error.start} cannot be read as {encoding}; save the text as UTF-8"
        raise InputError(path, [Problem("", message)]) from error


def _given_properties(given: Mapping[str, Any]) -> dict[str, object]:
    """Return the zone properties of the options, by the names they have in a zone file."""
    properties: dict[str, object] = {}
    for name in ("zone_id", "name", "kind", "edges"):
        if given[name]:
            properties[name] = given[name]
    if given["prohibits"]:
        properties["prohibits"] = _words(given["prohibits"], "--prohibits", [p.value for p in Prohibition])
    for name in ("gears", "except_gears"):
        if given[name]:
            properties[name] = _words(given[name], f"--{name.replace('_', '-')}", None)
    if given["season"]:
        properties["season"] = [_season(text) for text in given["season"]]
    for name in ("valid_from", "valid_until"):
        if given[name]:
            properties[name] = _date(given[name], f"--{name.replace('_', '-')}")
    for name in ("margin", "radius"):
        if given[name]:
            LENGTH.convert(given[name], None, None)
            properties[name] = given[name]
    if given["transit_min_speed"]:
        SPEED.convert(given["transit_min_speed"], None, None)
        properties["transit_min_speed"] = given["transit_min_speed"]
    if given["allowed_only_inside"]:
        properties["allowed_only_inside"] = True
    for name in ("time_zone", "source", "issued", "note"):
        if given[name]:
            properties[name] = given[name]
    return properties


def _words(text: str, option: str, allowed: list[str] | None) -> list[str]:
    words = [word.strip() for word in text.split(",") if word.strip()]
    wrong = [word for word in words if allowed is not None and word not in allowed]
    if wrong or not words:
        found = quoted(wrong[0]) if wrong else "nothing"
        message = f"{option} has {found}; allowed are {', '.join(allowed or ['codes parted by commas'])}"
        raise UsageError(message)
    return words


def _season(text: str) -> dict[str, str]:
    match = _SEASON.fullmatch(text)
    if match is None:
        message = f"--season {quoted(text)}: write for example 10-01..01-31 or 12-01..02-END"
        raise UsageError(message)
    return {"from": _month_day(match[1], match[2], text), "to": _month_day(match[3], match[4], text)}


def _month_day(month: str, day: str, text: str) -> str:
    number = int(month)
    # A leap year, so that 29 February is a day.
    longest = calendar.monthrange(2024, number)[1] if 1 <= number <= 12 else 0
    sound = (day == "END" and number == 2) or (day != "END" and 1 <= int(day) <= longest)
    if not sound:
        message = f"--season {quoted(text)}: there is no such day in a year"
        raise UsageError(message)
    return f"--{month}-{day}"


def _date(text: str, option: str) -> str:
    if not _DATE.fullmatch(text):
        message = f"{option} {quoted(text)}: write for example 2026-05-31 or 2026-05-31T12:00Z"
        raise UsageError(message)
    return text


def _answers(given: tuple[str, ...]) -> dict[int, str]:
    answers: dict[int, str] = {}
    for text in given:
        number, equals, value = text.partition("=")
        if not equals or not number.strip().isdecimal() or len(number) > 9 or not value.strip():
            message = (
                f"--answer {quoted(text)}: write the number of the question and the answer, as in 2=west"
            )
            raise UsageError(message)
        if int(number) in answers:
            message = f"--answer {int(number)} is given twice"
            raise UsageError(message)
        answers[int(number)] = value.strip()
    return answers


def _tell(converted: Converted) -> None:
    for echo in converted.echoes:
        words = f"  '{' '.join(echo.words.split())}'" if echo.words else ""
        _say(f"{echo.where}:{words}  ->  {echo.read}")
    for where, message in converted.remarks:
        _say(f"note: {where}: {message}" if where else f"note: {message}")


def _tell_questions(converted: Converted) -> None:
    for question in converted.questions[:_SHOWN_QUESTIONS]:
        place = f"{question.where}: " if question.where else ""
        _say(f"question {question.number}: {place}{question.text}")
        _say(f"  answer with --answer {question.number}=VALUE, VALUE being {' or '.join(question.answers)}")
    hidden = len(converted.questions) - _SHOWN_QUESTIONS
    if hidden > 0:
        _say(f"and {hidden} more questions")
    _say("Nothing was written: questions are open.")


def _say(message: str) -> None:
    click.echo(plain(message), err=True)

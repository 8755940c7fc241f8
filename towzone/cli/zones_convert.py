"""``towzone zones convert``: notices and files of other kinds to a zone file."""

from __future__ import annotations

import calendar
import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from towzone.caution import CAUTION
from towzone.cli.shared_options import STREAM, deliver, exit_codes, output_options
from towzone.errors import InputError, Problem, UsageError, quoted
from towzone.files.inputs import load, name_stem
from towzone.files.outputs import check_writable
from towzone.files.properties import read_properties
from towzone.files.rectangle_lists import convert_rectangles
from towzone.files.zone_writer import to_zone_file
from towzone.geodesy.lines import LineKind
from towzone.model.draft import Converted
from towzone.model.zone import ZoneKind
from towzone.notices.convert import MOST_CHARACTERS, convert_notice
from towzone.notices.drafts import FORMS
from towzone.tables.cells import plain

__all__ = ["command"]

_OPEN = 4
_SHOWN_QUESTIONS = 100
_SEASON = re.compile(r"(\d\d)-(\d\d|END)\.\.(\d\d)-(\d\d|END)", re.ASCII)
_PLAIN = (
    "zone_id", "name", "kind", "edges", "valid_from", "valid_until", "time_zone", "margin", "radius",
    "transit_min_speed", "source", "issued", "note",
)  # fmt: skip
_FOR_NOTICES = ("order", "form")
_FOR_FILES = ("layer", "columns", "crs", "encoding")


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
            help="In force each year; 02-END is the last of February.",
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
        click.option("--allowed-only-inside", is_flag=True, help="What is prohibited is prohibited outside."),
        click.option("--source", help="Citation of the notice."),
        click.option("--issued", metavar="DATE", help="Date of the notice."),
        click.option("--note", help="Free text."),
        click.option("--name", help="Name; before the headings when there are several areas."),
        click.option("--id", "zone_id", help="Zone id; numbered when there are several areas."),
    ]
    for option in reversed(options):
        function = option(function)
    return function


_EXIT_CODES = exit_codes("the zone file was written", four="questions are open; nothing was written")


@click.command(name="convert", epilog=f"{_EXIT_CODES}\n\n{CAUTION}")
@click.argument("text", metavar="FILE")
@click.option(
    "--from",
    "source_form",
    type=click.Choice(["notice", "rectangles", "chart", "file"]),
    required=True,
    help="What FILE holds: coordinates as published, a list of rectangles, a chart cell, a vector file.",
)
@_properties
@click.option(
    "--order",
    "--lonlat-order",
    "order",
    type=click.Choice(["lat-lon", "lon-lat"]),
    help="Notices: which comes first where coordinates have no letters.",
)
@click.option("--shape", "form", type=click.Choice(FORMS), help="Notices: what the corners make.")
@click.option("--layer", help="Vector files: the only layer wanted.")
@click.option(
    "--column",
    "columns",
    multiple=True,
    metavar="PROPERTY=COLUMN",
    help="Vector files: the column a zone property is read from.",
)
@click.option("--crs", help="Vector files: reference system of a file that states none, such as EPSG:4230.")
@click.option("--encoding", help="Vector files: character encoding of a Shapefile.")
@click.option(
    "--answer",
    "answers",
    multiple=True,
    metavar="N=VALUE",
    help="Answer to question N; keep those given before.",
)
@output_options
@click.option("-q", "--quiet", is_flag=True, help="No echo and no remarks; questions are always told.")
@click.pass_context
def command(context: click.Context, /, **_: object) -> int:
    """Make a zone file from a published notice, or from a file of another kind.

    For notices and rectangles, FILE may be - for standard input. What was read is told on standard error,
    point by point beside its line, to be compared with the notice; what is doubtful is asked, and nothing is
    written before every question is answered.

    \b
    Examples:
      towzone zones convert --from notice notice.txt --kind closed_area --edges rhumb -o zones.geojson
      towzone zones convert --from notice - --kind cable --edges rhumb --answer 1=west
      towzone zones convert --from rectangles list.txt --kind closed_area
    """
    given = context.params
    if given["output"] != STREAM:
        read = [given["text"]] if given["text"] != STREAM else []
        check_writable(Path(given["output"]), force=given["force"], read=read)
    converted = _converted(given)
    if not given["quiet"]:
        _tell(converted)
    if converted.questions:
        _tell_questions(converted)
        return _OPEN
    text, back = to_zone_file(converted.drafts, "the zone file to be written")
    deliver(lambda: text, given["output"], force=given["force"])
    if not given["quiet"]:
        told = {message for _, message in converted.remarks}
        for remark in back.remarks:
            if remark.message.partition(" (and ")[0] in told:
                continue
            _say(f"note: {remark.where}: {remark.message}" if remark.where else f"note: {remark.message}")
        _say(f"{len(back.zones)} zone{'' if len(back.zones) == 1 else 's'} written")
    return 0


def _converted(given: Mapping[str, Any]) -> Converted:
    form = given["source_form"]
    for names, home in ((_FOR_NOTICES, "notice"), (_FOR_FILES, "file")):
        if form != home and any(given[name] for name in names):
            message = f"an option for --from {home} makes no sense with --from {form}"
            raise UsageError(message)
    properties = _given_properties(given)
    answers = _answers(given["answers"])
    if form == "chart":
        from towzone.files.chart_cells import convert_chart

        return convert_chart(given["text"], properties=properties, answers=answers)
    if form == "file":
        from towzone.files.vector_mapping import convert_vector

        return convert_vector(
            given["text"],
            layer=given["layer"],
            columns=_columns(given["columns"]),
            defaults=properties,
            crs=given["crs"],
            encoding=given["encoding"],
            answers=answers,
        )
    return _from_text(given, properties, answers)


def _from_text(given: Mapping[str, Any], properties: dict[str, object], answers: dict[int, str]) -> Converted:
    text, remarks = _read_text(given["text"])
    if given["source_form"] == "rectangles":
        converted = convert_rectangles(text, properties, answers=answers, file=given["text"])
    else:
        converted = convert_notice(
            text,
            properties,
            order=given["order"],
            form=given["form"],
            answers=answers,
            file=given["text"],
            stem=name_stem(given["text"]),
        )
    return replace(converted, remarks=(*remarks, *converted.remarks))


def _columns(given: tuple[str, ...]) -> dict[str, str]:
    columns: dict[str, str] = {}
    for text in given:
        name, equals, column = text.partition("=")
        if not equals or not name.strip() or not column.strip():
            message = f"--column {quoted(text)}: write the zone property and the column, as in name=TITLE"
            raise UsageError(message)
        columns[name.strip()] = column.strip()
    return columns


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
    """Return the zone properties of the options, by the names they have in a zone file.

    Raises
    ------
    UsageError
        One of them is not what a zone file may say.
    """
    properties: dict[str, object] = {name: given[name] for name in _PLAIN if given[name]}
    for name in ("prohibits", "gears", "except_gears"):
        if given[name]:
            properties[name] = [word.strip() for word in given[name].split(",") if word.strip()]
    if given["season"]:
        properties["season"] = [_season(text) for text in given["season"]]
    if given["allowed_only_inside"]:
        properties["allowed_only_inside"] = True
    _, problems, _ = read_properties({"kind": ZoneKind.CLOSED_AREA.value, **properties})
    if problems:
        message = "; ".join(problems)
        raise UsageError(message)
    return properties


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

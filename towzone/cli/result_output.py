"""Where a result goes: to standard output or a file, and into a record; the options and the writing of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

import click

from towzone.cli.shared_options import exit_zero_option
from towzone.errors import OutputError, UsageError
from towzone.files.inputs import load
from towzone.files.outputs import check_writable, write_all
from towzone.model.result import CheckResult, Outcome
from towzone.record.proof.signature import OPENSSL
from towzone.tables.result_json import to_json
from towzone.tables.screen import to_text

__all__ = ["EXIT_CODE", "ResultOutput", "result_options"]

EXIT_CODE = {Outcome.CLEAR: 0, Outcome.FINDING: 1, Outcome.UNDETERMINED: 4}
"""What the program leaves with."""

_STREAM = "-"
_PAGE_SUFFIXES = (".html", ".htm")
_Command = TypeVar("_Command", bound=Callable[..., Any])

_OPTIONS = (
    click.option("--record", "record_file", metavar="OUT.html", help="Write the record: one HTML file."),
    click.option(
        "--sign-key",
        "key_file",
        metavar="KEY.pem",
        help="Sign the record with this Ed25519 key, into OUT.html.sig. Anyone can check that without "
        f"towzone: {OPENSSL.format(record='OUT.html', signature='OUT.html.sig')}",
    ),
    click.option(
        "--format",
        "form",
        type=click.Choice(["text", "json", "csv", "geojson"]),
        default="text",
        show_default=True,
        help="Form of the result on standard output.",
    ),
    click.option(
        "-o",
        "--output",
        "output_file",
        metavar="FILE",
        default=_STREAM,
        help="Write the result to a file instead of standard output (-).",
    ),
    click.option("--force", is_flag=True, help="Replace files that exist."),
    exit_zero_option,
    click.option("-q", "--quiet", is_flag=True, help="No remarks on standard error."),
    click.option("-v", "--verbose", is_flag=True, help="List clear rows, dropped fixes and gaps too."),
)


def result_options(command: _Command) -> _Command:
    """Add the options on where a result goes."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultOutput:
    """Where a result goes, as the command line says.

    ``beside`` are more files that will be written, ``read`` are those that are read.
    """

    record_file: Path | None
    key_file: str | None
    output_file: Path | None
    form: str
    force: bool
    exit_zero: bool
    quiet: bool
    verbose: bool
    read: tuple[str, ...] = ()
    beside: tuple[Path, ...] = field(default=())

    @classmethod
    def of(
        cls, given: Mapping[str, Any], *, read: tuple[str, ...], beside: tuple[Path, ...] = ()
    ) -> ResultOutput:
        """Return it from the parameters of a command.

        Raises
        ------
        UsageError
            Something that cannot be a record, or be signed.
        """
        _check_record(given["record_file"], given["key_file"])
        return cls(
            record_file=Path(given["record_file"]) if given["record_file"] else None,
            key_file=given["key_file"],
            output_file=None if given["output_file"] == _STREAM else Path(given["output_file"]),
            form=given["form"],
            force=given["force"],
            exit_zero=given["exit_zero"],
            quiet=given["quiet"],
            verbose=given["verbose"],
            read=read,
            beside=beside,
        )

    @property
    def _signature_file(self) -> Path | None:
        if self.record_file is None or self.key_file is None:
            return None
        return self.record_file.with_name(f"{self.record_file.name}.sig")

    def prepare(self) -> Callable[[bytes], bytes] | None:
        """Refuse what cannot be written before any work is done; return what signs the record.

        Raises
        ------
        OutputError
            A file exists, is one of those read, or two are one.
        InputError
            The key cannot be read.
        """
        wanted = (self.record_file, self._signature_file, self.output_file, *self.beside)
        paths = [path for path in wanted if path is not None]
        if len({path.resolve() for path in paths}) < len(paths):
            message = (
                f"{self.output_file or paths[-1]}: the result cannot be one file with the record or its "
                "signature, nor can any two of the files that are written"
            )
            raise OutputError(message)
        read = (*self.read, *([self.key_file] if self.key_file is not None else []))
        for path in paths:
            check_writable(path, force=self.force, read=[one for one in read if one != _STREAM])
        return _signer(self.key_file) if self.key_file is not None else None

    def write(
        self,
        result: CheckResult,
        sign: Callable[[bytes], bytes] | None,
        beside: Mapping[Path, str | bytes] | None = None,
    ) -> None:
        """Write everything that was asked for; nothing is written unless all of it could be made."""
        text = _rendered(result, self.form, verbose=self.verbose)
        files: dict[Path, str | bytes] = dict(beside or {})
        if self.record_file is not None:
            from towzone.cli.page_again import record_of

            record = record_of(result)
            files[self.record_file] = record
            if self._signature_file is not None and sign is not None:
                files[self._signature_file] = sign(record)
        if self.output_file is not None:
            files[self.output_file] = text
        write_all(files)
        if self.output_file is None:
            click.echo(text, nl=False)

    def exit_code(self, outcome: Outcome) -> int:
        """Return what the program leaves with."""
        return 0 if self.exit_zero else EXIT_CODE[outcome]


def _check_record(record_file: str | None, key_file: str | None) -> None:
    """Refuse what cannot be a record, or be signed, before any work is done."""
    if key_file is not None and not record_file:
        message = "--sign-key signs the record; name it with --record"
        raise UsageError(message)
    if not record_file or Path(record_file).is_dir():
        return  # of a folder it is said that it is one
    if Path(record_file).suffix.lower() not in _PAGE_SUFFIXES:
        message = (
            f"--record {record_file}: the record is an HTML file; name it .html. For a PDF open it in any "
            "browser, print it (Ctrl+P) and choose the PDF printer: pages, still chart and tables are made "
            "for that"
        )
        raise UsageError(message)


def _signer(file: str) -> Callable[[bytes], bytes]:
    from towzone.record.proof.signature import load_signer

    return load_signer(load(file).data, file)


def _rendered(result: CheckResult, form: str, *, verbose: bool) -> str:
    if form == "json":
        return to_json(result)
    if form == "csv":
        from towzone.tables.rows_csv import to_csv

        return to_csv(result)
    if form == "geojson":
        from towzone.tables.features import to_geojson

        return to_geojson(result)
    return to_text(result, verbose=verbose)

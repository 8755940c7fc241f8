"""``towzone verify``: is this record unchanged, and does the check give the same answer again."""

from __future__ import annotations

import re
from pathlib import Path

import click

from towzone.caution import CAUTION
from towzone.cli.again import check_again
from towzone.cli.shared_options import exit_codes, format_option
from towzone.cli.verified import Verified, as_json, as_text
from towzone.errors import InputError, Problem, UsageError, quoted
from towzone.files.inputs import load
from towzone.record.proof.reading import load_record, read_record, result_of
from towzone.record.proof.signature import OPENSSL

__all__ = ["command"]

_CODES = exit_codes(
    "unchanged, and whatever else was asked for agrees",
    "changed; or another answer, or another page; or the digest or the signature does not match",
    "it cannot be told: inputs are missing or others, or the page is of other versions and not vouched for",
).replace("a file could not be read, was refused, or could not be written", "no record, or it cannot be read")


@click.command(name="verify", epilog=f"{_CODES}\n\n{CAUTION}")
@click.argument("record", metavar="RECORD")
@click.option(
    "--inputs",
    "folder",
    metavar="DIR",
    help="Folder with the inputs, in it or in folders below: found by their SHA-256, under whatever names. "
    "The check is made again from them with the recorded settings and, with the same versions, the page.",
)
@click.option("--digest", metavar="HEX", help="Digest that was noted when the record was made.")
@click.option("--signature", "signature_file", metavar="FILE", help="Signature of the record (OUT.html.sig).")
@click.option("--public-key", "key_file", metavar="FILE", help="Public key of who signed: Ed25519, PEM.")
@format_option("text", "json")
def command(
    record: str,
    folder: str | None,
    digest: str | None,
    signature_file: str | None,
    key_file: str | None,
    form: str,
) -> int:
    """Tell whether RECORD is as it was written, where it was changed, and whether its answer follows again.

    A record carries a digest of all its bytes, and a list by which a change is located. That does not show
    who made it: whoever changes a record can compute its digest anew. So compare with a digest noted
    elsewhere (--digest), or with a signature (--signature and --public-key).

    \b
    A signature can be checked without towzone (OpenSSL 3 or newer):
      openssl pkeyutl -verify -pubin -inkey PUBLIC.pem -rawin -in OUT.html -sigfile OUT.html.sig

    \b
    Examples:
      towzone verify out.html
      towzone verify out.html --inputs .
    """
    noted = _noted(digest)
    if (signature_file is None) != (key_file is None):
        message = "--signature and --public-key belong together: give both or neither"
        raise UsageError(message)
    if folder is not None and not Path(folder).is_dir():
        raise InputError(folder, [Problem("", "there is no such folder; name the one that holds the inputs")])
    content = load_record(record)
    reading = read_record(content, record)
    result = result_of(content)
    verified = Verified(
        record=record,
        reading=reading,
        result=result,
        digest_agrees=None if noted is None else noted == reading.computed,
        key_file=key_file,
        signature_agrees=None
        if signature_file is None or key_file is None
        else _signed(content, signature_file, key_file),
        openssl=OPENSSL.format(record=record, signature=signature_file or f"{record}.sig"),
        again=None if folder is None else check_again(result, content, reading, folder),
    )
    click.echo(as_json(verified) if form == "json" else as_text(verified), nl=False)
    return verified.exit_code


def _noted(digest: str | None) -> str | None:
    """Return a digest as it was typed, blanks and capitals evened out."""
    if digest is None:
        return None
    plain = re.sub(r"\s", "", digest).lower()
    if not re.fullmatch(r"[0-9a-f]{64}", plain):
        message = f"--digest: {quoted(digest)} is not a SHA-256; it has 64 digits from 0 to 9 and a to f"
        raise UsageError(message)
    return plain


def _signed(content: bytes, signature_file: str, key_file: str) -> bool:
    from towzone.record.proof.signature import is_signed_by, load_public_key

    key = load_public_key(load(key_file).data, key_file)
    return is_signed_by(key, load(signature_file).data, content)

"""The Leaflet library, found in its own installed distribution and accepted only byte for byte."""

from __future__ import annotations

import hashlib
import importlib.metadata
import re
from dataclasses import dataclass

from towzone.errors import OutputError

__all__ = ["Leaflet", "load_leaflet"]

_DISTRIBUTION = "django-js-lib-leaflet"
_SCRIPT = "js_lib_leaflet/static/js_lib_leaflet/leaflet.js"
_STYLE = "js_lib_leaflet/static/js_lib_leaflet/leaflet.css"

# SHA-256 of the files of Leaflet 1.9.4 as its authors released them; computed from that release,
# and the same bytes are in the distribution named above.
_VERSION = "1.9.4"
_SCRIPT_SHA256 = "db49d009c841f5ca34a888c96511ae936fd9f5533e90d8b2c4d57596f4e5641a"
_STYLE_SHA256 = "a7837102824184820dfa198d1ebcd109ff6d0ff9a2672a074b9a1b4d147d04c6"


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaflet:
    """Leaflet ready to be put inside a page: nothing in it asks for another file.

    Parameters
    ----------
    version : str
    script, style : str
        Line ends are newlines; source map hint, images and comments with links are taken out.
    licence : str
        Its licence text, to be kept with it.
    sha256 : str
        Of ``leaflet.js`` as released.
    """

    version: str
    script: str
    style: str
    licence: str
    sha256: str


def load_leaflet() -> Leaflet:
    """Return Leaflet from the installed distribution; the distribution is read, never imported.

    Raises
    ------
    OutputError
        The distribution is missing or incomplete, or its files are not the known release.
    """
    try:
        distribution = importlib.metadata.distribution(_DISTRIBUTION)
    except importlib.metadata.PackageNotFoundError as error:
        message = f"no record can be written: {_DISTRIBUTION} is not installed; reinstall towzone"
        raise OutputError(message) from error
    script = _read(distribution, _SCRIPT)
    style = _read(distribution, _STYLE)
    _require(script, _SCRIPT_SHA256, _SCRIPT)
    _require(style, _STYLE_SHA256, _STYLE)
    licence = next((f for f in distribution.files or () if f.name == "LICENSE"), None)
    if licence is None:
        message = f"no record can be written: {_DISTRIBUTION} has no licence file; reinstall towzone"
        raise OutputError(message)
    return Leaflet(
        version=_VERSION,
        script=_inline_script(script.decode("utf-8")),
        style=_inline_style(style.decode("utf-8")),
        licence=_unix(licence.read_text(encoding="utf-8")),
        sha256=_SCRIPT_SHA256,
    )


def _read(distribution: importlib.metadata.Distribution, name: str) -> bytes:
    path = distribution.locate_file(name)
    try:
        with open(str(path), "rb") as stream:  # noqa: PTH123  locate_file promises no pathlib.Path
            return stream.read()
    except OSError as error:
        message = f"no record can be written: {name} of {_DISTRIBUTION} cannot be read; reinstall towzone"
        raise OutputError(message) from error


def _require(content: bytes, sha256: str, name: str) -> None:
    found = hashlib.sha256(content).hexdigest()
    if found != sha256:
        message = (
            f"no record can be written: {name} of {_DISTRIBUTION} is not Leaflet {_VERSION} as released "
            f"(SHA-256 {found}, expected {sha256}); reinstall {_DISTRIBUTION}==1.9.4.1"
        )
        raise OutputError(message)


def _unix(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _inline_script(text: str) -> str:
    # A developer console would go looking for the source map.
    return re.sub(r"\n?//# sourceMappingURL=\S+", "", _unix(text)).strip()


def _inline_style(text: str) -> str:
    # The images belong to markers and controls that the record does not use.
    text = re.sub(r"/\*.*?\*/", "", _unix(text), flags=re.DOTALL)
    text = re.sub(r"behavior:\s*url\([^)]*\);?", "", text)
    text = re.sub(r"url\([^)]*\)", "none", text)
    return re.sub(r"\s*\n\s*", "\n", text).strip()

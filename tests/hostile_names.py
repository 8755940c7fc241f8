"""Texts that a careless page would run, obey, hide behind or break on, and input files that carry them.

All are invented. They are kept here once, so that every part of the record meets the same ones.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from xml.sax.saxutils import escape

__all__ = [
    "HEADINGS",
    "HOSTILE",
    "IN_JSON",
    "KEYS",
    "LONG",
    "csv_of_vessels",
    "file_name",
    "gpx_of_hauls",
    "gpx_of_routes",
    "haul_log",
    "places",
    "profile",
    "zones_at",
]

LONG = "overlong" * 1250
"""10 000 characters without a place to break a line."""

HOSTILE: dict[str, str] = {
    "script": "<script>window.taken=1</script>",
    "script-closed": "</script><script>window.taken=2</script>",
    "script-comment": "<!--<script>window.taken=3",
    "img": "<img src=x onerror=window.taken=4>",
    "img-quoted": "\"><img src=x onerror='window.taken=5'>",
    "attribute": "' onmouseover='window.taken=6' x='",
    "svg": "<svg onload=window.taken=7><circle r=9></svg>",
    "svg-closed": "</text></svg><script>window.taken=8</script>",
    "frame": "<iframe src=javascript:window.taken=9></iframe>",
    "title": "</title><b id=taken>loud</b>",
    "style": "</style><style>body{display:none}</style>",
    "css": "x;background:url(https://example.invalid/a.png);width:expression(window.taken=10)",
    "css-import": "*/@import 'https://example.invalid/a.css';/*",
    "seal-digest": '<code id="digest">' + "0" * 64 + "</code>",
    "seal-parts": '<script type="application/json" id="parts">{}',
    "meta": "<meta http-equiv=refresh content='0;url=https://example.invalid/'>",
    "base": "<base href=https://example.invalid/>",
    "form": "<form action=https://example.invalid/><input name=a autofocus></form>",
    "link": "<a href=https://example.invalid/>press here</a>",
    "comment-end": "--> --!> <!-- <![CDATA[",
    "cdata-end": "]]>",
    "instruction": "<?php echo 7*7 ?><%= 7*7 %>",
    "jinja-value": "{{7*7}}",
    "jinja-call": "{{ cycler.__init__.__globals__ }}",
    "jinja-block": "{% for x in (1,2) %}twice{% endfor %}",
    "jinja-comment": "{# unseen #}",
    "python-format": "{0} {name!r} %s %(a)s $a ${a}",
    "catalogue-place": "{name}{zone}{number}{text}{count}",
    "js-template": "`${7*7}`",
    "js-concatenated": "'+(window.taken=11)+'",
    "js-line-ends": "a\u2028window.taken=12\u2029b",
    "js-address": "javascript:window.taken=13",
    "data-address": "data:text/html,<script>window.taken=14</script>",
    "web-address": "https://example.invalid/a?b=1&c=2#d",
    "entities": "&lt;b&gt; &amp;amp; &#60;i&#62; &nbsp;&copy &bogus;",
    "backslashes": "\\u003cscript\\u003e \\x3c \\n \\",
    "quotes": "\"double\" 'single' `back` “curly”",
    "override": "Box \u202egnilwart\u202c end",
    "isolates": "\u2066left\u2067right\u2069 open \u2068",
    "marks": "a\u200eb\u200fc\u061cd",
    "zero-width": "no\u200bthing\u200c hid\u200dden\ufeff",
    "soft-hyphen": "in\u00advisi\u00adble",
    "tags-unseen": "flag\U000e0041\U000e0042\U000e007f",
    "annotation": "\ufff9base\ufffaruby\ufffb",
    "controls": "bell\x07back\x08escape\x1b[31mred\x7f",
    "controls-c1": "next\x85line\x9b31m",
    "tab-and-lines": "one\ttwo\r\nthree\n\nfour",
    "right-to-left": "\u05e9\u05d8\u05d7 \u05e1\u05d2\u05d5\u05e8 42 \u0645\u0646\u0637\u0642\u0629",
    "emoji": "\U0001f3a3\U0001f1e9\U0001f1f0\U0001f469\u200d\U0001f469\u200d\U0001f467 \U0001f6a2\ufe0f",
    "combining": "z" + "\u0334\u0357\u0327" * 60 + "algo",
    "wide": "\ufdfd" * 20 + "\U00012031",
    "not-a-character": "\ufffe\uffff\U0001ffff\ufffd",
    "private-use": "\ue000\U000f0000",
    "formula-equals": "=1+1",
    "formula-plus": "+cmd|' /C calc'!A0",
    "formula-minus": "-2+3",
    "formula-at": "@SUM(1)",
    "formula-hidden": "\t=2+2",
    "csv-cut": 'a","b\n"c;d',
    "prototype": "__proto__",
    "constructor": "constructor",
    "nothing": "null",
    "number": "1e999",
    "word-long": LONG,
    "sentence-long": "a word " * 1400 + "and no more",
}
"""By a short name. None is blank, which would be 'not given'; no reader but that of JSON takes `IN_JSON`."""

IN_JSON: dict[str, str] = {"nul": "a\0b", "half-a-character": "a\ud800b\udfffc"}
"""Texts that JSON can carry by escapes, and no other format of ours."""

HEADINGS = ("<img src=x onerror=window.taken=15>", "{{7*7}}", "=1+1", "a\u202eb", "depth_ft")
"""Names of columns that no reader knows."""

KEYS = ("<b>datum_accuracy", "{{datum_accuracy}}", "datum_accuracy\u202e", "datum_accuracy'\"")
"""Names of properties near to a known one, which are told of."""

Places = Sequence[tuple[float, float]]
"""Longitude and latitude in degrees."""

_BOX_DEG = 0.02
_A_MINUTE_DEG = 0.00083
"""A minute at 3 kn is 92.6 m; a degree of latitude is 60 nmi (own arithmetic)."""
_MINUTES = 24
_WEST_DEG = _BOX_DEG + 0.0015
"""So far west of the middle of a box is a track beside it: some 85 m off at 60 degrees."""


def places(count: int, lon_deg: float = -18.0, lat_deg: float = 60.0) -> list[tuple[float, float]]:
    """Return places in rows of eight, so far apart that each has one zone within a mile."""
    return [(lon_deg + 0.25 * (i % 8), lat_deg + 0.12 * (i // 8)) for i in range(count)]


def zones_at(where: Places, texts: Sequence[str]) -> str:
    """Return a zone file: a box at each place, with a text in every field that takes one.

    Over the file every text stands in every field.
    """
    features = []
    for i, (lon, lat) in enumerate(where):
        turned = [texts[(i + step) % len(texts)] for step in range(6)]
        fields = ("zone_id", "name", "source", "issued", "note", "datum_note")
        more = {KEYS[i]: "1m"} if i < len(KEYS) else {}
        corners = ((-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1))
        ring = [[lon + dx * _BOX_DEG, lat + dy * _BOX_DEG] for dx, dy in corners]
        kind = {"kind": "closed_area", "edges": "geodesic", "margin": "200m"}
        features.append(
            {
                "type": "Feature",
                "properties": {**dict(zip(fields, turned, strict=True)), **kind, **more},
                "geometry": {"type": "Polygon", "coordinates": [ring]},
            }
        )
    return json.dumps({"type": "FeatureCollection", "features": features})


def csv_of_vessels(where: Places, texts: Sequence[str]) -> str:
    """Return a track for each text, called by it, past its place at 3 kn."""
    rows = [
        [f"2026-03-01T04:{minute:02d}:00Z", *_beside(lon, lat, minute), text, *("x" for _ in HEADINGS)]
        for (lon, lat), text in zip(where, texts, strict=True)
        for minute in range(_MINUTES)
    ]
    return _csv([["time", "lat", "lon", "vessel", *HEADINGS], *rows])


def gpx_of_routes(where: Places, texts: Sequence[str]) -> str:
    """Return a planned route for each text, called by it, past its place."""
    head = '<gpx version="1.1" creator="tests" xmlns="http://www.topografix.com/GPX/1/1">'
    routes = []
    for (lon, lat), text in zip(where, texts, strict=True):
        points = "".join(
            '<rtept lat="{}" lon="{}"/>'.format(*_beside(lon, lat, minute)) for minute in (0, _MINUTES)
        )
        routes.append(f"<rte><name>{escape(text, {chr(13): '&#13;'})}</name>{points}</rte>")
    return f"{head}{''.join(routes)}</gpx>"


def gpx_of_hauls(where: Places) -> str:
    """Return one track past one place after the other, a day for each, with a stretch of towing there."""
    head = '<gpx version="1.1" creator="tests" xmlns="http://www.topografix.com/GPX/1/1">'
    points = "".join(
        '<trkpt lat="{}" lon="{}"><time>2026-03-{:02d}T04:{:02d}:00Z</time></trkpt>'.format(
            *_beside(lon, lat, minute), day, minute
        )
        for day, (lon, lat) in enumerate(where, start=1)
        for minute in range(_MINUTES)
    )
    return f"{head}<trk><name>{{{{7*7}}}}</name><trkseg>{points}</trkseg></trk></gpx>"


def haul_log(texts: Sequence[str]) -> str:
    """Return the log of these hauls, one a day, each called by a text."""
    rows = [
        [text, f"2026-03-{day:02d}T04:02Z", f"2026-03-{day:02d}T04:20Z", *("x" for _ in HEADINGS)]
        for day, text in enumerate(texts, start=1)
    ]
    return _csv([["haul", "shoot_utc", "haul_utc", *HEADINGS], *rows])


def profile(text: str, *, gear: bool) -> str:
    """Return a vessel's profile with a text for its name, with or without figures of its gear."""
    figures = '[gear]\nwarp = "300m"\ndepth = "100m"\n' if gear else ""
    return f'[vessel]\nname = {_toml(text)}\ngear = "OTB"\n{figures}'


def file_name(text: str, suffix: str) -> str:
    """Return a text as the name of a file: what no file system has left out, and cut to what fits."""
    fit = text.replace("/", "").replace("\0", "").encode("utf-8")[: 240 - len(suffix)]
    return f"{fit.decode('utf-8', errors='ignore')}{suffix}"


def _beside(lon: float, lat: float, minute: int) -> tuple[str, str]:
    """Latitude and longitude beside the box of a place, so many minutes after the start."""
    return f"{lat + (minute - _MINUTES / 2) * _A_MINUTE_DEG:.6f}", f"{lon - _WEST_DEG:.6f}"


def _csv(rows: Sequence[Sequence[str]]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()


def _toml(text: str) -> str:
    # A basic string of TOML 1.0 escapes as JSON does, but for half characters and, here, beyond 16 bits.
    return '"' + "".join(f"\\U{ord(c):08x}" for c in text) + '"'

"""Zone files for tests on zone files themselves, and published lists of corners with their sources."""

from __future__ import annotations

import json

from bad_inputs import collection, feature, polygon

from towzone.files.zones import read_zones, survey_zones
from towzone.surveys.lint import in_order, lint, refusals

PUBLISHED = {
    # Council Regulation (EU) 2025/202, Annex IV, nos. 1, 3, 5, 8, 9 and 10; corners in printed order.
    "Stanhope ground": ((1.75, 60 + 10 / 60), (2.0, 60 + 10 / 60), (1.75, 60 + 25 / 60), (2.0, 60 + 25 / 60)),
    "Coral edge": (
        (3 + 26.70 / 60, 58 + 51.70 / 60),
        (3 + 34.60 / 60, 58 + 40.66 / 60),
        (3 + 12.40 / 60, 58 + 24.00 / 60),
        (2 + 55.00 / 60, 58 + 24.00 / 60),
        (2 + 56.30 / 60, 58 + 35.65 / 60),
    ),
    "Foula Deeps": (
        (-1.75, 60 + 17.5 / 60),
        (-1.75, 60 + 11.0 / 60),
        (-2 - 10 / 60, 60 + 11.0 / 60),
        (-2.0, 60 + 20.0 / 60),
        (-1 - 50 / 60, 60 + 20.0 / 60),
    ),
    "West Bank": (
        (5 + 1 / 60, 57.25),
        (5.0, 56 + 56 / 60),
        (6 + 20 / 60, 56 + 56 / 60),
        (6 + 20 / 60, 57.25),
    ),
    "Revet": (
        (8 + 5.66 / 60, 57 + 28.43 / 60),
        (8 + 7.20 / 60, 57 + 27.44 / 60),
        (9 + 26.33 / 60, 57 + 51.77 / 60),
        (9 + 25.00 / 60, 57 + 52.88 / 60),
    ),
    "Rabarberen": (
        (11 + 4 / 60, 57 + 47 / 60),
        (11 + 4 / 60, 57 + 43 / 60),
        (11 + 9 / 60, 57 + 43 / 60),
        (11 + 9 / 60, 57 + 47 / 60),
    ),
    # Regulation (EU) 2019/1241, Annex XII Part D point 1.
    "Northern MAR": ((-33.5, 59.75), (-27.5, 57.5), (-28.5, 56.75), (-34.5, 59.25)),
    "Altair": ((-34 - 35 / 60, 45.0), (-33.75, 45.0), (-33.75, 44 + 25 / 60), (-34 - 35 / 60, 44 + 25 / 60)),
    # Regulation (EU) 2019/1241, Annex XII Part C point 4: the statistical rectangle 42D5.
    "Rockall haddock box": ((-15.0, 57.0), (-14.0, 57.0), (-14.0, 56.5), (-15.0, 56.5)),
}


def ring(corners):
    """A GeoJSON polygon from corners that do not repeat the first."""
    return polygon([list(corner) for corner in (*corners, corners[0])])


def area(corners, **properties):
    """A feature with nothing for anyone to say about it, but for what is given."""
    return feature(ring(corners), **({"edges": "rhumb", "source": "invented"} | properties))


def written(tmp_path, *features, name="zones.geojson"):
    """The path of a zone file with these features."""
    path = tmp_path / name
    path.write_bytes(collection(*features))
    return str(path)


def linted(tmp_path, *features, on=None):
    """Every defect of a file with these features."""
    survey = survey_zones(written(tmp_path, *features))
    refused = refusals(survey.input.file, survey.problems, survey.candidates)
    return in_order([*refused, *lint(survey.candidates, on=on)])


def zones_of(tmp_path, *features, name="zones.geojson"):
    """The zones of a file with these features."""
    return read_zones(written(tmp_path, *features, name=name)).zones


def box(west, south, width=1.0, height=1.0):
    """Corners of a box, degrees."""
    return ((west, south), (west + width, south), (west + width, south + height), (west, south + height))


def as_json(text):
    """JSON text parsed, refusing what JSON does not have."""

    def refuse(word):
        raise AssertionError(word)

    return json.loads(text, parse_constant=refuse)

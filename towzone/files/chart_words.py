"""Object classes and codes of chart cells in words, and what they mean for a tow.

References
----------
IHO S-57 Edition 3.1 (2000), Appendix A, Chapters 1 and 2, with the later RESTRN values 16 to 27 of
Edition 3.1.1: names of object classes and values of attributes. What each prohibits is an own reading, put
beside it.
"""

from __future__ import annotations

from dataclasses import dataclass

from towzone.model.zone import Prohibition, ZoneKind

__all__ = ["CATEGORIES", "CLASSES", "RESTRAINTS", "RESTRICTIONS", "SAFETY_ZONES", "STATUS", "ChartClass"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartClass:
    """An object class that is a zone by itself.

    ``prohibits`` is what its presence alone rules out; ``category`` names its category attribute.
    """

    words: str
    kind: ZoneKind
    prohibits: tuple[Prohibition, ...]
    category: str


_BOTTOM = (Prohibition.BOTTOM_CONTACT,)
_IN_THE_WATER = (Prohibition.FISHING, Prohibition.BOTTOM_CONTACT)

CLASSES = {
    "RESARE": ChartClass(words="restricted area", kind=ZoneKind.CLOSED_AREA, prohibits=(), category="CATREA"),
    "CBLSUB": ChartClass(words="submarine cable", kind=ZoneKind.CABLE, prohibits=_BOTTOM, category="CATCBL"),
    "CBLARE": ChartClass(words="cable area", kind=ZoneKind.CABLE, prohibits=_BOTTOM, category="CATCBL"),
    "PIPSOL": ChartClass(words="pipeline", kind=ZoneKind.PIPELINE, prohibits=_BOTTOM, category="CATPIP"),
    "PIPARE": ChartClass(words="pipeline area", kind=ZoneKind.PIPELINE, prohibits=_BOTTOM, category="CATPIP"),
    "OBSTRN": ChartClass(
        words="obstruction", kind=ZoneKind.OBSTRUCTION, prohibits=_BOTTOM, category="CATOBS"
    ),
    "WRECKS": ChartClass(words="wreck", kind=ZoneKind.OBSTRUCTION, prohibits=_BOTTOM, category="CATWRK"),
    "UWTROC": ChartClass(words="underwater rock", kind=ZoneKind.OBSTRUCTION, prohibits=_BOTTOM, category=""),
    "OFSPLF": ChartClass(
        words="offshore platform",
        kind=ZoneKind.SAFETY_ZONE,
        prohibits=(Prohibition.ENTRY,),
        category="CATOFP",
    ),
    "OSPARE": ChartClass(
        words="offshore production area", kind=ZoneKind.OBSTRUCTION, prohibits=_BOTTOM, category="CATPRA"
    ),
    "MARCUL": ChartClass(
        words="marine farm", kind=ZoneKind.OBSTRUCTION, prohibits=_IN_THE_WATER, category="CATMFA"
    ),
    "FSHFAC": ChartClass(
        words="fishing facility", kind=ZoneKind.OBSTRUCTION, prohibits=_IN_THE_WATER, category="CATFIF"
    ),
}
"""Kind and prohibition by class, own reading: what stands on or in the bottom must not be towed over; nets
and farms reach through the water and stop every gear; a platform must not be run into; a restricted area
prohibits what its codes say."""

RESTRICTIONS = {
    1: "anchoring prohibited",
    2: "anchoring restricted",
    3: "fishing prohibited",
    4: "fishing restricted",
    5: "trawling prohibited",
    6: "trawling restricted",
    7: "entry prohibited",
    8: "entry restricted",
    9: "dredging prohibited",
    10: "dredging restricted",
    11: "diving prohibited",
    12: "diving restricted",
    13: "no wake",
    14: "area to be avoided",
    15: "construction prohibited",
    16: "discharging prohibited",
    17: "discharging restricted",
    18: "industrial or mineral exploration or development prohibited",
    19: "industrial or mineral exploration or development restricted",
    20: "drilling prohibited",
    21: "drilling restricted",
    22: "removal of historical artefacts prohibited",
    23: "cargo transhipment (lightering) prohibited",
    24: "dragging prohibited",
    25: "stopping prohibited",
    26: "landing prohibited",
    27: "speed restricted",
}

RESTRAINTS = {
    3: Prohibition.FISHING,
    4: Prohibition.FISHING,
    5: Prohibition.FISHING,
    6: Prohibition.FISHING,
    7: Prohibition.ENTRY,
    8: Prohibition.ENTRY,
    14: Prohibition.ENTRY,
    24: Prohibition.BOTTOM_CONTACT,
}
"""What a restriction prohibits a tow. "Restricted" counts as prohibited, because the conditions are not in
the cell; trawling counts as fishing."""

SAFETY_ZONES = {
    1: (Prohibition.ENTRY,),
    3: (Prohibition.FISHING,),
    12: (Prohibition.ENTRY,),
    14: (Prohibition.ENTRY, Prohibition.BOTTOM_CONTACT),
}
"""What a category of restricted area prohibits by its name alone: safety zones, the fishing prohibition area
of earlier editions, minefields."""

CATEGORIES = {
    "CATREA": {
        1: "offshore safety zone",
        3: "fishing prohibition area",
        4: "nature reserve",
        5: "bird sanctuary",
        6: "game preserve",
        7: "seal sanctuary",
        8: "degaussing range",
        9: "military area",
        10: "historic wreck area",
        12: "navigational aid safety zone",
        14: "minefield",
        18: "swimming area",
        19: "waiting area",
        20: "research area",
        21: "dredging area",
        22: "fish sanctuary",
        23: "ecological reserve",
        24: "no wake area",
        25: "swinging area",
        27: "environmentally sensitive sea area",
        28: "particularly sensitive sea area",
    },
    "CATCBL": {
        1: "power line",
        3: "transmission line",
        4: "telephone",
        5: "telegraph",
        6: "mooring cable or chain",
    },
    "CATPIP": {2: "outfall pipe", 3: "intake pipe", 4: "sewer", 5: "bubbler system", 6: "supply pipe"},
    "CATOBS": {
        1: "snag or stump",
        2: "wellhead",
        3: "diffuser",
        4: "crib",
        5: "fish haven",
        6: "foul area",
        7: "foul ground",
        8: "ice boom",
        9: "ground tackle",
    },
    "CATWRK": {
        1: "non-dangerous wreck",
        2: "dangerous wreck",
        3: "distributed remains of wreck",
        4: "wreck showing mast",
        5: "wreck showing hull or superstructure",
    },
    "CATOFP": {
        1: "oil derrick or rig",
        2: "production platform",
        3: "observation or research platform",
        4: "articulated loading platform",
        5: "single anchor leg mooring",
        6: "mooring tower",
        7: "artificial island",
        8: "floating production, storage and off-loading vessel",
        9: "accommodation platform",
    },
}

STATUS = {
    1: "permanent",
    2: "occasional",
    4: "disused",
    5: "periodic or intermittent",
    6: "reserved",
    7: "temporary",
    8: "private",
    13: "historic",
    18: "existence doubtful",
}

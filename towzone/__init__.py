"""Did the tow keep clear? Exact clearances of trawl tracks and planned tows from zones."""

from __future__ import annotations

__all__ = ["__version__"]

__version__ = "0.1.0"

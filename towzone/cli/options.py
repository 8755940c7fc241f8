"""Options that several commands share, and the types that turn their text into values."""

from __future__ import annotations

import zoneinfo
from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any

import click
import numpy as np

from towzone.errors import UsageError
from towzone.units import parse_duration, parse_length, parse_speed

__all__ = ["DAY", "DURATION", "INSTANT", "LENGTH", "SPEED", "TIME_ZONE"]


if TYPE_CHECKING:
    _ParamType = click.ParamType[Any]
else:
    _ParamType = click.ParamType  # takes no type arguments before click 8.4


class _Quantity(_ParamType):
    """A number with its unit."""

    def __init__(self, name: str, parse: Callable[[str], float]) -> None:
        self.name = name
        self._parse = parse

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        try:
            return self._parse(str(value))
        except UsageError as error:
            self.fail(str(error), param, ctx)

    def get_metavar(self, *_: object, **__: object) -> str:
        return self.name.upper()


class _Instant(_ParamType):
    """An instant with its offset from UTC."""

    name = "time"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> np.datetime64:
        try:
            instant = datetime.fromisoformat(str(value))
        except ValueError:
            self.fail(f"'{value}' is not a time; write for example 2026-05-12T06:30Z", param, ctx)
        if instant.tzinfo is None:
            self.fail(f"'{value}' has no offset; write for example {value}Z or {value}+01:00", param, ctx)
        # Results tell times to the millisecond; what is finer could not be told, and so not be repeated.
        utc = instant.astimezone(UTC).replace(tzinfo=None)
        return np.datetime64(utc.replace(microsecond=utc.microsecond // 1000 * 1000), "us")

    def get_metavar(self, *_: object, **__: object) -> str:
        return "TIME"


class _Day(_ParamType):
    """A day of the calendar."""

    name = "date"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        try:
            return date.fromisoformat(str(value))
        except ValueError:
            self.fail(f"'{value}' is not a date; write for example 2026-05-12", param, ctx)

    def get_metavar(self, *_: object, **__: object) -> str:
        return "DATE"


class _TimeZone(_ParamType):
    """A time zone by its IANA name."""

    name = "name"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> zoneinfo.ZoneInfo:
        try:
            return zoneinfo.ZoneInfo(str(value))
        except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
            self.fail(
                f"'{value}' is not a known time zone; write for example UTC or Europe/Dublin", param, ctx
            )

    def get_metavar(self, *_: object, **__: object) -> str:
        return "NAME"


LENGTH = _Quantity("length", parse_length)
SPEED = _Quantity("speed", parse_speed)
DURATION = _Quantity("duration", parse_duration)
INSTANT = _Instant()
DAY = _Day()
TIME_ZONE = _TimeZone()

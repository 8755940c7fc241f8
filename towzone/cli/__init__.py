"""The command line: options in, streams and exit codes out. Only here click is known."""

from __future__ import annotations

from towzone.cli.main import main, run

__all__ = ["main", "run"]

"""Arrow without pandas, which it looks for with its first column and which an audit never uses."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from importlib.abc import MetaPathFinder
from types import ModuleType

__all__ = ["spare_pandas"]


class _NoPandas(MetaPathFinder):
    """Says of one module that it is not there, and of all others nothing."""

    def find_spec(self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None) -> None:
        """Refuse one module, and leave the others to those that find them."""
        del path, target
        if fullname == "pandas":
            raise ModuleNotFoundError(name=fullname)


def spare_pandas() -> None:
    """Let Arrow find no pandas for now: to load it takes longer than to read many a vessel.

    Where tables of pandas are asked for later, as by readers of zones, Arrow loads it as ever.
    """
    import pyarrow as pa

    nowhere = _NoPandas()
    sys.meta_path.insert(0, nowhere)
    try:
        pa.array([0])
    finally:
        sys.meta_path.remove(nowhere)

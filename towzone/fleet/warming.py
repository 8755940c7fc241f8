"""What each worker of our own loads while it starts: Dask imports this before it says that it is ready."""

from __future__ import annotations

from typing import Any

from towzone.fleet import checking, reading
from towzone.fleet.light_arrow import spare_pandas

__all__ = ["checking", "dask_setup", "reading"]


def dask_setup(_: Any) -> None:
    """Make ready what is not by being imported; Dask calls it by this name."""
    import pyarrow as pa

    spare_pandas()
    # Each worker is for one core, and so are its threads for reading.
    pa.set_cpu_count(1)

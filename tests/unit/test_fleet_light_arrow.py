"""Arrow is kept from loading pandas where nobody asks for it, and loads it where somebody does."""

from __future__ import annotations

import subprocess
import sys

from cli_runner import environment

SPARED = """
import sys
from towzone.fleet.light_arrow import spare_pandas

spare_pandas()
import numpy as np
import pyarrow as pa

columns = [pa.array([1.0, None]), pa.array(np.arange(2)), pa.array(["a", None]), pa.array([None, [1]])]
assert "pandas" not in sys.modules
assert [column.null_count for column in columns] == [1, 0, 1, 1]
"""
LATER = """
import geopandas
from shapely import Point

places = geopandas.GeoDataFrame({"name": ["a", None]}, geometry=[Point(1, 2), Point(3, 4)], crs=4326)
places.to_parquet("places.parquet")
again = geopandas.read_parquet("places.parquet")
assert again.geom_equals(places).all()
assert again.name.tolist()[0] == "a"
assert again.name.isna().tolist() == [False, True]
"""


def test_columns_are_made_without_pandas_and_tables_for_it_with(tmp_path):
    ran = subprocess.run(
        [sys.executable, "-c", SPARED + LATER],
        cwd=tmp_path,
        env=environment(),
        capture_output=True,
        check=False,
    )

    assert ran.returncode == 0, ran.stderr.decode()

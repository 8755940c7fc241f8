"""movingpandas: the trip as a trajectory in a projection, clipped by every zone and measured from it."""

from __future__ import annotations

import warnings

import geopandas
import numpy as np
import pandas

with warnings.catch_warnings():
    warnings.simplefilter("ignore", UserWarning)  # of a smoother that is not wanted
    import movingpandas

from alternatives.common import REACH_M, Answer, Fixes
from alternatives.projected import Projected


class Trajectories(Projected):
    """Distances of the trajectory as a line; entries and exits where it is clipped; no table of fixes.

    Clipped by points: by lines takes some ten times as long.
    """

    name = "movingpandas"

    def table(self, fixes: Fixes):
        raise NotImplementedError

    def answer(self, fixes: Fixes) -> Answer:
        # In nanoseconds: with coarser ones it finds no stays at all.
        times = pandas.DatetimeIndex(fixes.second.astype("datetime64[s]").astype("datetime64[ns]"))
        frame = geopandas.GeoDataFrame(self.points(fixes)).set_index(times)
        trip = movingpandas.Trajectory(frame, "trip")
        line = trip.to_linestring()
        # The index of zones picks those that the line may be near to; the rest is asked of the trajectory.
        near = np.sort(self.zones.sindex.query(line, predicate="dwithin", distance=REACH_M))
        least, entries, exits = {}, {}, {}
        for number in near.tolist():
            shape, outline = self.zones.geometry.iloc[number], self.outline.iloc[number]
            apart = trip.distance(shape)
            stays = []
            if apart == 0.0 and number in self.areas.index:
                with warnings.catch_warnings():
                    warnings.simplefilter("ignore")
                    stays = trip.clip(shape, point_based=True).trajectories
            depths = [float(stay.df.geometry.distance(outline).max()) for stay in stays]
            least[number] = -max(depths) if depths else apart
            begun = np.array([_seconds(stay.get_start_time()) for stay in stays])
            ended = np.array([_seconds(stay.get_end_time()) for stay in stays])
            entries[number], exits[number] = begun[begun > fixes.second[0]], ended[ended < fixes.second[-1]]
        return Answer(least_m=least, entries_s=entries, exits_s=exits)


def _seconds(moment) -> float:
    return pandas.Timestamp(moment).tz_localize("UTC").timestamp()

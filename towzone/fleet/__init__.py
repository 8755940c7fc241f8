"""Audits of many vessels, out of core, on Dask: read in pieces, sorted by vessel, checked, gathered."""

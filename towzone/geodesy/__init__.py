"""Lines, shapes and exact distances on the WGS 84 ellipsoid; knows nothing of vessels or rules."""

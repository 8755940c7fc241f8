"""A line that keeps clear: looked for in a plane, and checked on the ellipsoid before it is told."""

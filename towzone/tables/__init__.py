"""A result as JSON, CSV, GeoJSON, a table of geometries, or text for a screen."""

"""The overview of an audit of many vessels: one HTML file, worst first, opened from disk."""

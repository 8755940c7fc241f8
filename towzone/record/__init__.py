"""The record: one HTML file that explains a result, offline."""

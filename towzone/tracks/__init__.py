"""Fixes from any source to one vessel's track: put in order, cleaned, merged; no file, no clock."""

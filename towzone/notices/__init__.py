"""Published notices, coordinate lists in prose or tables, read into zones in the making."""

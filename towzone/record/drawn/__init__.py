"""What both charts of the record draw: zones, tracks, gear, gaps and coast, and the still chart itself."""

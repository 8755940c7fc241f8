"""Statistical rectangles: codes to bounds, positions to codes, lists of codes."""

"""Which part of a completed track was towing: seen from speeds and headings, or told by a haul log."""

"""What to do about a line that is not clear: each piece is checked before it is given."""

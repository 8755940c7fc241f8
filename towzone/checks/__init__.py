"""What was close to what, and what that means; touches no file, clock or environment."""

"""Whether a record is as it was written: digest, list of parts, signature, and reading it back."""

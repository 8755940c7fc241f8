"""The sections of the record that are read: first screen, index, table, evidence, foot."""

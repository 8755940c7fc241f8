"""Readers: one module per format, each refusing what it cannot read rightly."""

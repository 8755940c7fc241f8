"""Clearance against time: figures, drawing and section."""

"""What towzone talks about: zones, tracks, findings. Frozen data, no files, no geometry code."""

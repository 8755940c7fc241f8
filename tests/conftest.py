"""Hypothesis profiles: ``dev`` while working, ``ci`` the same every time, ``thorough`` before a release.

Choose with the environment variable ``HYPOTHESIS_PROFILE``.
Without it: ``ci`` when ``CI`` is set, else ``dev``.
"""

from __future__ import annotations

import os

from hypothesis import settings

settings.register_profile("dev", max_examples=50, deadline=None)
settings.register_profile("ci", max_examples=50, deadline=None, derandomize=True, print_blob=True)
settings.register_profile("thorough", max_examples=5000, deadline=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci" if os.environ.get("CI") else "dev"))

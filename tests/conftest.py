"""Settings for all tests: the same examples every time, and no clock on them."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("duskline", derandomize=True, deadline=None)
settings.load_profile("duskline")

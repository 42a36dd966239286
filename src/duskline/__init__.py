"""Duskline: broadcast a cereal cover crop and have everything spread today covered today."""

from __future__ import annotations

__all__ = ["__version__"]

__version__ = "0.1.0"

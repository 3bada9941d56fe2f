"""The library that describes charts, fetched when the first one is drawn: where all stand nobody waits for it."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import altair as alt
else:

    class _Later:
        def __getattr__(self, name: str) -> object:
            return getattr(import_module("altair"), name)

    alt = _Later()

__all__ = ["alt"]

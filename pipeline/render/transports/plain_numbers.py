"""Settings and levels as they were stated: "24", "0.05", "2.5", with the separators of the pages' language."""

from __future__ import annotations

from pipeline.render.language import localised


def plain(value: float) -> str:
    """A number to six figures that count, without zeros at its end."""
    return localised(f"{value:g}")

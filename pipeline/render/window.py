"""One page alone: of an incident the very page that a run writes, or of a stretch of time that is none."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.render.filling import HERE, fill, page_environment
from pipeline.render.incidents import incident_sheets
from pipeline.render.reading import Reading, read_window
from pipeline.render.sheet import Sheet
from pipeline.render.shown import Window
from pipeline.render.writing import ASSETS, add_pages
from pipeline.settings import Settings
from pipeline.store import Store


@dataclass(frozen=True)
class WindowPage:
    """A page before it is written: what it says, what that was read from, and its HTML."""

    sheet: Sheet
    reading: Reading
    html: str


def render_window(store: Store, settings: Settings, figures: Mapping[str, Any], window: Window) -> WindowPage:
    """The page of one incident or stretch of time; ``store`` may be open for reading only, and nothing is written."""
    reading = read_window(store, settings, figures, window)
    (sheet,) = incident_sheets(reading)
    return WindowPage(sheet, reading, fill(page_environment(reading), sheet))


def add_page(out: Path, page: WindowPage) -> Path:
    """Write the page beside those of a run, and the style it needs where that is not there yet; returns its path.

    Raises:
        OutputError: ``out`` cannot be written.
    """
    add_with_style(out, {page.sheet.name: page.html.encode()})
    return out / page.sheet.name


def add_with_style(out: Path, files: Mapping[str, bytes]) -> None:
    """Write pages beside those of a run, and the style and script they need where these are not there yet.

    Raises:
        OutputError: ``out`` cannot be written.
    """
    assets = {name: (HERE / name).read_bytes() for name in ASSETS if not (out / name).is_file()}
    add_pages(out, {**assets, **files})

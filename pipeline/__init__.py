"""Turn a playback room's logs into continuity figures and signed-for reports.

Data flows one way: files → ``ingest`` → ``check`` and ``model`` → ``measure`` → ``render``. The rooms meet only in
the database; ``flow`` knows their order. Whoever asks questions of their own begins with `open_site`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from pipeline.site_reading import SiteReading

__version__ = "0.1.0"


def open_site(site: Path | str, database: Path | str | None = None) -> SiteReading:
    """The last run of the site folder ``site``, open for reading; ``database`` is SITE/airhours.duckdb unless named.

    Raises:
        AirhoursError: there was no run yet, or another run is at work; its text is one plain sentence.
    """
    from pipeline.site_reading import read_site_of  # noqa: PLC0415 - importing the package loads no library

    return read_site_of(site, database)

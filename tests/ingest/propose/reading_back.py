"""Reads a proposal back by the program's own reader of site.toml, and compares its columns with their labels."""

from __future__ import annotations

import tomllib
from collections import Counter
from pathlib import Path
from typing import Any

from pipeline.ingest.mapping.feed_tables import SiteFeeds, read_site_feeds
from pipeline.ingest.propose import Proposal
from pipeline.settings import read_settings
from tests.ingest.propose.exports import NONE, OPEN, Export

ROOM = 'name = "Invented room"\ntimezone = "Europe/Stockholm"\nday_starts = "00:00"\nframe_rate = 25\n'


def accepted(text: str, folder: Path) -> SiteFeeds:
    """The tables of ``text``, pasted into a site.toml, as the program reads it; raises where it is refused."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "site.toml").write_text(f"{ROOM}\n{text}", encoding="utf-8")
    return read_site_feeds(folder, read_settings(folder))


def table_of(proposal: Proposal) -> dict[str, Any]:
    tables: list[dict[str, Any]] = tomllib.loads(proposal.text).get("feeds", [])
    return tables[0] if tables else {}


def compared(proposal: Proposal, export: Export) -> Counter[str]:
    """How many labelled columns are mapped right, mapped wrong, or left undecided though they are one of ours."""
    mapped = table_of(proposal).get("columns", {})
    found: Counter[str] = Counter(right=0, wrong=0, undecided=0)
    for theirs, label in export.columns.items():
        wanted = list(label) if isinstance(label, tuple) else label
        given = mapped.get(theirs)
        if given is None:
            found["right" if wanted in (NONE, OPEN) else "undecided"] += 1
        else:
            found["right" if given == wanted else "wrong"] += 1
    return found

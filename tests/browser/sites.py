"""The pages of a report: all of them, and one of each kind."""

from __future__ import annotations

import re
from dataclasses import dataclass
from html import unescape
from pathlib import Path

SEVERAL = ("month-", "incident-", "lines-", "machine-", "reel-", "case-", "reels-", "find-")


@dataclass(frozen=True)
class Pages:
    """The folder of a report."""

    folder: Path

    def all(self) -> list[Path]:
        """Every page, by name."""
        return sorted(self.folder.glob("*.html"))

    def one_of_each_kind(self) -> list[Path]:
        """The single pages, the last month, and of every other kind the longest."""
        single = [path for path in self.all() if not path.name.startswith(SEVERAL)]
        kinds = [[path for path in self.all() if path.name.startswith(kind)] for kind in SEVERAL]
        several = [
            pages[-1] if kind == "month-" else _longest(pages)
            for kind, pages in zip(SEVERAL, kinds, strict=True)
            if pages
        ]
        return [*single, *several]


def _longest(pages: list[Path]) -> Path:
    return max(pages, key=lambda path: (path.stat().st_size, path.name))


def words_of(html: str) -> str:
    """The text between the tags, each run of blanks one."""
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", html)).split())

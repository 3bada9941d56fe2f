"""The pages of a report: all of them, and one of each kind."""

from __future__ import annotations

import re
from dataclasses import dataclass
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "wbr"}  # HTML, 13.1.2
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

    def unlike(self) -> list[Path]:
        """One page of each kind, and of the others, largest first, those with an element or a place of one anew."""
        seen: set[tuple[str, ...]] = set()
        kept = self.one_of_each_kind()
        for path in kept:
            seen |= places_of(path.read_text(encoding="utf-8"))
        for path in sorted(self.all(), key=lambda path: (-path.stat().st_size, path.name)):
            places = places_of(path.read_text(encoding="utf-8"))
            if not places <= seen:
                kept.append(path)
                seen |= places
        return kept


class _Places(HTMLParser):
    """Each element as its tag, class, role and the names of its attributes, under those of its parent.

    Beside them: which of them are empty of words, and which heading follows which.
    """

    def __init__(self) -> None:
        super().__init__()
        self.found: set[tuple[str, ...]] = set()
        self._above: list[tuple[str, str]] = [("", "")]
        self._words = [0]  # read when each of these began
        self._read = 0
        self._heading = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        shape = " ".join((tag, named.get("class") or "", named.get("role") or "", *sorted(named)))
        self.found.add((self._above[-1][1], shape))
        if re.fullmatch("h[1-6]", tag):
            self.found.add(("heading", self._heading, tag))
            self._heading = tag
        if tag not in VOID:
            self._above.append((tag, shape))
            self._words.append(self._read)

    def handle_data(self, data: str) -> None:
        self._read += bool(data.strip())

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        while any(tag == name for name, _ in self._above):
            name, shape = self._above.pop()
            if self._words.pop() == self._read:
                self.found.add(("empty", shape))
            if name == tag:
                break


def places_of(html: str) -> set[tuple[str, ...]]:
    """Which elements a page has, each with the one it stands in; what they say is not looked at."""
    reader = _Places()
    reader.feed(html)
    reader.close()
    return reader.found


def _longest(pages: list[Path]) -> Path:
    return max(pages, key=lambda path: (path.stat().st_size, path.name))


def words_of(html: str) -> str:
    """The text between the tags, each run of blanks one."""
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", html)).split())

"""Pieces of pages that an earlier run drew and that need not be drawn again: charts, and what a page says between its
head and its foot.

A piece goes by a digest of all it is made from, the program among it: where that is as it was, the piece is, too. The
manifest of a run says in which of its pages each piece stands and where. It is cut out of that page, but only where the
page is, byte for byte, the one that the run wrote; else it is drawn again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from importlib.metadata import version
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple

from pipeline.digests import digest
from pipeline.render.language import spoken_language

DRAWN_WITH = ("altair", "vl-convert-python", "Jinja2", "MarkupSafe", "babel", "tzdata", "polars", "duckdb")
NO_NAME = " at 0x"  # how Python shows what has no words for what it holds


class Place(NamedTuple):
    """Where a piece stands in the pages of a run, in bytes; ``blanks`` are those of its parts that may differ."""

    page: str
    start: int
    length: int
    blanks: tuple[tuple[int, int], ...] = ()


class Pieces:
    """The pieces of the pages in a folder: taken from those of an earlier run where they are as they were.

    ``earlier`` is the content of that run's manifest; what is strange in it is as if it were not there. ``seal`` is a
    word for the program.
    """

    def __init__(self, folder: Path, earlier: Mapping[str, Any], seal: str) -> None:
        self.seal = seal
        self._folder = folder
        self._sums: Mapping[str, Any] = earlier.get("files", {})
        self._earlier: Mapping[str, Any] = earlier.get("pieces", {})
        self._pages: dict[str, bytes] = {}
        self._waiting: dict[str, tuple[str, Sequence[tuple[int, int]]]] = {}
        self._settled: dict[str, Place] = {}

    def text(self, key: str, blanks: Sequence[str] = ()) -> str | None:
        """The piece, with ``blanks`` in its blanks; None where it must be drawn. It counts among the pieces made."""
        place = _place(self._earlier.get(key))
        if place is None or len(place.blanks) != len(blanks):
            return None
        found = self._page(place.page)[place.start : place.start + place.length]
        if len(found) != place.length:
            return None
        kept = [found[start:end] for start, end in list(pairwise(_ends(place)))[::2]]
        whole, spans = kept[0], list[tuple[int, int]]()
        for blank, after in zip(blanks, kept[1:], strict=True):
            spans.append((len(whole), len(blank.encode())))
            whole += blank.encode() + after
        text = whole.decode()
        self.made(key, text, spans)
        return text

    def made(self, key: str, text: str, blanks: Sequence[tuple[int, int]] = ()) -> None:
        """Note a piece that will stand in a page that is settled later."""
        self._waiting[key] = text, blanks

    def settle(self, page: str, content: bytes) -> None:
        """Find the pieces made so far in this page; those that do not stand in it wait for the next."""
        for key, (text, blanks) in list(self._waiting.items()):
            piece = text.encode()
            start = content.find(piece)
            if start >= 0:
                self._settled[key] = Place(page, start, len(piece), tuple(blanks))
                del self._waiting[key]

    def listing(self) -> dict[str, list[Any]]:
        """Where every piece stands, for the manifest."""
        return {
            key: [*place[:3], [list(blank) for blank in place.blanks]] for key, place in sorted(self._settled.items())
        }

    def _page(self, name: str) -> bytes:
        """The page where it is as that run left it, else nothing."""
        if name not in self._pages:
            try:
                content = (self._folder / name).read_bytes()
            except (OSError, ValueError):
                content = b""
            is_own = self._sums.get(name) == hashlib.sha256(content).hexdigest()
            self._pages[name] = content if is_own else b""
        return self._pages[name]


def _place(listed: Any) -> Place | None:
    """A place as the manifest lists it, or None where it is none."""
    try:
        page, start, length, blanks = listed
        place = Place(str(page), int(start), int(length), tuple((int(one), int(other)) for one, other in blanks))
    except (TypeError, ValueError):
        return None
    return place if place.start >= 0 and _ends(place) == sorted(_ends(place)) else None


def _ends(place: Place) -> list[int]:
    """Where what stays and what may differ take turns, in bytes of the piece."""
    return [0, *(edge for start, length in place.blanks for edge in (start, start + length)), place.length]


@contextmanager
def reusing(pieces: Pieces) -> Iterator[None]:
    """Have what is drawn inside be taken from ``pieces`` where it can be, and noted there."""
    before = _IN_REACH.set(pieces)
    try:
        yield
    finally:
        _IN_REACH.reset(before)


def pieces_in_reach() -> Pieces | None:
    """The pieces in force; None where everything is drawn."""
    return _IN_REACH.get()


def piece_key(*made_from: object) -> str:
    """A digest of all that a piece is made from, with the program and the language; empty where nothing is in reach.

    It is of the words that Python has for each value: texts, numbers, instants, lists, dicts and frozen dataclasses of
    these are told whole. What tells only its address has no digest, and is drawn every time.
    """
    pieces = pieces_in_reach()
    if pieces is None:
        return ""
    told, spoken = repr(made_from), spoken_language()
    if NO_NAME in told:
        return ""
    return digest(repr((pieces.seal, _drawn_with(), spoken.tag, str(spoken.locale), told)))


@cache
def _drawn_with() -> tuple[str, ...]:
    return tuple(f"{name} {version(name)}" for name in DRAWN_WITH)


_IN_REACH: ContextVar[Pieces | None] = ContextVar("in_reach", default=None)

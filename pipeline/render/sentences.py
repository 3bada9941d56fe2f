"""A sentence of an account and the rows that prove it: nothing is said of the logs without its lines."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.render.reading import Row

Ref = tuple[str, int]  # a file as the ledger names it, and a line in it


@dataclass(frozen=True)
class Sentence:
    """What is said, and the (file, line) of each row that proves it, in the order in which they are best read.

    Without lines is only what says that something is not recorded.
    """

    text: str
    lines: tuple[Ref, ...] = ()


def refs(*rows: Row | None) -> tuple[Ref, ...]:
    """The (file, line) of each row once, in order; a row that is missing or that stands in no file is passed over."""
    found = [(row["file"], row["line"]) for row in rows if row is not None and row.get("line") is not None]
    return tuple(dict.fromkeys(found))

"""What passes through the doors of the rooms: frozen, and nothing that computes."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Literal

LoadAction = Literal["loaded", "unchanged", "changed", "grown", "read again", "gone", "withdrawn", "readmitted"]
Severity = Literal["stop", "note"]


@dataclass(frozen=True)
class FileLoad:
    """One feed file and what this run did with it; ``rows`` counts its rows, for ``gone`` those taken out.

    ``file`` is relative to the site with "/" between folders; ``sha256`` is of the bytes as stored, ``was_sha256`` of
    those that were read before. ``changed``: other bytes, superseded as a whole; ``grown``: bytes appended, only these
    were read; ``read again``: the same bytes, read another way; ``withdrawn``: a person took it out.
    """

    file: str
    feed: str
    sha256: str
    action: LoadAction
    rows: int
    was_sha256: str | None = None


@dataclass(frozen=True)
class LoadResult:
    """What loading a site did: each file, and whether the database holds anything else than before.

    ``notes`` are whole sentences for the narration, such as why unchanged files were read again.
    """

    files: tuple[FileLoad, ...]
    is_changed: bool
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class CheckOutcome:
    """One data check and how it went; ``touches`` names the figures that may be wrong where it failed.

    ``found_count`` rows, of the ``of_count`` that were looked at, break the rule. A check of severity ``stop`` that did
    not pass means that figures cannot be believed; a ``note`` is to be known when reading them.
    """

    check_id: str
    table: str
    rule: str
    severity: Severity
    why: str
    touches: tuple[str, ...]
    found_count: int
    of_count: int
    passed: bool


@dataclass(frozen=True)
class CheckResult:
    """All data checks in the order of the suites; ``is_stopped`` where one of severity ``stop`` did not pass."""

    is_stopped: bool
    results: tuple[CheckOutcome, ...]


@dataclass(frozen=True)
class Scope:
    """A group of figures.json; an empty part means all. ``cause`` is "top: second", or "top" where there is no second.

    Groups are: nothing (the total), a month, a channel, a machine, a month and a channel; a file (its account of rows);
    a cause, in all or of a month; a pattern ("kind: name", such as "reel: K1705-1A").
    """

    month: str = ""
    channel: str = ""
    machine: str = ""
    file: str = ""
    cause: str = ""
    pattern: str = ""

    @property
    def named(self) -> dict[str, str]:
        """The parts that are not empty, by name."""
        return {part.name: getattr(self, part.name) for part in fields(self) if getattr(self, part.name)}

    def __str__(self) -> str:
        """Such as "month 2031-03, channel Night"; of everything "the whole site"."""
        return ", ".join(f"{name} {value}" for name, value in self.named.items()) or "the whole site"

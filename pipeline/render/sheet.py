"""One page before it is filled in: its name, template and what goes into it."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pipeline.render.history_links import Links

SLUG_LENGTH = 60
WINDOW = "window-"  # the ids of incidents begin with a year, so none begins with this


@dataclass(frozen=True)
class Sheet:
    """A page to be: ``name`` is its file name, ``period`` stands in the title block.

    ``not_known`` are the sentences of its section "What is not known"; ``context`` is what its template reads.
    ``links``: the only machines and reels that it may link to; None: all of the site.
    """

    name: str
    template: str
    title: str
    period: str
    context: Mapping[str, Any]
    not_known: tuple[str, ...] = ()
    links: Links | None = None
    is_front: bool = field(default=False)


@dataclass(frozen=True)
class LateSheet:
    """A page to be of which all is known that it will be made from: ``key`` is a digest of it, and ``make`` makes it.

    Where an earlier run made the same of the same, it need not be made. ``blanks`` are short texts on the page that may
    differ all the same; ``printed`` are the elements that hold them, one each, as they stand on the page one after the
    other behind the text ``after``.
    """

    name: str
    template: str
    title: str
    period: str
    key: str
    make: Callable[[], Sheet]
    blanks: tuple[str, ...] = ()
    printed: tuple[str, ...] = ()
    after: str = ""
    is_front: bool = field(default=False)


def incident_page(incident: str) -> str:
    """File name of the page of an incident, or of a stretch of time that is none, whose name says so itself."""
    return f"{incident}.html" if incident.startswith(WINDOW) else f"incident-{incident}.html"


def month_page(month: str) -> str:
    """File name of a month's page."""
    return f"month-{month}.html"


def year_before(month: str) -> str:
    """ "2030-03" from "2031-03"."""
    year, _, number = month.partition("-")
    return f"{int(year) - 1:04}-{number}"


def slug(name: str) -> str:
    """Letters, digits and hyphens for a part of a page's name, never empty; unlike names may read alike."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:SLUG_LENGTH].rstrip("-") or "x"

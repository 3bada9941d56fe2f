"""Where the history of every machine and reel stands: a page of its own, or its row in the list of all reels.

A name of the data is never a file name or a place on a page by itself. It is made one by ``slug``, and names that read
alike get an ordinal, so that each leads to its own page whatever it holds.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from markupsafe import Markup, escape

from pipeline.render.language import say
from pipeline.render.sheet import slug
from pipeline.store import Store

MOST_MACHINES = 500  # names beyond it are no machines any more but a column gone wrong
REELS_A_PAGE = 500  # so that no part of the list exceeds 500 kB
REELS_PAGE = "reels"
# Named is every reel of the site. Told on a page of its own is one that had a fault in its playing, an event on air or
# a ticket (and so any that a ruling speaks of, for rulings speak of events). All others have their row in the list.
NAMED_REELS = """
told as (
    select reel from measure_playback_faults
    union select name from measure_pattern_events where kind = 'reel'
    union select reel from clean_tickets
),
named as (
    select reel from clean_bookings
    union select reel from clean_reels
    union select reel from told
)
"""
REELS = f"""
with
{NAMED_REELS}
select n.reel, t.reel is not null as is_told
from named as n left join told as t on n.reel = t.reel
where n.reel is not null order by n.reel
"""
REGISTERED = "select distinct machine from clean_machines where machine is not null order by machine"


@dataclass(frozen=True)
class Links:
    """``machines``: name → page. ``reels``: id → page. ``places``: id → the list's part with its row there."""

    machines: Mapping[str, str] = field(default_factory=dict)
    reels: Mapping[str, str] = field(default_factory=dict)
    places: Mapping[str, str] = field(default_factory=dict)

    def machine_link(self, name: str | None, text: object = None) -> Markup:
        """``text`` (the name, if None) as a link to the machine's page; plain where it has none, such as standby."""
        return _link(self.machines, name, text)

    def reel_link(self, reel: str | None, text: object = None) -> Markup:
        """``text`` (the id, if None) as a link to the reel's page, or to its row in the list of all reels."""
        return _link(self.reels if reel in self.reels else self.places, reel, text)

    def only(self, reels: Iterable[str | None]) -> Links:
        """The links of all machines and of these reels."""
        named = [reel for reel in dict.fromkeys(reels) if reel is not None]
        return Links(
            self.machines,
            {reel: self.reels[reel] for reel in named if reel in self.reels},
            {reel: self.places[reel] for reel in named if reel in self.places},
        )


def _link(pages: Mapping[str, str], name: str | None, text: object) -> Markup:
    if name is None:
        return escape(say("not recorded"))
    shown = name if text is None else text
    return Markup('<a href="{}">{}</a>').format(pages[name], shown) if name in pages else escape(shown)


def read_links(store: Store, figures: Mapping[str, Any]) -> Links:
    """The links of a site: machines of the register or with a figure, reels booked, labelled or on a ticket.

    Reads ``clean_bookings``, ``clean_reels``, ``clean_tickets``, ``clean_machines``, ``measure_playback_faults`` and
    ``measure_pattern_events``. ``figures`` is the content of figures.json.
    """
    registered = store.read(REGISTERED)["machine"].to_list()
    reels = store.read(REELS)
    told = reels.filter(reels["is_told"])["reel"].to_list()
    return make_links([*registered, *used_machines(figures)], reels["reel"].to_list(), told)


def used_machines(figures: Mapping[str, Any]) -> list[str]:
    """The machines of which figures.json counts anything: air, cover, or an event."""
    return [
        entry["machine"]
        for entry in figures["machines"]
        if any(isinstance(value, int | float) and value for value in entry.values())
    ]


def make_links(machines: Iterable[str], reels: Iterable[str], told: Iterable[str]) -> Links:
    """The links of these machines, of all ``reels``, and of those of them that have a page of their own."""
    names = sorted(set(machines))[:MOST_MACHINES]
    words, rows = unique_slugs(names), unique_slugs(sorted(set(reels)))
    return Links(
        {name: f"machine-{words[name]}.html" for name in names},
        {reel: f"reel-{rows[reel]}.html" for reel in told},
        {reel: f"{reels_page(number)}#{REELS_PAGE}-{word}" for number, (reel, word) in enumerate(rows.items())},
    )


def reels_page(number: int) -> str:
    """File name of the part of the list that holds the reel of this number, from 0, in order of id."""
    part = number // REELS_A_PAGE + 1
    return f"{REELS_PAGE}.html" if part == 1 else f"{REELS_PAGE}-{part}.html"


def unique_slugs(names: Iterable[str]) -> dict[str, str]:
    """A slug for each name, no two alike: of names that read alike the later ones, in this order, get an ordinal."""
    words: dict[str, str] = {}
    taken: set[str] = set()
    last: dict[str, int] = {}
    for name in names:
        base = slug(name)
        word, number = base, last.get(base, 1)
        while word in taken:
            number += 1
            word = f"{base}-{number}"
        last[base] = number
        taken.add(word)
        words[name] = word
    return words

"""The pages of lists: for every group of figures, every figure with the stretches it is made of and their rows.

A short list is shown whole with its source rows, a long one as exact sums that lead on to narrower pages, so that every
figure can be followed down to lines of files and no page grows without bound.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain, groupby
from typing import Any

from pipeline.render.definitions import read_terms
from pipeline.render.evidence_door import Evidence
from pipeline.render.index import period
from pipeline.render.language import say
from pipeline.render.lines_blocks import Block, Page, Taken, take_apart
from pipeline.render.lines_entries import cause_names, entries
from pipeline.render.lines_files import file_pages, files_sheets
from pipeline.render.lines_items import Items
from pipeline.render.lines_names import (
    FigureLinks,
    Key,
    figure_entry,
    page_names,
    scopes_with_pages,
)
from pipeline.render.lines_sums import Bound
from pipeline.render.lines_weight import lightened
from pipeline.render.lines_words import CAUSE, TERMS, key_words, name_of, section_of
from pipeline.render.page_weight import MOST_BYTES, fitting, text_bytes
from pipeline.render.reading import Reading
from pipeline.render.sheet import Sheet
from pipeline.render.words import hours, month_name

MOST_MONTHS = 48  # beyond it long lists are summed by year
FRAME_BYTES = 35_000  # of the head and foot of a page and its list of contents
NARROWER_BYTES = 25_000  # of the links to all months, all channels, or all machines


@dataclass(frozen=True)
class Section:
    """The figures that share a heading: one, or the parts of a nested one; those of one ``groups`` share their how."""

    id: str
    name: str
    definition: str | None
    groups: tuple[tuple[Block, ...], ...]


def figure_links(reading: Reading, evidence: Evidence) -> FigureLinks:
    """Where the list of every figure will stand."""
    scopes = scopes_with_pages(evidence, reading.figures)
    places = {
        key: frozenset(
            place for one in entries(evidence, reading.figures, scope) for place in (one.id, section_of(one.id))
        )
        for key, scope in scopes.items()
    }
    return FigureLinks(page_names(scopes), places, file_pages(reading.figures["files"]))


def lines_sheets(reading: Reading, evidence: Evidence, links: FigureLinks) -> Iterator[Sheet]:
    """One sheet a scope, the total first, and one of the files; all items are gathered before rows are looked up."""
    items = Items(evidence, reading.local)
    scopes = scopes_with_pages(evidence, reading.figures)
    taken = {
        key: take_apart(evidence, entries(evidence, reading.figures, scope), scope, items)
        for key, scope in scopes.items()
    }
    items.look_up()
    days, months = _bounds(reading)
    is_by_year = len(months) > MOST_MONTHS
    terms = read_terms()
    for key in scopes:
        bounds = days if key[0] else _years(months) if is_by_year else months
        page = Page(key, links, terms, bounds, items, is_by_year=is_by_year and not key[0])
        yield _sheet(reading, page, taken[key])
    yield from files_sheets(reading, evidence, links)


def _sheet(reading: Reading, page: Page, taken: Mapping[str, Taken]) -> Sheet:
    words, narrower = key_words(page.key), _narrower(page)
    left = MOST_BYTES - FRAME_BYTES - sum(map(_link_bytes, chain.from_iterable(group["pages"] for group in narrower)))
    blocks, is_full = lightened(list(page.blocks(taken)), left)
    context = {
        "sections": list(_sections(page, blocks, cause_names(reading.figures, page.key))),
        "of_what": words,
        "wider": _wider(page),
        "narrower": narrower,
        "by": "day" if page.key[0] else "year" if page.is_by_year else "month",
        "is_full": is_full,
    }
    spoken = month_name(page.key[0]) if page.key[0] else period(reading.figures)
    entry = figure_entry(reading.figures, page.key)
    title = say("Lines behind the figures: {of_what}", of_what=words)
    return Sheet(page.links.pages[page.key], "lines.html.j2", title, spoken, context, not_known(entry))


def _sections(page: Page, blocks: Sequence[Block], causes: Sequence[str]) -> Iterator[Section]:
    for place, own in groupby(blocks, key=lambda block: section_of(block.id)):
        term = page.terms.get("causes" if place.startswith(CAUSE) else TERMS.get(place, place))
        groups = tuple(tuple(group) for _, group in groupby(own, key=_how))
        yield Section(place, name_of(place, page.terms, causes), term.href if term else None, groups)


def _how(block: Block) -> tuple[object, ...]:
    """Alike for blocks that come about alike and list nothing themselves."""
    return (block.how, block.of) if block.of else (block.id,)


def _bounds(reading: Reading) -> tuple[tuple[Bound, ...], tuple[Bound, ...]]:
    """The days and the months of the site."""
    days = reading.site["days"]
    firsts = [next(rows) for _, rows in groupby(days, key=lambda row: row["month"])]
    return (
        tuple(Bound(str(row["day"]), row["started_at_utc"]) for row in days),
        tuple(Bound(row["month"], row["started_at_utc"]) for row in firsts),
    )


def _years(months: Sequence[Bound]) -> tuple[Bound, ...]:
    """Months as years, each from its first month on."""
    firsts = (next(own) for _, own in groupby(months, key=lambda month: month.name[:4]))
    return tuple(Bound(first.name[:4], first.started_at_utc) for first in firsts)


def _link_bytes(page: Mapping[str, str]) -> int:
    return text_bytes(page["href"]) + text_bytes(page["name"]) + 20


def _wider(page: Page) -> list[dict[str, str]]:
    """The pages that this one is a part of."""
    month, channel, _ = page.key
    keys: list[Key] = [("", "", "")] if any(page.key) else []
    keys += [key for key in ((month, "", ""), ("", channel, "")) if month and channel and key in page.links.pages]
    return [{"href": page.links.pages[key], "name": key_words(key)} for key in keys]


def _narrower(page: Page) -> list[dict[str, Any]]:
    """The pages that are parts of this one: of all its months, channels, machines."""
    groups = []
    for place, name in enumerate((say("By month"), say("By channel"), say("By machine"))):
        keys = [key for key in page.links.pages if _is_part(key, page.key, place)]
        if keys:
            pages = [{"href": page.links.pages[key], "name": _short(key, place)} for key in keys]
            shown = fitting(pages, NARROWER_BYTES, _link_bytes)
            groups.append({"name": name, "pages": shown, "left": len(pages) - len(shown)})
    return groups


def _is_part(key: Key, of: Key, place: int) -> bool:
    """Whether ``key`` is ``of`` with the part at ``place`` named as well."""
    return not of[place] and bool(key[place]) and (*key[:place], "", *key[place + 1 :]) == of


def _short(key: Key, place: int) -> str:
    return month_name(key[place]) if place == 0 else key[place]


def not_known(entry: Mapping[str, Any]) -> tuple[str, ...]:
    """What the lists of a page leave open, in sentences."""
    unknown, unproved = hours(entry["unknown_s"]), hours(entry["unproved_s"])
    facts = [
        (
            entry["unknown_s"],
            say("What was on air in {hours}: no row tells, so none is listed for it.", hours=unknown),
        ),
        (entry["unproved_s"], say("Whether protect was in step in {hours}: no row proves it.", hours=unproved)),
        (True, say("What no row holds: an edge that rests on a silence is shown by the last row before it.")),
    ]
    return tuple(words for is_so, words in facts if is_so)

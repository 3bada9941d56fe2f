"""What the register of a report holds: every name a reader may look for, and where it leads, kind by kind."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass

from pipeline.render.cause_names import cause_text
from pipeline.render.definitions import read_terms
from pipeline.render.history_machines import grouped
from pipeline.render.language import say
from pipeline.render.lines_names import FigureLinks
from pipeline.render.page_words import what
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sheet import incident_page
from pipeline.render.transports.parts_numbers import kind_word
from pipeline.render.words import month_name

LONGEST = 120  # characters of an entry, so that no text of the data makes the register long
FEW = 30  # entries that stand without letters over them
OWN_KINDS = ("incident-", "machine-", "reel-", "reels", "find")  # pages that the register names by what they are on


@dataclass(frozen=True)
class Entry:
    """A name and where it leads; None where no page tells of it. ``group`` is the heading it stands under, or empty."""

    text: str
    href: str | None
    group: str = ""


@dataclass(frozen=True)
class Section:
    """All entries of a kind in their order: its place on the page, its title, and the word for one of them."""

    id: str
    title: str
    one: str
    entries: tuple[Entry, ...]


def find_sections(reading: Reading, links: FigureLinks, titles: Mapping[str, str]) -> tuple[Section, ...]:
    """The sections of the register; ``titles`` are those of all other pages by file name, in their order.

    Machines come first, so that they stand on the first page of the register however long it is.
    """
    drafts = (
        ("machines", say("Machines"), say("machine"), _machines(reading)),
        ("incidents", say("Incidents by date"), say("incident"), _incidents(reading)),
        ("tickets", say("Tickets"), say("ticket"), _tickets(reading)),
        ("programmes", say("Programmes with an event"), say("programme"), _programmes(reading)),
        ("channels", say("Channels"), say("channel"), _channels(reading, links)),
        ("parts", say("Heads and parts"), say("head or part"), _parts(reading)),
        ("terms", say("Terms"), say("term"), _terms()),
        ("pages", say("Pages"), say("page"), _pages(titles)),
        ("reels", say("Reels"), say("reel"), _reels(reading)),
    )
    return tuple(Section(id_, title, one, tuple(_cut(entries))) for id_, title, one, entries in drafts)


def _cut(entries: Iterable[Entry]) -> Iterator[Entry]:
    for one in entries:
        yield one if len(one.text) <= LONGEST else Entry(f"{one.text[: LONGEST - 1]}…", one.href, one.group)


def by_letter(entries: Iterable[Entry]) -> list[Entry]:
    """The entries by their text, under the letter they begin with where there are many."""
    listed = sorted(entries, key=lambda one: (one.text.casefold(), one.text, one.href or ""))
    if len(listed) <= FEW:
        return listed
    return [Entry(one.text, one.href, first_letter(one.text)) for one in listed]


def first_letter(text: str) -> str:
    """The sign an entry stands under: its first letter or digit, as a capital."""
    return next((sign for sign in text.upper() if sign.isalnum()), "–")


def _machines(reading: Reading) -> list[Entry]:
    return by_letter(Entry(name, page) for name, page in reading.links.machines.items())


def _reels(reading: Reading) -> list[Entry]:
    links = reading.links
    return by_letter(
        Entry(f"{row['reel']}, {row['programme']}" if row["programme"] else row["reel"], place)
        for row in reading.site["reels"]
        for place in (links.reels.get(row["reel"]) or links.places[row["reel"]],)
    )


def _incidents(reading: Reading) -> Iterator[Entry]:
    parts = grouped(reading.parts, "incident")
    for incident in reading.incidents:
        own = parts.get(incident["incident"], [])
        facts = [*_once(own, what), *([incident["machines"]] if incident["machines"] else []), *_once(own, _cause)]
        text = f"{reading.local.stamp(incident['started_at_utc'])}, {incident['channel']}: {'; '.join(facts)}"
        month = month_name(incident["month"]) if incident["month"] else ""
        yield Entry(text, incident_page(incident["incident"]), month)


def _once(parts: Rows, word: Callable[[Row], str]) -> list[str]:
    return [text for text in dict.fromkeys(word(part) for part in parts) if text]


def _cause(part: Row) -> str:
    return cause_text(part["top"], part["second"]) if part["top"] else ""


def _tickets(reading: Reading) -> Iterator[Entry]:
    for row in reading.site["tickets"]:
        opened = reading.local.minute(row["opened_at_utc"])[:10] if row["opened_at_utc"] else ""
        facts = [row["ticket"], row["machine"], opened, row["symptom"]]
        yield Entry(", ".join(fact for fact in facts if fact), _ticket_place(reading, row), _year(opened))


def _year(day: str) -> str:
    return day[:4]


def _ticket_place(reading: Reading, row: Row) -> str | None:
    """Where a ticket is told of: in its incident, else with its machine, else with the reel it names."""
    links = reading.links
    if row["incident"]:
        return incident_page(row["incident"])
    if row["machine"] in links.machines:
        return f"{links.machines[row['machine']]}#tickets"
    return links.reels.get(row["reel"] or "")


def _programmes(reading: Reading) -> list[Entry]:
    local = reading.local
    return by_letter(
        Entry(
            f"{row['programme']} ({row['transmission']}), {local.minute(row['started_at_utc'])}",
            incident_page(row["incident"]),
        )
        for row in reading.site["programmes"]
    )


def _channels(reading: Reading, links: FigureLinks) -> list[Entry]:
    names = [group["channel"] for group in reading.figures["channels"]]
    return by_letter(Entry(name, links.pages.get(("", name, ""))) for name in names)


def _parts(reading: Reading) -> list[Entry]:
    """Each head serial and part with each machine that had it, once."""
    pages = reading.links.machines
    rows = dict.fromkeys((row["kind"], row["detail"], row["machine"]) for row in reading.site["machine_parts"])
    return by_letter(
        Entry(_part(kind, detail, machine), f"{pages[machine]}#parts" if machine in pages else None)
        for kind, detail, machine in rows
    )


def _part(kind: str, detail: str | None, machine: str) -> str:
    named = kind_word(kind) if not detail or detail == kind else f"{kind_word(kind)} {detail}"
    return f"{named}, {machine}"


def _terms() -> list[Entry]:
    return by_letter(Entry(term.name, term.href) for term in read_terms().values())


def _pages(titles: Mapping[str, str]) -> list[Entry]:
    return by_letter(Entry(title, name) for name, title in titles.items() if not name.startswith(OWN_KINDS))

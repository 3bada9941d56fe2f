"""One page for each reel that had a fault, an event or a ticket, and the list of all reels in parts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from pipeline.render.history_links import REELS_A_PAGE, reels_page
from pipeline.render.history_machine_words import HOUR
from pipeline.render.history_machines import MOST_BYTES, grouped, latest, row_bytes
from pipeline.render.history_reel_words import (
    Playing,
    Reel,
    all_reels,
    happened,
    not_known,
    opening,
    recordist,
    reels_not_known,
)
from pipeline.render.index import period
from pipeline.render.language import say
from pipeline.render.page_weight import fitting
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sheet import Sheet

MOST_PLAYINGS = 200
MOST_TICKETS = 50
NEIGHBOURS = 5  # before and after, recorded on the same machine
LONGEST = 60  # characters of a label in the list, so that its parts stay below 500 kB
PLAYS = ("air", "protect")
CUT = ("programme", "show_name", "recorded_on")


@dataclass(frozen=True)
class Shelf:
    """All rows on reels by reel; the reels of each recording machine in order of time; those whose ids read alike."""

    rows: Mapping[str, Mapping[str, Rows]]
    by_recorder: Mapping[str, Rows]
    alike: Mapping[str, Rows]
    played_count: int

    def of(self, table: str, reel: str) -> Rows:
        """The rows of ``table`` on a reel."""
        return self.rows[table].get(reel, [])


def reel_sheets(reading: Reading) -> Iterator[Sheet]:
    """The list of all reels, then one sheet a reel that has something to tell, in order of id."""
    reels = reading.site["reels"]
    yield from list_sheets(reading)
    shelf = shelf_of(reading)
    for row in reels:
        if row["reel"] in reading.links.reels:
            yield _sheet(reading, shelf, row)


def shelf_of(reading: Reading) -> Shelf:
    """The rows of a reading, grouped once for all reels."""
    tables = {name: grouped(reading.site[name], "reel") for name in TABLES}
    tables["parts"] = grouped(reading.parts, "reel")
    reels = reading.site["reels"]
    dated = [row for row in reels if row["recorded_at_utc"] is not None]
    dated.sort(key=lambda row: (row["recorded_at_utc"], row["reel"]))
    known = [{**row, "plain": plain(row["reel"])} for row in reels if row["is_labelled"] or row["bookings_count"]]
    return Shelf(
        tables, grouped(dated, "recorded_on"), grouped(known, "plain"), sum(bool(row["played_h"]) for row in reels)
    )


TABLES = ("reel_bookings", "reel_faults", "played_on", "tickets")


def plain(reel: str) -> str:
    """An id with letters and digits that are mistaken for each other made alike: O and 0, I, l and 1."""
    return reel.upper().replace("O", "0").replace("I", "1").replace("L", "1")


def _sheet(reading: Reading, shelf: Shelf, row: Row) -> Sheet:
    one = reel_of(shelf, row)
    context = {
        "one": one,
        "row": row,
        "told": opening(one, reading.local),
        "playings": fitting(one.playings[::-1][:MOST_PLAYINGS], MOST_BYTES, playing_bytes),
        "tickets": latest(one.tickets, MOST_TICKETS),
        "neighbours": neighbours(shelf.by_recorder.get(row["recorded_on"], []), row),
        "recordist": recordist(row),
        "list_place": reading.links.places[row["reel"]],
        "happened": happened,
        "hour": HOUR,
    }
    title = say("Reel {reel}", reel=row["reel"])
    name = reading.links.reels[row["reel"]]
    return Sheet(name, "reel.html.j2", title, period(reading.figures), context, not_known(one))


def reel_of(shelf: Shelf, row: Row) -> Reel:
    """All that is known of one reel."""
    reel = row["reel"]
    is_unknown = not row["is_labelled"] and not row["bookings_count"]
    faults = shelf.of("reel_faults", reel)
    return Reel(
        row=row,
        playings=playings(shelf.of("reel_bookings", reel), shelf.of("parts", reel), faults),
        faults=tuple(faults),
        tickets=shelf.of("tickets", reel),
        players=shelf.of("played_on", reel),
        alike=tuple(other["reel"] for other in shelf.alike.get(plain(reel), [])) if is_unknown else (),
        of_count=shelf.played_count,
    )


def playings(bookings: Rows, parts: Rows, faults: Rows) -> list[Playing]:
    """Every playing on air or as protect with what happened in it, in order of time.

    An event on air belongs to the booking it began in; a fault elsewhere to the booking that ran up to it. Of two
    bookings of a machine at once the later has both.
    """
    plays = [row for row in bookings if row["role"] in PLAYS and not row["is_ahead"]]
    found: list[tuple[Rows, Rows]] = [([], []) for _ in plays]
    for part in parts:
        place = _place(plays, part["machine"], part["started_at_utc"], is_start_in=True)
        if place is not None:
            found[place][0].append(part)
    for fault in faults:
        place = _place(plays, fault["machine"], fault["at_utc"], is_start_in=False)
        if place is not None and fault["incident"] is None:
            found[place][1].append(fault)
    return [Playing(row, tuple(events), tuple(others)) for row, (events, others) in zip(plays, found, strict=True)]


def _place(plays: Rows, machine: str, at_utc: datetime, *, is_start_in: bool) -> int | None:
    """Where the last playing on this machine that holds the instant stands."""
    holding = (
        place
        for place in range(len(plays) - 1, -1, -1)
        if plays[place]["machine"] == machine
        and _holds(plays[place]["started_at_utc"], plays[place]["ended_at_utc"], at_utc, is_start_in=is_start_in)
    )
    return next(holding, None)


def _holds(started: datetime, ended: datetime, at_utc: datetime, *, is_start_in: bool) -> bool:
    return bool(started <= at_utc < ended if is_start_in else started < at_utc <= ended)


def playing_bytes(playing: Playing) -> int:
    """What the row of a playing weighs on a page at most."""
    return sum(row_bytes(row) for row in (playing.row, *playing.events, *playing.faults))


def neighbours(recorded: Rows, row: Row) -> Rows:
    """The reels recorded on the same machine just before and after this one, in order of time."""
    place = next((place for place, other in enumerate(recorded) if other["reel"] == row["reel"]), None)
    if place is None:
        return []
    near = recorded[max(0, place - NEIGHBOURS) : place + NEIGHBOURS + 1]
    return [other for other in near if other["reel"] != row["reel"]]


def list_sheets(reading: Reading) -> Iterator[Sheet]:
    """All reels in order of id, in parts; there is one part even where there is no reel."""
    reels, reel_count = reading.site["reels"], len(reading.site["reels"])
    firsts = range(0, max(reel_count, 1), REELS_A_PAGE)
    pages = [
        {"href": reels_page(first), "first": reels[first]["reel"], "last": reels[last]["reel"]}
        for first, last in pairwise([*firsts, reel_count])
        for last in (last - 1,)
        if reels
    ]
    for first in firsts:
        context = {
            "told": [all_reels(reels, len(reading.links.reels))],
            "rows": [_cut(row) for row in reels[first : first + REELS_A_PAGE]],
            "pages": pages if len(pages) > 1 else [],
            "here_page": reels_page(first),
            "place_of": lambda reel: reading.links.places[reel].partition("#")[2],
            "hour": HOUR,
        }
        title = say("Reels") if len(firsts) == 1 else say("Reels, part {n}", n=first // REELS_A_PAGE + 1)
        yield Sheet(reels_page(first), "reels.html.j2", title, period(reading.figures), context, reels_not_known(reels))


def _cut(row: Row) -> Row:
    return {**row, "id": shortened(row["reel"]), **{name: shortened(row[name]) for name in CUT}}


def shortened(text: str | None) -> str | None:
    """A text of the data cut to what a row of the list has room for."""
    return text if text is None or len(text) <= LONGEST else f"{text[: LONGEST - 1]}…"

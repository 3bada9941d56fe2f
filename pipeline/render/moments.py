"""The moments of an incident: each with its corrected time, its ±, the stamp as written and the rows that prove it.

Two moments by different clocks that lie closer than the sum of both ± have no known order, and are said to have none.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import combinations

from pipeline.render.language import say
from pipeline.render.reading import Row, Rows
from pipeline.render.strip_scene import event_words
from pipeline.render.witness import BAD, FAULTS, Witness
from pipeline.render.words import Local, capital, duration, within

AT_ONCE_S = 5.0  # faults of several machines that lie no further apart are told together
HOUSE, BOOKING, TICKET = "house clock", "booking", "ticket"
SECONDS = re.compile(r"\d:\d\d:?(\d\d)?(?:[.,](\d+))?(?!\d|:)")
LEAST_MARGIN_S = 0.05  # a joint ± below it is not printed beside a length of time


@dataclass(frozen=True)
class Moment:
    """An instant (naive UTC): what it is, by whose clock, ± s (None: not known), and the rows that prove it.

    ``clock`` is a machine's name, or ``HOUSE``, ``BOOKING``, ``TICKET``, or empty where nothing is stamped just there.
    """

    what: str
    at_utc: datetime
    clock: str
    within_s: float | None
    rows: tuple[Row, ...] = ()

    @property
    def stamp(self) -> str:
        """The stamp of its first row as it stands in the file; empty where it is no stamp of a log."""
        return str(self.rows[0].get("at_text") or "") if self.rows else ""

    @property
    def margin(self) -> str:
        """Its ± in words, or on whose word the time rests."""
        if self.clock == BOOKING:
            return say("as booked")
        return say("as the ticket says") if self.clock == TICKET else within(self.within_s)

    @property
    def clock_name(self) -> str:
        """By whose clock, in words; empty where nothing is stamped just there."""
        named = {HOUSE: say("house clock"), BOOKING: say("booking"), TICKET: say("ticket")}
        return named.get(self.clock, self.clock)


def take_margin(at_text: str | None) -> float:
    """The ± of a stamp of the house clock, s: one step of its last written digit; 0 where no digits are written.

    The house clock is the reference, so all that is not known of a take's time is what its stamp leaves out.
    """
    found = SECONDS.search(at_text or "")
    if found is None:
        return 0.0
    if found.group(1) is None:
        return 60.0
    return 10.0 ** -len(found.group(2) or "")


def of_event(what: str, row: Row) -> Moment:
    """The moment of a machine's line."""
    return Moment(what, row["at_utc"], str(row["machine"]), row["within_s"], (row,))


def of_take(what: str, row: Row) -> Moment:
    """The moment of a take."""
    return Moment(what, row["at_utc"], HOUSE, take_margin(row.get("at_text")), (row,))


def stamped(what: str, at_utc: datetime, takes: Rows, events: Rows, booked: Sequence[Row] = ()) -> Moment:
    """The moment of what is stamped just there: a take before a machine's line before the edge of a booking."""
    if takes:
        last = of_take(what, takes[-1])
        return Moment(what, at_utc, last.clock, last.within_s, (*takes[::-1], *events))
    if events:
        first = of_event(what, events[0])
        return Moment(what, at_utc, first.clock, first.within_s, tuple(events))
    return Moment(what, at_utc, BOOKING if booked else "", None, tuple(booked))


def joint(one: Moment, other: Moment) -> float | None:
    """The sum of both ±, s; 0 by one clock, None where one is not known."""
    if one.clock == other.clock and one.clock:
        return 0.0
    margins = [moment.within_s for moment in (one, other) if moment.clock != BOOKING]
    return None if None in margins else sum(margin or 0.0 for margin in margins)


def length_margin(one: Moment, other: Moment) -> str:
    """What to print behind a length of time between two moments: " (± 0.3 s)", or nothing where it is small."""
    margin = joint(one, other)
    if margin is None:
        return f" ({within(None)})"
    return f" ({within(margin)})" if margin >= LEAST_MARGIN_S else ""


def onset(part: Row, witness: Witness) -> Moment | None:
    """When trouble began on the machine left: its first word of not good, else its open alarm."""
    at_utc = part["onset_at_utc"]
    if at_utc is None:
        return None
    rows = witness.events_at(part["machine"], at_utc)
    telling = [row for row in rows if row["event"] in BAD | FAULTS] or rows
    standing = [row for row in witness.words(part["machine"], at_utc).values() if row["at_utc"] == at_utc]
    return stamped(say("onset"), at_utc, [], telling or standing)


def begun(part: Row, witness: Witness) -> Moment:
    """When air was lost, or the first take of a switch or of a rescue."""
    at_utc, channel = part["started_at_utc"], part["channel"]
    takes = witness.takes_at(channel, at_utc)
    what = say("another source taken") if part["recovery_no"] is None else say("take")
    if part["recovery_no"] is None or part["interruption_no"] is None:
        return stamped(what, at_utc, takes, [])
    faults = [row for row in witness.events_at(part["machine"], at_utc) if row["event"] in BAD]
    edges = [row for row in witness.booked(at_utc, channel=channel) if row["started_at_utc"] == at_utc]
    away = [row for row in takes if faults == [] or row["to_machine"] == part["machine"]]
    return stamped(say("air lost"), at_utc, away, faults, edges)


def taken(part: Row, witness: Witness) -> Moment | None:
    """The first take away from the machine."""
    if part["take_at_utc"] is None:
        return None
    rows = witness.takes_at(part["channel"], part["take_at_utc"])
    away = [row for row in rows if row["from_machine"] == part["machine"]]
    return stamped(say("take"), part["take_at_utc"], away[-1:] or rows, [])


def air_back(part: Row, witness: Witness) -> Moment | None:
    """When air came back; None where it did not, or was not lost."""
    if part["interruption_no"] is None or not part["is_back"]:
        return None
    at_utc, channel = part["ended_at_utc"], part["channel"]
    takes = witness.takes_at(channel, at_utc)
    feed = next((row["feed"] for row in witness.rows("feeds") if _is_feed(row, channel, at_utc)), part["machine"])
    edges = [
        row for row in witness.booked(at_utc, channel=channel) if at_utc in (row["started_at_utc"], row["ended_at_utc"])
    ]
    return stamped(say("air back"), at_utc, takes, witness.events_at(feed, at_utc), edges)


def _is_feed(row: Row, channel: str, at_utc: datetime) -> bool:
    return bool(row["channel"] == channel and row["started_at_utc"] <= at_utc < row["ended_at_utc"])


def covered_again(part: Row, witness: Witness) -> Moment | None:
    """When air was covered again, or covered at all where it had not been before."""
    at_utc = part["covered_again_at_utc"]
    if not part["is_covered_again"] or at_utc is None:
        return None
    events = [row for row in witness.rows("again") if row["event_key"] == part.get("event_key")]
    edges = [row for row in witness.booked(at_utc, channel=part["channel"]) if row["started_at_utc"] == at_utc]
    what = say("covered again") if part["was_covered"] else say("covered")
    return stamped(what, at_utc, witness.takes_at(part["channel"], at_utc), events, edges)


def good_again(part: Row, witness: Witness) -> Moment | None:
    """When the machine left was first logged good again: rolling, locked, with picture and sound."""
    row = next((row for row in witness.rows("good_again") if row["event_key"] == part.get("event_key")), None)
    if row is None:
        return None
    return of_event(say("{machine} good again: {event}", machine=row["machine"], event=event_words(row)), row)


def restored(part: Row, witness: Witness) -> Moment | None:
    """When the ticket says that the machine was restored."""
    rows = [row for row in witness.rows("tickets") if row["ticket"] == part.get("ticket") and row["ticket"]]
    if not rows or rows[0].get("restored_at_utc") is None:
        return None
    what = say("{machine} restored, says ticket {ticket}", machine=rows[0]["machine"], ticket=rows[0]["ticket"])
    return Moment(what, rows[0]["restored_at_utc"], TICKET, None, (rows[0],))


def other_faults(part: Row, witness: Witness) -> Iterator[Moment]:
    """The first fault of each other machine of the room within ``AT_ONCE_S`` (and both ±) of the beginning."""
    first = begun(part, witness)
    seen = {part["machine"]}
    for row in sorted((*witness.rows("events"), *witness.rows("others_events")), key=lambda row: row["at_utc"]):
        if row["event"] not in FAULTS or row["machine"] in seen:
            continue
        moment = of_event(f"{row['machine']}: {event_words(row)}", row)
        apart = abs((row["at_utc"] - first.at_utc).total_seconds())
        if apart <= AT_ONCE_S + (joint(first, moment) or 0.0):
            seen.add(row["machine"])
            yield moment


def moments_of(part: Row, witness: Witness) -> list[Moment]:
    """The moments of a part in order of time, each once: what is not recorded or does not apply is not among them."""
    start = begun(part, witness)
    if part["recovery_no"] is None:
        rows = witness.takes_at(part["channel"], part["ended_at_utc"])
        return [start, stamped(say("other source left"), part["ended_at_utc"], rows, [])]
    first = onset(part, witness)
    found = [first] if first is not None and first.at_utc != start.at_utc else []
    found += [start] if first is None or first.at_utc != start.at_utc else [_both(first, start)]
    take = taken(part, witness)
    rest = [take if take and take.at_utc != start.at_utc else None, air_back(part, witness)]
    rest += [covered_again(part, witness), good_again(part, witness), restored(part, witness)]
    found += [moment for moment in rest if moment is not None]
    found += other_faults(part, witness)
    return sorted(found, key=lambda moment: moment.at_utc)


def _both(first: Moment, start: Moment) -> Moment:
    rows = tuple({(row["file"], row["line"]): row for row in (*first.rows, *start.rows)}.values())
    return Moment(say("onset and {what}", what=start.what), start.at_utc, first.clock, first.within_s, rows)


def order_not_known(moments: Sequence[Moment], local: Local) -> list[str]:
    """A sentence for each two moments of different clocks closer than their joint ±, and for a clock without a ±."""
    told = []
    for one, other in combinations(moments, 2):
        margin, apart_s = joint(one, other), abs((other.at_utc - one.at_utc).total_seconds())
        is_stamped = all(moment.clock not in ("", BOOKING, TICKET) for moment in (one, other))
        if is_stamped and one.clock != other.clock and margin is not None and apart_s < margin:
            told.append(_close(one, other, local, margin))
    loose = dict.fromkeys(moment.clock for moment in moments if moment.within_s is None)
    return told + [
        say(
            "The ± of the clock of {clock} is not known, so its order against every other clock is not either.",
            clock=clock,
        )
        for clock in loose
        if clock not in ("", HOUSE, BOOKING, TICKET)
    ]


def _close(one: Moment, other: Moment, local: Local, margin: float) -> str:
    apart = duration(abs((other.at_utc - one.at_utc).total_seconds()))
    return say(
        "{one} ({one_time}, {one_margin}) and {other} ({other_time}, {other_margin}): {apart} apart, joint ± {joint}, "
        "so their order is not known.",
        one=capital(one.what), one_time=local.time(one.at_utc), one_margin=one.margin, other=other.what,
        other_time=local.time(other.at_utc), other_margin=other.margin, apart=apart, joint=duration(margin),
    )  # fmt: skip

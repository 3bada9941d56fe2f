"""What a reel's page opens with: its label, its playings, its faults against those expected, and where else."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from pipeline.render.history_machine_words import HOUR, some
from pipeline.render.language import say, say_counted, whole
from pipeline.render.page_words import what
from pipeline.render.pattern_words import onset_word
from pipeline.render.words import Local, counted, duration, figure, hours, limits
from pipeline.statistics import poisson_limits

Row = Mapping[str, Any]


@dataclass(frozen=True)
class Playing:
    """One booking on air or as protect that has begun, the events on air that began in it, and its other faults."""

    row: Row
    events: tuple[Row, ...] = ()
    faults: tuple[Row, ...] = ()


@dataclass(frozen=True)
class Reel:
    """All that the pages know of one reel; ``row`` is its row of all reels, the others are in order of time.

    ``players`` are the machines that proved good while they played it, ``alike`` the reels that its id may mean where
    it has neither label nor booking, ``of_count`` the reels of the room that were played.
    """

    row: Row
    playings: Sequence[Playing] = field(default_factory=list)
    faults: tuple[Row, ...] = ()
    tickets: Sequence[Row] = field(default_factory=list)
    players: Sequence[Row] = field(default_factory=list)
    alike: tuple[str, ...] = ()
    of_count: int = 0

    @property
    def open_tickets(self) -> list[Row]:
        """Tickets that name it, neither restored nor closed."""
        return [row for row in self.tickets if row["restored_at_utc"] is None and row["closed_at_utc"] is None]


def opening(one: Reel, local: Local) -> list[str]:
    """The paragraphs of the page."""
    told = [label(one, local), played(one)]
    return [" ".join(told), *faults(one), named(one)]


def recordist(row: Row) -> str:
    """Who recorded it: the name where the site shows persons, else a pseudonym; "not recorded" where no label says."""
    if row["recorded_by"] is not None:
        return str(row["recorded_by"])
    number = row["recordist_no"]
    return say("not recorded") if number is None else say("recordist {number}", number=whole(number))


def label(one: Reel, local: Local) -> str:
    """What its label says; where there is none, what it may be."""
    row = one.row
    if one.alike:
        return say(
            "No label and no booking has the id {reel}. With O taken for 0, and I or L for 1, it may be {others}.",
            reel=row["reel"], others=some(one.alike),
        )  # fmt: skip
    if not row["is_labelled"]:
        if row["programme"] is None:
            return say("{reel} has no label: only a ticket or a booking names it.", reel=row["reel"])
        return say("{reel} has no label. It was booked for {programme}.", reel=row["reel"], programme=row["programme"])
    facts = [row["programme"] or say("programme not recorded")]
    facts += [row["show_name"]] if row["show_name"] else []
    on, at = row["recorded_on"] or say("a machine not recorded"), row["recorded_at_utc"]
    date = say("on {date}", date=local.date(at)) if at else say("when is not recorded")
    facts.append(say("recorded on {machine}, {date}, by {person}", machine=on, date=date, person=recordist(row)))
    return say("{reel} is labelled: {facts}.", reel=row["reel"], facts="; ".join(facts))


def played(one: Reel) -> str:
    """How often and where it was played."""
    machines = list(dict.fromkeys(playing.row["machine"] for playing in one.playings))
    if not machines:
        return say("It was not played while these logs were written.")
    return say(
        "It was played {times} on {machines}; for {hours} of that a log proves the machine good.",
        times=counted(len(one.playings), "time"), machines=some(machines), hours=hours(HOUR * one.row["played_h"]),
    )  # fmt: skip


def faults(one: Reel) -> list[str]:
    """Its faults against what its players would bring, and where they came; nothing where it was never played."""
    count, expected = one.row["faults_count"], one.row["expected"]
    if not one.playings:
        return []
    if not one.faults:
        return [say("No fault began in its playing.")]
    told = [say_counted("{n} fault counts in its playing.", "{n} faults count in its playing.", count)]
    if expected:
        told = [against(count, expected, one.of_count)]
    return [" ".join([*told, elsewhere(one), *common(one)])]


def against(count: int, expected: float, of_count: int) -> str:
    """A count against what is expected, with exact 95 % limits (Garwood) of their ratio.

    What is expected is taken as known. It says something where 1 lies outside the limits; even then some of many reels
    stand out so by chance.
    """
    low, high = poisson_limits(count, expected)
    told = say(
        "{faults} in its playing, where the rates of its players would bring {expected}: {ratio} times as many, exact "
        "95 % limits {limits}.",
        faults=counted(count, "fault"), expected=figure(expected), ratio=figure(count / expected),
        limits=limits(low, high),
    )  # fmt: skip
    if low <= 1.0 <= high:
        return f"{told} {say('Chance alone easily gives that.')}"
    more = say(
        "For a single reel that is more than chance easily gives; of {reels} played some stand out so by chance alone.",
        reels=counted(of_count, "reel"),
    )
    return f"{told} {more}"


def elsewhere(one: Reel) -> str:
    """Whether the same fault came on another machine too, which speaks for the tape, or on one only."""
    places: dict[str, dict[str, None]] = {}
    for fault in one.faults:
        places.setdefault(fault["what"], {})[fault["machine"]] = None
    several = [
        say("{fault} on {machines}", fault=onset_word(kind), machines=some(list(machines)))
        for kind, machines in places.items()
        if len(machines) > 1
    ]
    if several:
        return say(
            "The same fault came on more than one machine, which speaks for the tape: {where}.",
            where="; ".join(several),
        )
    faulty = list(dict.fromkeys(fault["machine"] for fault in one.faults))
    others = [row for row in one.players if row["machine"] not in faulty]
    if not others:
        return say("No other machine played it without a fault, so player and tape cannot be told apart by it alone.")
    return say(
        "No fault came on two machines alike; {others} played it for {hours} without one.",
        others=some([row["machine"] for row in others]), hours=hours(HOUR * sum(row["played_h"] for row in others)),
    )  # fmt: skip


def common(one: Reel) -> list[str]:
    """How many of its faults began on both copies at once, in a sentence; nothing where none did."""
    both = sum(bool(fault["is_common"]) for fault in one.faults)
    if not both:
        return []
    return [
        say_counted(
            "{n} fault began on both copies at once, which speaks for the recording or the feed, and does not count.",
            "{n} faults began on both copies at once, which speaks for the recording or the feed, and do not count.",
            both,
        )
    ]


def named(one: Reel) -> str:
    """How many tickets name it."""
    if not one.tickets:
        return say("No ticket names it.")
    told = say_counted("{n} ticket names it.", "{n} tickets name it.", len(one.tickets))
    still = len(one.open_tickets)
    return f"{told} {say_counted('{n} of them is open.', '{n} of them are open.', still)}" if still else told


def happened(playing: Playing) -> list[Row]:
    """What happened in a playing, in order of time: words, how far into it, and the incident where there is one."""
    started = playing.row["started_at_utc"]
    told = [
        {"at": part["started_at_utc"], "words": what(part), "incident": part["incident"]} for part in playing.events
    ]
    told += [
        {"at": fault["at_utc"], "words": say("{fault}, off air", fault=onset_word(fault["what"])), "incident": None}
        for fault in playing.faults
    ]
    told.sort(key=lambda row: row["at"])
    return [{**row, "into": duration((row["at"] - started).total_seconds())} for row in told]


def not_known(one: Reel) -> tuple[str, ...]:
    """What the logs leave open of a reel, in sentences."""
    row = one.row
    facts = [
        (not row["is_labelled"], say("What is on it, and where and when it was recorded: it has no label.")),
        (row["is_labelled"] and row["recorded_on"] is None, say("Which machine recorded it.")),
        (row["is_labelled"] and row["recorded_at_utc"] is None, say("When it was recorded, and so how old it was.")),
        (True, say("Where on the tape a fault lies: times count from the start of the booking, not from the tape's.")),
        (True, say("What it was played for before these logs begin, and faults that no machine logged.")),
    ]
    return tuple(words for is_so, words in facts if is_so)


def all_reels(reels: Sequence[Row], told_count: int) -> str:
    """The first sentence of the list of all reels."""
    if not reels:
        return say("No reel is named: neither by a booking nor by a label nor on a ticket.")
    total, plays = counted(len(reels), "reel"), sum(row["plays_count"] > 0 for row in reels)
    return say(
        "{reels} are named by bookings, labels or tickets; {played} of them were played. Each of {told} that had a "
        "fault, an event on air or a ticket has a page of its own.",
        reels=total, played=whole(plays), told=whole(told_count),
    )  # fmt: skip


def reels_not_known(reels: Sequence[Row]) -> tuple[str, ...]:
    """What the labels leave open, in sentences."""
    unlabelled = sum(not row["is_labelled"] for row in reels)
    facts = [
        (unlabelled, say("What is on {reels} without a label.", reels=counted(unlabelled, "reel"))),
        (True, say("Reels that no booking, no label and no ticket names.")),
    ]
    return tuple(words for is_so, words in facts if is_so)

"""What a machine's page opens with: what it is, what it did, how often it was left, its head, what is open."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from pipeline.render.language import say, whole
from pipeline.render.words import Local, capital, chance, counted, figure, hours, limits, listed

Row = Mapping[str, Any]
HEAD = "head"
HOUR = 3600.0
MOST_NAMED = 6  # in one sentence


@dataclass(frozen=True)
class Machine:
    """All that the pages know of one machine. ``entry``, ``duty``, ``rated`` are its entries in figures.json or None.

    ``partners`` are the other machines of its pair, ``months``, ``tickets``, ``care``, ``bookings`` and ``lives`` its
    rows; those of ``lives`` and ``tickets`` in order of time.
    """

    name: str
    register: Row | None = None
    partners: tuple[str, ...] = ()
    entry: Row | None = None
    duty: Row | None = None
    rated: Row | None = None
    months: Sequence[Row] = field(default_factory=list)
    tickets: Sequence[Row] = field(default_factory=list)
    care: Sequence[Row] = field(default_factory=list)
    bookings: Sequence[Row] = field(default_factory=list)
    lives: Sequence[Row] = field(default_factory=list)

    @property
    def open_tickets(self) -> list[Row]:
        """Tickets neither restored nor closed, the oldest first."""
        return [row for row in self.tickets if row["restored_at_utc"] is None and row["closed_at_utc"] is None]

    @property
    def running(self) -> list[Row]:
        """Heads and parts that are on it at the end of the data."""
        return [row for row in self.lives if row["ended_at_utc"] is None]


def opening(one: Machine, period: str, local: Local, level: float) -> list[str]:
    """The paragraphs of the page; ``level`` is the chance below which a machine is told apart from the others."""
    told = [identity(one, local), duty(one, period)]
    return [" ".join(told), switches(one, level), " ".join([head(one, local), open_work(one, local)])]


def identity(one: Machine, local: Local) -> str:
    """What the register says of it."""
    row = one.register
    if row is None:
        return say("{machine} is not in the register: what it is and since when is not recorded.", machine=one.name)
    facts = [row["kind"] or say("kind not recorded")]
    if row["pair"] and one.partners:
        facts.append(say("pair {pair} with {partners}", pair=row["pair"], partners=some(one.partners)))
    elif row["pair"]:
        facts.append(say("pair {pair}, alone in it", pair=row["pair"]))
    else:
        facts.append(say("of no pair"))
    if row["machine_group"]:
        facts.append(say("group {group}", group=row["machine_group"]))
    since = row["installed_at_utc"]
    facts.append(say("installed on {date}", date=local.date(since)) if since else say("since when is not recorded"))
    if row["retired_at_utc"]:
        facts.append(say("retired on {date}", date=local.date(row["retired_at_utc"])))
    return say("{machine} stands in the register: {facts}.", machine=one.name, facts="; ".join(facts))


def some(names: Sequence[str]) -> str:
    """Names in a sentence; of many the first and how many more."""
    if len(names) <= MOST_NAMED:
        return listed(names)
    return say("{names} and {n} more", names=", ".join(names[:MOST_NAMED]), n=whole(len(names) - MOST_NAMED))


def duty(one: Machine, period: str) -> str:
    """Its hours on air and as protect, and those its heads were on tape."""
    if one.entry is None:
        return say("It fed no air time and never covered for another machine ({period}).", period=period)
    told = say(
        "It fed {air} of air time and stood good and in step behind another machine for {protect} ({period}).",
        air=hours(one.entry["air_s"]), protect=hours(one.entry["protect_s"]), period=period,
    )  # fmt: skip
    if one.duty is None:
        return told
    rolled = say("Its heads were on tape for {rolled}, as far as is logged.", rolled=hours(HOUR * one.duty["head_h"]))
    return f"{told} {rolled}"


def switches(one: Machine, level: float) -> str:
    """How often its programme was taken to another, with limits, against the other machines of the room."""
    if one.entry is None or one.entry["air_s"] <= 0:
        return say("It had no air to be taken from, so it cannot be held against the others.")
    rate = one.entry["protect_switches_per_1000_air_h"]
    told = say(
        "{switches} led away from it ({forced} forced, {precaution} as a precaution, {unexplained} unexplained): "
        "{rate} per 1,000 h of air, exact 95 % limits {limits}.",
        switches=capital(counted(one.entry["protect_switches"], "protect switch", "protect switches")),
        rate=figure(rate["value"]), limits=limits(rate["low"], rate["high"]),
        **{name: whole(one.entry[name]) for name in ("forced", "precaution", "unexplained")},
    )  # fmt: skip
    return f"{told} {against(one.rated, level)}"


def against(rated: Row | None, level: float) -> str:
    """Its rate in terms of the others' together, all comparisons of the room allowed for."""
    if rated is None or rated["adjusted_p"] is None:
        return say("There is too little to hold it against the others.")
    p = chance(rated["adjusted_p"])
    if rated["ratio"] is None:
        told = say("The others together had none.")
    else:
        told = say(
            "That is {ratio} times the rate of all the others together (limits {limits}).",
            ratio=figure(rated["ratio"]), limits=_limits(rated["ratio_low"], rated["ratio_high"]),
        )  # fmt: skip
    if rated["is_named"]:
        verdict = say("It is more than chance easily gives (adjusted {p}).", p=p)
    elif rated["adjusted_p"] < level:
        verdict = say("By events alone it would stand out (adjusted {p}), but not by the occasions they came on.", p=p)
    else:
        verdict = say("Chance alone easily gives as much (adjusted {p}).", p=p)
    return f"{told} {verdict}"


def _limits(low: float, high: float | None) -> str:
    return say("{low} or more", low=figure(low)) if high is None else limits(low, high)


def head(one: Machine, local: Local) -> str:
    """The head on it at the end of the data and how long it has rolled."""
    heads = [row for row in one.running if row["kind"] == HEAD]
    if not heads:
        return say("Which head is on it is not known: no fitting is logged.")
    now = heads[-1]
    return say(
        "The head on it is {serial}, fitted on {date}; it has rolled {life} since.",
        serial=now["detail"] or say("one without a serial"), date=local.date(now["started_at_utc"]),
        life=hours(HOUR * now["life_h"]),
    )  # fmt: skip


def open_work(one: Machine, local: Local) -> str:
    """Its tickets that are still open."""
    still = one.open_tickets
    if not still:
        return say("No ticket on it is open.")
    if len(still) == 1:
        return say(
            "One ticket on it is open: {ticket}, since {date}.",
            ticket=still[0]["ticket"], date=local.date(still[0]["opened_at_utc"]),
        )  # fmt: skip
    return say(
        "{tickets} on it are open, the oldest of them {ticket}, since {date}.",
        tickets=counted(len(still), "ticket"), ticket=still[0]["ticket"], date=local.date(still[0]["opened_at_utc"]),
    )  # fmt: skip


def how_word(how: str) -> str:
    """How the life of a head or part in a machine ended."""
    known = {"failed": say("failed"), "taken out": say("taken out"), "running": say("still on it")}
    return known.get(how, how)


def not_known(one: Machine, *, has_no_lock: bool, unlabelled_count: int) -> tuple[str, ...]:
    """What the logs leave open of it, in sentences."""
    entry = one.entry or {"unknown_s": 0, "air_s": 0}
    heads = [row for row in one.lives if row["kind"] == HEAD]
    facts: list[tuple[object, Callable[[], str]]] = [
        (one.register is None, lambda: say("What it is: the register does not name it.")),
        (
            entry["unknown_s"],
            lambda: say("What it put on air in {unknown}: its log says nothing.", unknown=hours(entry["unknown_s"])),
        ),
        (has_no_lock, lambda: say("Whether it held lock: never logged, so taken for granted while it rolled.")),
        (not heads, lambda: say("Which head was on it, and so how old it was.")),
        (heads, lambda: say("Which head was on it before the first fitting that is logged.")),
        (
            unlabelled_count,
            lambda: say(
                "Which of {reels} without a recording machine on the label it recorded.",
                reels=counted(unlabelled_count, "reel"),
            ),
        ),
        (True, lambda: say("Faults that it did not log, and what it did while nobody wrote a line.")),
    ]
    return tuple(words() for is_so, words in facts if is_so)

"""The case of one machine on one sheet of paper: the options, what turns the answer, the evidence, what is assumed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.render.index import period
from pipeline.render.language import say, say_counted, whole
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sheet import Sheet
from pipeline.render.transports import case_inputs as numbers
from pipeline.render.transports import case_words as words
from pipeline.render.transports.case_inputs import CHANGES
from pipeline.render.words import capital, counted, figure, limits, listed, not_known, share

MOST_TURNS = 5  # on a machine's sheet, which is one page of A4
MOST_KINDS = 3  # of parts with a life, as there
LINES = (
    "price over its life",
    "air played elsewhere",
    "labour",
    "parts on tickets",
    "changes",
    "on air",
    "exposed air",
)


def machine_sheet(reading: Reading, found: Mapping[str, Any], machine: Row, name: str) -> Sheet:
    """The sheet of a machine, in the file ``name``; ``found`` is the section ``case``."""
    currency, room = found["currency"], found["room"]
    context = {
        "machine": machine,
        "currency": currency,
        "w": words,
        "numbers": numbers,
        "capital": capital,
        "told": [
            f"{words.answer(machine, currency)} {words.sureness(machine) if machine['next'] else ''}".strip(),
            words.standing(machine),
        ],
        "columns": [line for line in LINES if any(_line(option, line) for option in machine["options"])],
        "line": _line,
        "turns": words.turning(machine)[:MOST_TURNS],
        "farther": _farther(machine),
        "inputs": _own_inputs(machine),
        "kinds_left": _kinds_left(len(machine["inputs"]) - len(_own_inputs(machine))),
        "waiting": words.waiting(machine, currency),
        "evidence": _evidence(machine, room),
        "has_work": any(row["value"] is not None for row in machine["options"] if row["option"] == "overhaul"),
    }
    title = say("The case of {machine}", machine=machine["machine"])
    return Sheet(name, "case_machine.html.j2", title, period(reading.figures), context)


def _farther(machine: Row) -> str:
    """What is left out of the list of turns, and which numbers turn nothing."""
    left, held, told = len(words.turning(machine)) - MOST_TURNS, words.held(machine), []
    if left > 0:
        told.append(say_counted("{n} number more turns it farther off.", "{n} numbers more turn it farther off.", left))
    if not words.turning(machine) and not held:
        return say("There is no other option with a price that the answer could turn to.")
    if held:
        told.append(say("No allowed value of these turns it alone: {numbers}.", numbers=listed(held)))
    return " ".join(told)


def _kinds_left(count: int) -> str:
    if not count:
        return ""
    return say_counted("Changes of {n} kind of parts more", "Changes of {n} kinds of parts more", count)


def _own_inputs(machine: Row) -> Rows:
    """The numbers of a machine's case; of many kinds of parts the first ones, by name."""
    kinds = [row["input"] for row in machine["inputs"] if row["input"].startswith(CHANGES)]
    return [row for row in machine["inputs"] if row["input"] not in kinds[MOST_KINDS:]]


def _line(option: Mapping[str, Any], name: str) -> float | None:
    """The amount of a line; of the changes of parts, all kinds together."""
    found = [line["value"] for line in option["lines"] if line["line"].partition(":")[0] == name]
    return sum(found) if found else None


def _evidence(machine: Row, room: Row) -> list[tuple[str, str, str]]:
    """Four figures with their limits, each with the page that proves it."""
    year, tickets = machine["events_per_year"], machine["tickets_per_year"]
    tickets_told = say(
        "{value} ({limits}), from {count} so far",
        value=figure(tickets["value"]),
        limits=limits(tickets["low"], tickets["high"]),
        count=whole(machine["tickets"]),
    )
    return [
        ("transports.html", say("Events on air so far"), _events_so_far(machine)),
        (
            "outlook.html",
            say("Events to expect of a year"),
            f"{figure(year['value'])} ({limits(year['low'], year['high'])})",
        ),
        ("transports.html", say("An event in this room"), _one_event(room)),
        ("transports.html", say("Tickets to expect of a year"), tickets_told),
    ]


def _events_so_far(machine: Row) -> str:
    raw = machine["raw"]
    rate = say("no air") if raw["value"] is None else f"{figure(raw['value'])} ({limits(raw['low'], raw['high'])})"
    return say(
        "{events} in {hours} h; per 1,000 h {rate}",
        events=counted(machine["events"], "event"),
        hours=figure(machine["air_h"]),
        rate=rate,
    )


def _one_event(room: Row) -> str:
    """What an event of the room loses on average, without its longest too, and how many fail."""
    lost = not_known() if room["lost_s_per_event"] is None else f"{figure(room['lost_s_per_event'])} s"
    failed = say("no event")
    if room["failed_ratio"] is not None:
        between = say("{low} to {high}", low=share(room["failed_low"], 1), high=share(room["failed_high"], 1))
        failed = f"{share(room['failed_ratio'], 1)} ({between})"
    without = room["lost_s_per_event_without_longest"]
    if without is None:
        return say("loses {lost}; fails: {failed}", lost=lost, failed=failed)
    return say(
        "loses {lost}, without the longest {without}; fails: {failed}",
        lost=lost,
        without=f"{figure(without)} s",
        failed=failed,
    )

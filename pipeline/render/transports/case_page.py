"""The case: keep, overhaul, replace or lighter duty, for the whole room and on one sheet of paper a machine."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

from pipeline.costs import KEYS, NUMBERS
from pipeline.render.index import period
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sheet import Sheet, slug
from pipeline.render.transports import case_room_words as room_words
from pipeline.render.transports import case_words as words
from pipeline.render.words import counted, figure, limits, share

MOST_TURNS = 5  # on a machine's sheet, which is one page of A4
MOST_KINDS = 3  # of parts with a life, as there
NO_COSTS = (
    "The site states no costs, so no machine has a case in money here. What can be said without a price stands below; "
    "the keys that would bring the rest are listed after it."
)
NO_AIR = "No air time is logged, so there is nothing a case could rest on."
LINES = (
    "price over its life",
    "air played elsewhere",
    "labour",
    "parts on tickets",
    "changes",
    "on air",
    "exposed air",
)
EXAMPLE = """[costs]                    # invented prices: put your own in their place
currency = "EUR"
discount_rate = 0.05
labour_per_h = 50
lost_per_s = 10
make_good = 1000
response = 100
replacement = 100000
replacement_life_years = 10
overhaul = 20000
overhaul_life_years = 4
overhaul_rate_ratio = 0.8
lighter_air_ratio = 0.5
lighter_per_air_h = 30"""


def case_sheets(reading: Reading) -> Iterator[Sheet]:
    """The sheet of the room, then one a machine where the site states costs; from the section ``case``."""
    found = reading.figures.get("transports", {}).get("case") or {"machines": [], "needs": {"rooms": []}}
    machines, currency = found["machines"], found.get("currency")
    pages = page_names([machine["machine"] for machine in machines]) if currency else {}
    context = {
        "found": found,
        "machines": [{**machine, "page": pages.get(machine["machine"])} for machine in machines],
        "currency": currency,
        "told": room_told(found),
        "options": list(words.DOING),
        "w": words,
        "missing": missing(reading),
        "example": EXAMPLE,
        "inputs": _shared_inputs(machines),
        "turns": [(machine["machine"], words.turning(machine)[:1]) for machine in machines] if currency else [],
        "needs": found["needs"]["rooms"],
        "when": _when(reading),
    }
    yield Sheet("case.html", "case.html.j2", "The case", period(reading.figures), context, _not_known(found))
    for machine in machines if currency else ():
        yield _machine_sheet(reading, found, machine, pages[machine["machine"]])


def page_names(machines: Sequence[str]) -> dict[str, str]:
    """File name of each machine's sheet; names that read alike get a number."""
    pages: dict[str, str] = {}
    taken: set[str] = set()
    for machine in machines:
        base, number = f"case-{slug(machine)}", 1
        name = base
        while name in taken:
            number += 1
            name = f"{base}-{number}"
        taken.add(name)
        pages[machine] = f"{name}.html"
    return pages


def room_told(found: Mapping[str, Any]) -> list[str]:
    """The answer for the whole room in a few sentences."""
    machines, currency = found["machines"], found.get("currency")
    if not machines:
        return [NO_AIR]
    if currency is None:
        return [NO_COSTS, room_words.room_year(machines), room_words.room_standing(machines)]
    priced = [machine for machine in machines if machine["next"] is not None]
    told = [room_words.room_answer(machines)]
    if priced:
        told[0] = f"{told[0]} {room_words.room_sureness(priced)} {room_words.room_stated(priced, currency)}"
        told += [room_words.room_turn(priced, currency), room_words.room_standing(machines)]
    return told


def missing(reading: Reading) -> Rows:
    """Keys that site.toml does not state, and what each would bring."""
    costs = reading.settings.costs
    stated = {key for key in NUMBERS if costs and getattr(costs, key) is not None}
    if any(row.get("replacement_cost") is not None for row in reading.site["register"]):
        stated |= {"replacement"}
    rows: Rows = [{"key": key, "brings": words.BRINGS.get(key, "")} for key in NUMBERS if key not in stated]
    for row in rows:
        option = row["key"].partition("_")[0]
        row["brings"] = (
            row["brings"] or {"replacement": "replacing", "overhaul": "overhaul", "lighter": "lighter duty"}[option]
        )
        if row["key"] == "replacement_rate_ratio":
            row["brings"] = "a new machine's own rate of failures; without it, it has the room's"
    if not (costs and costs.parts):
        rows.append(
            {"key": 'parts."head" and other kinds: planned, failure', "brings": "what changing parts with a life costs"}
        )
    return rows if costs else [{"key": KEYS[0], "brings": "the unit of every amount"}, *rows]


def _shared_inputs(machines: Rows) -> Rows:
    """The numbers that are the same for every machine, with where they come from."""
    if not machines:
        return []
    first, rest = (
        machines[0]["inputs"],
        [{row["input"]: row["value"] for row in machine["inputs"]} for machine in machines[1:]],
    )
    return [row for row in first if all(other.get(row["input"]) == row["value"] for other in rest)]


def _when(reading: Reading) -> Callable[[str], str]:
    """Local time, to the minute, of an instant of figures.json."""
    return lambda text: reading.local.minute(datetime.fromisoformat(text.removesuffix("Z")))


def _machine_sheet(reading: Reading, found: Mapping[str, Any], machine: Row, name: str) -> Sheet:
    currency, room = found["currency"], found["room"]
    context = {
        "machine": machine,
        "currency": currency,
        "w": words,
        "told": [
            f"{words.answer(machine, currency)} {words.sureness(machine) if machine['next'] else ''}".strip(),
            words.standing(machine),
        ],
        "columns": [line for line in LINES if any(_line(option, line) for option in machine["options"])],
        "line": _line,
        "turns": words.turning(machine)[:MOST_TURNS],
        "turns_left": max(0, len(words.turning(machine)) - MOST_TURNS),
        "held": words.held(machine),
        "inputs": _own_inputs(machine),
        "waiting": words.waiting(machine, currency),
        "evidence": _evidence(machine, room),
        "has_work": any(row["value"] is not None for row in machine["options"] if row["option"] == "overhaul"),
    }
    title = f"The case of {machine['machine']}"
    return Sheet(name, "case_machine.html.j2", title, period(reading.figures), context)


def _own_inputs(machine: Row) -> Rows:
    """The numbers of a machine's case; of many kinds of parts the first ones, by name."""
    kinds = [row["input"] for row in machine["inputs"] if row["input"].startswith(words.CHANGES)]
    return [row for row in machine["inputs"] if row["input"] not in kinds[MOST_KINDS:]]


def _line(option: Mapping[str, Any], name: str) -> float | None:
    """The amount of a line; of the changes of parts, all kinds together."""
    found = [line["value"] for line in option["lines"] if line["line"].partition(":")[0] == name]
    return sum(found) if found else None


def _evidence(machine: Row, room: Row) -> list[tuple[str, str, str]]:
    """Four figures with their limits, each with the page that proves it."""
    raw, year, tickets = machine["raw"], machine["events_per_year"], machine["tickets_per_year"]
    rate = "no air" if raw["value"] is None else f"{figure(raw['value'])} ({limits(raw['low'], raw['high'])})"
    lost = "not known" if room["lost_s_per_event"] is None else f"{figure(room['lost_s_per_event'])} s"
    failed = (
        "no event"
        if room["failed_ratio"] is None
        else f"{share(room['failed_ratio'], 1)} ({share(room['failed_low'], 1)} to {share(room['failed_high'], 1)})"
    )
    without = room["lost_s_per_event_without_longest"]
    return [
        (
            "transports.html",
            "Events on air so far",
            f"{counted(machine['events'], 'event')} in {figure(machine['air_h'])} h; per 1,000 h {rate}",
        ),
        (
            "outlook.html",
            "Events to expect of a year",
            f"{figure(year['value'])} ({limits(year['low'], year['high'])})",
        ),
        (
            "transports.html",
            "An event in this room",
            f"loses {lost}{'' if without is None else f', without the longest {figure(without)} s'}; fails: {failed}",
        ),
        (
            "transports.html",
            "Tickets to expect of a year",
            f"{figure(tickets['value'])} ({limits(tickets['low'], tickets['high'])}), from {machine['tickets']} so far",
        ),
    ]


def _not_known(found: Mapping[str, Any]) -> tuple[str, ...]:
    room, lines = found.get("room"), []
    if found.get("left_out_count"):
        lines.append(
            f"What would turn the answers of {counted(found['left_out_count'], 'machine')} with less air than those "
            "shown: only the lines of their options are worked out, in data/case.csv."
        )
    if room and room["tickets_without_hours"]:
        lines.append(
            f"Hours of work on {counted(room['tickets_without_hours'], 'ticket')} that state none: they count with the "
            "mean of the others."
        )
    lines += [
        "What an overhaul or a new machine does to the rate of failures: no log shows what was not done. It is stated.",
        "What is fetched for an old machine, tax, and what else the money could do: prices may hold them, logs do not.",
        "Whether the time of these logs is like the years a price is spread over.",
    ]
    return tuple(lines)

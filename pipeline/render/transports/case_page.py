"""The case: keep, overhaul, replace or lighter duty, for the whole room and on one sheet of paper a machine."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

from pipeline.costs import KEYS, NUMBERS
from pipeline.render.index import period
from pipeline.render.language import say, say_counted
from pipeline.render.reading import Reading, Rows
from pipeline.render.sheet import Sheet, slug
from pipeline.render.transports import case_inputs as numbers
from pipeline.render.transports import case_room_words as room_words
from pipeline.render.transports import case_words as words
from pipeline.render.transports.case_inputs import brings
from pipeline.render.transports.case_machine_page import machine_sheet
from pipeline.render.words import capital, counted

EXAMPLE = """[costs]                    # {invented}
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
        "options": words.OPTIONS,
        "w": words,
        "numbers": numbers,
        "capital": capital,
        "left_out": _left_out(machines, found),
        "missing": missing(reading),
        "example": example(),
        "inputs": _shared_inputs(machines),
        "turns": [(machine["machine"], words.turning(machine)[:1]) for machine in machines] if currency else [],
        "needs": found["needs"]["rooms"],
        "needs_left_out": _groups_left_out(found["needs"].get("left_out_count")),
        "when": _when(reading),
    }
    yield Sheet("case.html", "case.html.j2", say("The case"), period(reading.figures), context, _not_known(found))
    for machine in machines if currency else ():
        yield machine_sheet(reading, found, machine, pages[machine["machine"]])


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
        return [say("No air time is logged, so there is nothing a case could rest on.")]
    if currency is None:
        no_costs = say(
            "The site states no costs, so no machine has a case in money here. What can be said without a price stands "
            "below; the keys that would bring the rest are listed after it."
        )
        return [no_costs, room_words.room_year(machines), room_words.room_standing(machines)]
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
    rows: Rows = [{"key": key, "brings": brings(key)} for key in NUMBERS if key not in stated]
    if not (costs and costs.parts):
        key = say('parts."head" and other kinds: planned, failure')
        rows.append({"key": key, "brings": say("what changing parts with a life costs")})
    return rows if costs else [{"key": KEYS[0], "brings": say("the unit of every amount")}, *rows]


def example() -> str:
    """Lines for site.toml with invented prices, to be copied."""
    return EXAMPLE.format(invented=say("invented prices: put your own in their place"))


def _left_out(machines: Rows, found: Mapping[str, Any]) -> str:
    """A sentence on the machines that have no row; empty where all have one."""
    if not found.get("left_out_count"):
        return ""
    shown, others = counted(len(machines), "machine"), counted(found["left_out_count"], "other")
    if found["currency"]:
        return say("{machines} with most air; {others} are only in data/case.csv.", machines=shown, others=others)
    return say("Those {machines} with most air; {others} left out.", machines=shown, others=others)


def _groups_left_out(count: int | None) -> str:
    return say_counted("{n} group is left out.", "{n} groups are left out.", count) if count else ""


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


def _not_known(found: Mapping[str, Any]) -> tuple[str, ...]:
    room, lines = found.get("room"), []
    if found.get("left_out_count"):
        lines.append(
            say(
                "What would turn the answers of {machines} with less air than those shown: only the lines of their "
                "options are worked out, in data/case.csv.",
                machines=counted(found["left_out_count"], "machine"),
            )
        )
    if room and room["tickets_without_hours"]:
        lines.append(
            say(
                "Hours of work on {tickets} that state none: they count with the mean of the others.",
                tickets=counted(room["tickets_without_hours"], "ticket"),
            )
        )
    lines += [
        say(
            "What an overhaul or a new machine does to the rate of failures: no log shows what was not done. It is "
            "stated."
        ),
        say(
            "What is fetched for an old machine, tax, and what else the money could do: prices may hold them, logs do "
            "not."
        ),
        say("Whether the time of these logs is like the years a price is spread over."),
    ]
    return tuple(lines)

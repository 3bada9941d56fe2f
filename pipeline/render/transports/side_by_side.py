"""The manager's page: transports side by side for a decision about one of them, with luck and duty allowed for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.render import charts
from pipeline.render.index import period
from pipeline.render.language import say, say_counted
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sheet import Sheet
from pipeline.render.transports.side_by_side_funnel import rate_funnel
from pipeline.render.transports.side_by_side_measures import of_measure
from pipeline.render.transports.side_by_side_tables import months_words, rate_tables
from pipeline.render.transports.side_by_side_words import answer
from pipeline.render.words import hours, listed
from pipeline.statistics import poisson_limits

KINDS = ("forced", "precaution", "unexplained", "planned", "return")
NOT_REGISTERED: Row = dict.fromkeys(
    ("kind", "pair", "machine_group", "installed_at_utc", "retired_at_utc", "replacement_cost")
)
HOUR = 3600.0


def transport_sheet(reading: Reading, compared: Mapping[str, Any]) -> Sheet:
    """The sheet; ``compared`` is the result of ``compare_transports``."""
    machines = in_register_order(reading)
    flown = [machine for machine in machines if machine["air_s"] > 0]
    mean = reading.figures["total"]["protect_switches_per_1000_air_h"]
    parts, found = reading.parts, reading.figures["transports"]["rates"]
    context = {
        "machines": machines,
        "kinds": KINDS,
        "kind_head": kind_head,
        "total": reading.figures["total"],
        "standby": reading.figures.get("standby"),
        "standby_interruptions": sum(part["interruption_no"] is not None and not part["machine"] for part in parts),
        "compared": compared,
        "evened": compared["machines"],
        "told": answer(found, compared, flown),
        "funnel": rate_funnel(of_measure(found, "air"), found["level"], "funnel"),
        "duty": [{**machine, "cover_loss_rate": cover_loss_rate(machine)} for machine in machines],
        "rates": charts.transport_rates(flown, mean["value"], "rates") if flown else None,
        "work": _work(reading, machines),
        "months_words": months_words,
        **rate_tables(reading, machines),
    }
    return Sheet(
        "transports.html", "transports.html.j2", say("Transports side by side"), period(reading.figures), context,
        _not_known(reading, machines),
    )  # fmt: skip


def kind_head(kind: str) -> str:
    """The head of the column of a kind of switch; other languages may break it between syllables."""
    return {
        "forced": say("Forced", about="head"),
        "precaution": say("Precaution", about="head"),
        "unexplained": say("Unexplained", about="head"),
        "planned": say("Planned", about="head"),
        "return": say("Return", about="head"),
    }[kind]


def in_register_order(reading: Reading) -> Rows:
    """Figures of every machine with its line of the register, by pair and name; those in no register last."""
    register = {row["machine"]: row for row in reading.site["register"]}
    rows: Rows = [
        {**NOT_REGISTERED, **register.get(machine["machine"], {}), **machine} for machine in reading.figures["machines"]
    ]
    return sorted(rows, key=lambda row: (row["machine"] not in register, row.get("pair") or "", row["machine"]))


def cover_loss_rate(machine: Mapping[str, Any]) -> dict[str, float | None]:
    """Losses of cover per 1,000 protect hours with exact 95 % limits; None without protect hours."""
    if machine["protect_s"] <= 0:
        return {"value": None, "low": None, "high": None}
    exposure = machine["protect_s"] / HOUR / 1000
    low, high = poisson_limits(machine["cover_losses"], exposure)
    return {"value": machine["cover_losses"] / exposure, "low": low, "high": high}


def _work(reading: Reading, machines: Rows) -> Rows:
    tickets = {row["machine"]: row for row in reading.site["work"]}
    heads = {row["machine"]: row for row in reading.site["heads"]}
    rows: list[Row] = []
    for machine in machines:
        name = machine["machine"]
        installed = machine.get("installed_at_utc")
        age_s = (reading.as_of - installed).total_seconds() if installed and reading.as_of else None
        rows.append({**machine, "tickets": tickets.get(name), "heads": heads.get(name), "age_s": age_s})
    return rows


def _not_known(reading: Reading, machines: Rows) -> tuple[str, ...]:
    unknown = [f"{row['machine']} ({hours(row['unknown_s'])})" for row in machines if row["unknown_s"]]
    lines = [
        say("How long each transport was under power, how warm it ran and what it was given before these logs begin."),
        say("What made one hour harder than another, beside the age of the reel and the hour of the day."),
    ]
    if unknown:
        lines.append(say("Whether these were good all the time they fed air: {machines}.", machines=listed(unknown)))
    registered = {row["machine"] for row in reading.site["register"]}
    missing = [row["machine"] for row in machines if row["machine"] not in registered]
    if missing:
        lines.append(say("Kind, pair and age of {machines}: not in the register.", machines=listed(missing)))
    ticketless = sum(part["recovery_no"] is not None and part["ticket"] is None for part in reading.parts)
    if ticketless:
        lines.append(_ticketless(ticketless))
    return tuple(lines)


def _ticketless(count: int) -> str:
    return say_counted(
        "Cause and cost of {n} event with no ticket.", "Cause and cost of {n} events with no ticket.", count
    )

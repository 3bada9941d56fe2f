"""The page "The year ahead": what to expect of each machine, whether one gets worse, and what would warn of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from pipeline.render.index import period
from pipeline.render.language import localised, say, say_counted, whole
from pipeline.render.reading import Reading
from pipeline.render.sheet import Sheet
from pipeline.render.transports.outlook_charts import age_curve, most_hours, year_bars
from pipeline.render.transports.outlook_words import answers, refusal
from pipeline.render.transports.plain_numbers import plain
from pipeline.render.words import figure, limits, listed, not_applicable

MOST_ROWS = 40  # of a table; more machines are left out by hours, and said so
SAYS_NOTHING = 10  # times the upper limit at a steady rate


def outlook_sheets(reading: Reading) -> Iterator[Sheet]:
    """The one sheet of the outlook, from the part ``transports.outlook`` of the figures; always made."""
    found = reading.figures["transports"]["outlook"]
    context = outlook_context(found)
    yield Sheet(
        "outlook.html",
        "outlook.html.j2",
        say("The year ahead"),
        period(reading.figures),
        context,
        _not_known(found),
    )


def outlook_context(found: Mapping[str, Any]) -> dict[str, Any]:
    """What the template reads."""
    rows = most_hours(found["machines"], MOST_ROWS)
    shown = {row["machine"] for row in rows}
    replayed = [row for row in found["replay"]["machines"] if row["machine"] in shown] if found["replay"] else []
    has_forecast = any(row["switches"]["low"] is not None for row in rows)
    return {
        "told": answers(found),
        "found": found,
        "rows": rows,
        "left_out": len(found["machines"]) - len(rows),
        "replayed": replayed,
        "curve": age_curve(found["room"]["curve"], rows, "age") if found["room"]["curve"]["points"] else None,
        "bars": year_bars(rows, "year") if has_forecast else None,
        "refusal": refusal(found),
        "carried": carried,
        "minutes": minutes,
        "signed": signed,
        "plain": plain,
        "span": span,
        "in_hours": in_hours,
    }


def span(low: int, high: int) -> str:
    """Limits of a count, such as "6 to 1,030"."""
    return say("{low} to {high}", low=whole(low), high=whole(high))


def in_hours(count: int, air_h: float) -> str:
    """A count and the hours it comes from, such as "11 in 126 h"."""
    return say("{count} in {hours} h", count=whole(count), hours=figure(air_h))


def carried(row: Mapping[str, Any]) -> str:
    """Limits if a machine's own curve goes on, as "6 to 103"; "26 or more" where the upper one says nothing.

    That is where it is over ten times the upper limit at a steady rate: so few ages do not tell how steep a curve is.
    """
    goes_on = row["carried_on"]
    if goes_on is None:
        return not_applicable()
    if goes_on["high"] > SAYS_NOTHING * max(row["switches"]["high"], 1):
        return say("{low} or more", low=whole(goes_on["low"]))
    return span(goes_on["low"], goes_on["high"])


def minutes(lost: Mapping[str, Any]) -> str:
    """Lost time and its limits in minutes, as "5.00 (1.61 to 10.2)"; "n/a" where too little is known."""
    if lost["low"] is None:
        return not_applicable()
    return f"{figure(lost['mean'] / 60)} ({limits(lost['low'] / 60, lost['high'] / 60)})"


def signed(value: float) -> str:
    """A change to three decimals with its sign: "+0.023", "−0.030", "0"; under half a thousandth is 0."""
    text = f"{abs(value):.3f}"
    return "0" if float(text) == 0 else f"{'+' if value > 0 else '−'}{localised(text)}"


def _not_known(found: Mapping[str, Any]) -> tuple[str, ...]:
    lines = []
    silent = found["without_lock"]
    if len(silent) > MOST_ROWS:
        names = listed(silent[:MOST_ROWS])
        lines.append(say("The time to lock of {machines} and others: no lock is logged.", machines=names))
    elif silent:
        lines.append(say("The time to lock of {machines}: no lock is logged.", machines=listed(silent)))
    retired = sum(row["is_retired"] for row in found["machines"])
    if retired:
        text = say_counted(
            "No year ahead is told for {n} machine that the register says is retired.",
            "No year ahead is told for {n} machines that the register says are retired.",
            retired,
        )
        lines.append(text)
    return (*lines, say("What the machines did before the data begin: running age starts there at nought."))

"""A month's page, for the chief engineer: read aloud at the top, pencilled on below, filed when done."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

from pipeline.render import charts
from pipeline.render.month_words import opening
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sheet import Sheet, month_page
from pipeline.render.words import counted, hours, month_name

TIMES = ("to_take_s", "to_air_s", "to_cover_s", "to_service_s")
MOST_REPEATS = 5
KINDS = ("forced", "precaution", "unexplained", "planned", "return")


def month_sheets(reading: Reading, compared: Sequence[Row]) -> Iterator[Sheet]:
    """One sheet a month, in order; ``compared`` is the result of ``compare_months``."""
    months = reading.figures["months"]
    for place in range(len(months)):
        yield month_sheet(reading, place, compared)


def month_sheet(reading: Reading, place: int, compared: Sequence[Row]) -> Sheet:
    """The sheet of the month at ``place`` in the figures."""
    months = reading.figures["months"]
    month = months[place]
    name = month["month"]
    parts = [part for part in reading.parts if part["month"] == name]
    channels = [row for row in reading.figures["month_channels"] if row["month"] == name]
    flown = [row for row in channels if row["air_s"] > 0]
    worst = max((part for part in parts if part["lost_s"] is not None), key=lambda part: part["lost_s"], default=None)
    context = {
        "month": month,
        "opening": opening(month, compared[place], worst, reading.local),
        "channels": channels,
        "compared": compared,
        "months": months,
        "hours_bar": charts.hours_bar(flown, "channel", "hours") if flown else None,
        "months_run": charts.months_run(months, name, "run") if len(months) > 1 and month["air_s"] else None,
        "causes": _causes(months, place),
        "causes_bars": charts.causes_bars(month["causes"], "causes") if month["causes"] else None,
        "is_first": not place,
        "began": began_of(reading),
        "times": TIMES,
        "kinds": KINDS,
        "parts": parts,
        "has_rulings": any(part["switch_ruling"] or part["cause_ruling"] or part["joined_by"] for part in parts),
        "repeats": repeats(parts),
        "open_tickets": open_tickets(reading, _ends(reading, place)),
        "no_ticket": [part for part in parts if part["recovery_no"] is not None and part["ticket"] is None],
        "no_event": _tickets_alone(reading, name),
    }
    return Sheet(
        month_page(name),
        "month.html.j2",
        month_name(name),
        month_name(name),
        context,
        _not_known(reading, month, parts),
    )


def _causes(months: Sequence[Mapping[str, Any]], place: int) -> Rows:
    """The month's causes; ``is_new`` where no earlier month had the cause (never in the first)."""
    known = {(cause["top"], cause["second"]) for month in months[:place] for cause in month["causes"]}
    return [
        {
            **cause,
            "name": charts.cause_name(cause),
            "is_new": bool(place) and (cause["top"], cause["second"]) not in known,
        }
        for cause in months[place]["causes"]
    ]


def began_of(reading: Reading) -> Callable[[str], str]:
    """A function from an incident's name to the local minute in which it began."""
    begun = {row["incident"]: reading.local.minute(row["started_at_utc"]) for row in reading.incidents}
    return begun.__getitem__


def repeats(parts: Rows) -> Rows:
    """What is in more than one of ``parts``, the five most frequent of each kind: what, name, count, lost_s."""
    rows: Rows = []
    for what, column in (("transport", "machine"), ("reel", "reel"), ("recorded on", "recorded_on")):
        counts = Counter(part[column] for part in parts if part[column])
        for name, count in sorted(counts.items(), key=lambda item: (-item[1], item[0]))[:MOST_REPEATS]:
            if count > 1:
                lost_s = sum(part["lost_s"] or 0 for part in parts if part[column] == name)
                rows.append({"what": what, "name": name, "count": count, "lost_s": lost_s})
    return rows


def _ends(reading: Reading, place: int) -> str:
    """The first month name after the month at ``place``, to be compared with local stamps."""
    year, number = (int(part) for part in reading.figures["months"][place]["month"].split("-"))
    return f"{year + number // 12:04d}-{number % 12 + 1:02d}"


def open_tickets(reading: Reading, before: str) -> Rows:
    """Tickets neither restored nor closed where the data end, opened before the month ``before``, oldest first."""
    rows = []
    for ticket in reading.site["tickets"]:
        is_open = ticket["restored_at_utc"] is None and ticket["closed_at_utc"] is None
        if is_open and ticket["opened_at_utc"] is not None and _month_of(reading, ticket["opened_at_utc"]) < before:
            age = (reading.as_of - ticket["opened_at_utc"]).total_seconds() if reading.as_of else None
            rows.append({**ticket, "age_s": age})
    return rows


def _month_of(reading: Reading, at_utc: datetime) -> str:
    return f"{reading.local.wall(at_utc):%Y-%m}"


def _tickets_alone(reading: Reading, month: str) -> Rows:
    return [
        ticket
        for ticket in reading.site["tickets"]
        if ticket["recovery_no"] is None
        and ticket["opened_at_utc"]
        and _month_of(reading, ticket["opened_at_utc"]) == month
    ]


def _not_known(reading: Reading, month: Mapping[str, Any], parts: Rows) -> tuple[str, ...]:
    name = month["month"]
    lines = []
    if reading.as_of is not None and _month_of(reading, reading.as_of) == name:
        lines.append(
            f"What happened after {reading.local.when(reading.as_of)}: the data end there, maybe inside the month."
        )
    lines += [
        f"{hours(hole['unknown_s'])} of air on channel {hole['channel']} fed by {hole['feed']}: its log says nothing "
        f"({counted(hole['spans_count'], 'stretch', 'stretches')})."
        for hole in reading.site["holes"]
        if hole["month"] == name
    ]
    if month["unproved_s"]:
        lines.append(
            f"Whether protect was in step in {hours(month['unproved_s'])} of good air: nothing logged proves it."
        )
    events = [part for part in parts if part["recovery_no"] is not None]  # a rescue has no cause and no ticket
    causes = sum(part["top"] == "unknown" for part in events)
    if causes:
        lines.append(f"The cause of {counted(causes, 'event')} of {len(events):,}.")
    onsets = sum(part["onset_at_utc"] is None for part in events)
    if onsets:
        lines.append(
            f"When the trouble began in {counted(onsets, 'event')}: no fault and no alarm is logged before the take."
        )
    if month["lost_s"] == 0 and month["unknown_s"] > 0:
        lines.append("Whether the month was clean: it lost nothing that is logged, and the logs have holes.")
    lines.append(
        "What viewers saw where a machine logs no loss of picture or sound; continuity is that of logged programme."
    )
    return tuple(lines)

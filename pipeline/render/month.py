"""A month's page, for the chief engineer: read aloud at the top, pencilled on below, filed when done."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import timedelta
from typing import Any

from pipeline.render.language import date_in_words, say
from pipeline.render.month_comparison import comparison_rows
from pipeline.render.month_events import KINDS as EVENT_KINDS
from pipeline.render.month_events import event_rows, kind_name
from pipeline.render.month_not_known import not_known_lines
from pipeline.render.month_quality import month_of, month_quality
from pipeline.render.month_remedies import ON_THE_SHEET, counted_words, power_words, quiet_words, remedies_of
from pipeline.render.month_run import shown_months
from pipeline.render.month_sheet import sheet_pictures
from pipeline.render.month_strip import mark_key
from pipeline.render.month_words import opening
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sheet import Sheet, month_page
from pipeline.render.table_words import kind_word
from pipeline.render.words import month_name

TIMES = ("to_take_s", "to_air_s", "to_cover_s", "to_service_s")
MOST_REPEATS = 5
OPEN_ON_THE_SHEET = 6
KINDS = ("forced", "precaution", "unexplained", "planned", "return")
TERMS_USED = (
    "air_s", "covered_s", "unproved_s", "exposed_s", "lost_s", "unknown_s", "elsewhere_s", "rescued_s", "overrun_s",
    "continuity", "continuity_bounds", "interruptions", "forced", "precaution", "unexplained", "planned", "return",
    "protect_switches", "protect_switches_per_1000_air_h", "rate_comparison", "expected_switches", "demands", "causes",
    "ticket_match", "to_take_s", "to_air_s", "to_cover_s", "to_service_s", "recovery_figures", "remedies", "months",
)  # fmt: skip


def month_sheets(reading: Reading, compared: Sequence[Row]) -> Iterator[Sheet]:
    """One sheet a month, in order; ``compared`` is the result of ``compare_months``."""
    for place in range(len(reading.figures["months"])):
        yield month_sheet(reading, place, compared)


def month_sheet(reading: Reading, place: int, compared: Sequence[Row]) -> Sheet:
    """The sheet of the month at ``place`` in the figures."""
    months = reading.figures["months"]
    month = months[place]
    name = month["month"]
    parts = [part for part in reading.parts if part["month"] == name]
    worst = max((part for part in parts if part["lost_s"] is not None), key=lambda part: part["lost_s"], default=None)
    rows = event_rows(reading, name, parts)
    context = {
        "month": month,
        "opening": opening(month, compared[place], worst, reading.local),
        "days_of_month": days_of_month(reading, name),
        "channels": [row for row in reading.figures["month_channels"] if row["month"] == name],
        "compared_rows": comparison_rows(name, compared[place]),
        "expected": compared[place]["expected"],
        "compared": compared,
        "months": months,
        "shown": [(at, months[at]) for at in shown_months(len(months), place)],
        **sheet_pictures(reading, place, compared, rows),
        "event_rows": rows,
        "event_kinds": [(kind, kind_word(kind) if kind in KINDS else kind_name(kind)) for kind in EVENT_KINDS],
        "mark_key": mark_key(),
        "causes": _causes(months, place),
        "is_first": not place,
        "began": began_of(reading),
        "times": TIMES,
        "kinds": KINDS,
        "parts": parts,
        "has_rulings": any(part["switch_ruling"] or part["cause_ruling"] or part["joined_by"] for part in parts),
        "repeats": repeats(parts),
        "open_most": OPEN_ON_THE_SHEET,
        **_tickets(reading, name, parts),
        **_remedies(reading, name),
        "quality": month_quality(reading, name),
        "terms_used": TERMS_USED,
    }
    lines = not_known_lines(reading, month, parts)
    return Sheet(month_page(name), "month.html.j2", month_name(name), month_name(name), context, lines)


def days_of_month(reading: Reading, month: str) -> str:
    """From which day to which the month goes, as the site counts months."""
    days = [row["day"] for row in reading.site["month_days"] if row["month"] == month]
    if not days:
        return ""
    first, last = date_in_words(days[0]), date_in_words(days[-1])
    if reading.settings.months == "broadcast":
        return say("The month is that of the broadcast calendar: {first} to {last}.", first=first, last=last)
    return say("The month is that of the calendar: {first} to {last}.", first=first, last=last)


def _remedies(reading: Reading, month: str) -> dict[str, Any]:
    remedies, left_out = remedies_of(reading, month)
    return {
        "remedies": remedies,
        "remedies_left_out": left_out,
        "remedies_most": ON_THE_SHEET,
        "counted_words": counted_words,
        "quiet_words": quiet_words,
        "power_words": power_words,
    }


def _tickets(reading: Reading, month: str, parts: Rows) -> dict[str, Rows]:
    return {
        "open_tickets": open_tickets(reading, month),
        "no_ticket": [part for part in parts if part["recovery_no"] is not None and part["ticket"] is None],
        "no_event": _tickets_alone(reading, month),
    }


def _causes(months: Sequence[Mapping[str, Any]], place: int) -> Rows:
    """The month's causes; ``is_new`` where no earlier month had the cause (never in the first)."""
    known = {(cause["top"], cause["second"]) for month in months[:place] for cause in month["causes"]}
    return [
        {**cause, "is_new": bool(place) and (cause["top"], cause["second"]) not in known}
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


def open_tickets(reading: Reading, month: str) -> Rows:
    """Tickets neither restored nor closed where the data end, opened in ``month`` or before, oldest first."""
    ends = next(row["ended_at_utc"] for row in reading.site["site_months"] if row["month"] == month)
    rows = []
    for ticket in reading.site["tickets"]:
        is_open = ticket["restored_at_utc"] is None and ticket["closed_at_utc"] is None
        if is_open and ticket["opened_at_utc"] is not None and ticket["opened_at_utc"] < ends:
            age: timedelta | None = reading.as_of - ticket["opened_at_utc"] if reading.as_of else None
            rows.append({**ticket, "age_s": age.total_seconds() if age is not None else None})
    return rows


def _tickets_alone(reading: Reading, month: str) -> Rows:
    return [
        ticket
        for ticket in reading.site["tickets"]
        if ticket["recovery_no"] is None
        and ticket["opened_at_utc"]
        and month_of(reading.site["site_months"], ticket["opened_at_utc"]) == month
    ]

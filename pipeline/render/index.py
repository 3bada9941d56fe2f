"""The front page: what site, until when, whether the data hold, the months, the incidents, the way to every page."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.render.month_words import rescue_sentence, unmet
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sheet import Sheet
from pipeline.render.words import counted, duration, hours, listed, month_name, needed, share

MOST_INCIDENTS = 1000
KINDS = ("forced", "precaution", "unexplained")

SAYS_NOTHING = ("of no interest:", "cancelled:", "header:")  # set aside, and nothing is left open by it


def index_sheet(reading: Reading) -> Sheet:
    """The front page's sheet."""
    figures = reading.figures
    context = {
        "total": figures["total"],
        "months": figures["months"],
        "kinds": KINDS,
        "summary": summary(figures),
        "incidents": _incidents(reading)[:MOST_INCIDENTS],
        "incidents_count": len(reading.incidents),
        "rows": figures["rows"],
        "files": len(figures["files"]),
    }
    title = f"Air hours of {figures['site']}"
    return Sheet("index.html", "index.html.j2", title, period(figures), context, site_not_known(reading), is_front=True)


def period(figures: Mapping[str, Any]) -> str:
    """The months of the report in words."""
    months = [month["month"] for month in figures["months"]]
    if not months:
        return "no air time"
    first, last = month_name(months[0]), month_name(months[-1])
    return first if first == last else f"{first} to {last}"


def summary(figures: Mapping[str, Any]) -> str:
    """The whole period in a few sentences."""
    total = figures["total"]
    if total["air_s"] <= 0:
        return "The bookings hold no air time up to where the data end."
    kinds = f"{total['forced']} forced, {total['precaution']} as a precaution, {total['unexplained']} unexplained"
    text = (
        f"Over {counted(len(figures['months']), 'month')} the room was on air for {hours(total['air_s'])} and lost "
        f"{duration(total['lost_s'])} in {counted(total['interruptions'], 'interruption')}.{rescue_sentence(total)} It "
        f"made {counted(total['protect_switches'], 'protect switch', 'protect switches')} ({kinds}). Protect was "
        f"{needed(total['demands'], total['demands_met'])}."
    )
    return f"{text} {unmet(total)}".rstrip()


def _incidents(reading: Reading) -> Rows:
    """The incidents, newest first, each with what it consists of."""
    what: dict[str, list[str]] = {}
    for part in reading.parts:
        what.setdefault(part["incident"], []).append(_in_short(part))
    return [
        {**incident, "what": _tally(what.get(incident["incident"], []))} for incident in reversed(reading.incidents)
    ]


def _in_short(part: Row) -> str:
    if part["recovery_no"] is None:
        away = duration((part["ended_at_utc"] - part["started_at_utc"]).total_seconds())
        return f"rescue by another source, room off air {away}"
    if part["kind"]:
        return f"{part['kind']} switch" + (" with loss" if part["interruption_no"] is not None else "")
    return "interruption, healed" if part["is_healed"] else "interruption"


def _tally(words: list[str]) -> str:
    counts = {word: words.count(word) for word in dict.fromkeys(words)}
    return ", ".join(word if count == 1 else f"{count} × {word}" for word, count in counts.items())


def site_not_known(reading: Reading) -> tuple[str, ...]:
    """What the logs of the whole site leave open, in sentences."""
    figures, total = reading.figures, reading.figures["total"]
    silent = [row["machine"] for row in reading.site["no_lock"]]
    events = sum(part["recovery_no"] is not None for part in reading.parts)
    unknown = sum(cause["count"] for cause in figures["causes"] if cause["top"] == "unknown")
    alone = sum(ticket["recovery_no"] is None for ticket in reading.site["tickets"])
    said = sum(row["rows_count"] for row in reading.site["set_aside_counts"] if row["reason"].startswith(SAYS_NOTHING))
    unread = figures["rows"]["set_aside"] - said
    unheard = f"{hours(total['unknown_s'])} ({share(total['unknown_s'], total['air_s'])} of air time)"
    facts = [
        (total["unknown_s"], f"What was on air for {unheard}: the logs say nothing of the machine that fed."),
        (
            total["unproved_s"],
            f"Whether protect was in step in {hours(total['unproved_s'])} of good air: nothing logged proves it.",
        ),
        (unread, f"What {counted(unread, 'row')} set aside would have said."),
        (silent, f"Whether {listed(silent)} held lock: never logged there, so taken for granted while rolling."),
        (unknown, f"The cause of {counted(unknown, 'event')} of {events:,}."),
        (alone, f"Which event on air, if any, {counted(alone, 'ticket belongs', 'tickets belong')} to."),
        (True, "What no log holds: loss that no machine logs, and everything outside booked air windows."),
    ]
    return tuple(words for is_so, words in facts if is_so)

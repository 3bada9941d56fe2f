"""The front page: what site, until when, whether the data hold, the months, the incidents, the way to every page."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from pipeline.render.language import month_in_short, say, say_counted, whole
from pipeline.render.month_words import rescue_sentence, unmet
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sheet import Sheet
from pipeline.render.table_words import switch_word
from pipeline.render.words import counted, duration, hours, listed, month_name, needed, share

MOST_INCIDENTS = 300  # so that the page stays a page; all of them are on the months' pages
KINDS = ("forced", "precaution", "unexplained")

SAYS_NOTHING = ("of no interest:", "cancelled:", "header:")  # set aside, and nothing is left open by it


def index_sheet(reading: Reading) -> Sheet:
    """The front page's sheet."""
    figures = reading.figures
    context = {
        "total": figures["total"],
        "months": figures["months"],
        "month_short": _month_short,
        "kinds": KINDS,
        "summary": summary(figures),
        "incidents": _incidents(reading)[:MOST_INCIDENTS],
        "incidents_count": len(reading.incidents),
        "rows": figures["rows"],
        "files": len(figures["files"]),
    }
    title = say("Air hours of {site}", site=figures["site"])
    return Sheet("index.html", "index.html.j2", title, period(figures), context, site_not_known(reading), is_front=True)


def _month_short(month: str) -> str:
    year, number = month.split("-")
    return f"{month_in_short(int(year), int(number))} {year}"


def period(figures: Mapping[str, Any]) -> str:
    """The months of the report in words."""
    months = [month["month"] for month in figures["months"]]
    if not months:
        return say("no air time")
    first, last = month_name(months[0]), month_name(months[-1])
    return first if first == last else say("{first} to {last}", first=first, last=last)


def summary(figures: Mapping[str, Any]) -> str:
    """The whole period in a few sentences."""
    total = figures["total"]
    if total["air_s"] <= 0:
        return say("The bookings hold no air time up to where the data end.")
    on_air = say_counted(
        "Over {n} month the room was on air for {air} and lost {lost} in {interruptions}.",
        "Over {n} months the room was on air for {air} and lost {lost} in {interruptions}.",
        len(figures["months"]),
        air=hours(total["air_s"]),
        lost=duration(total["lost_s"]),
        interruptions=counted(total["interruptions"], "interruption"),
    )
    switched = say(
        "It made {switches} ({forced} forced, {precaution} as a precaution, {unexplained} unexplained).",
        switches=counted(total["protect_switches"], "protect switch", "protect switches"),
        **{kind: whole(total[kind]) for kind in KINDS},
    )
    asked = say("Protect was {needed}.", needed=needed(total["demands"], total["demands_met"]))
    return f"{on_air}{rescue_sentence(total)} {switched} {asked} {unmet(total)}".rstrip()


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
        return say("rescue by another source, room off air {time}", time=away)
    if part["kind"]:
        switch = switch_word(part["kind"])
        return switch if part["interruption_no"] is None else say("{switch} with loss", switch=switch)
    return say("interruption, healed") if part["is_healed"] else say("interruption")


def _tally(words: list[str]) -> str:
    counts = {word: words.count(word) for word in dict.fromkeys(words)}
    return ", ".join(word if count == 1 else f"{count} × {word}" for word, count in counts.items())


def site_not_known(reading: Reading) -> tuple[str, ...]:
    """What the logs of the whole site leave open, in sentences."""
    return tuple(words for is_so, words in (*_of_air(reading), *_of_rows(reading)) if is_so)


def _of_air(reading: Reading) -> Iterator[tuple[Any, str]]:
    total = reading.figures["total"]
    yield (
        total["unknown_s"],
        say(
            "What was on air for {time} ({share} of air time): the logs say nothing of the machine that fed.",
            time=hours(total["unknown_s"]),
            share=share(total["unknown_s"], total["air_s"]),
        ),
    )
    yield (
        total["unproved_s"],
        say(
            "Whether protect was in step in {time} of good air: nothing logged proves it.",
            time=hours(total["unproved_s"]),
        ),
    )


def _of_rows(reading: Reading) -> Iterator[tuple[Any, str]]:
    silent = [row["machine"] for row in reading.site["no_lock"]]
    events = sum(part["recovery_no"] is not None for part in reading.parts)
    unknown = sum(cause["count"] for cause in reading.figures["causes"] if cause["top"] == "unknown")
    alone = sum(ticket["recovery_no"] is None for ticket in reading.site["tickets"])
    said = sum(row["rows_count"] for row in reading.site["set_aside_counts"] if row["reason"].startswith(SAYS_NOTHING))
    unread = reading.figures["rows"]["set_aside"] - said
    yield unread, say("What {rows} set aside would have said.", rows=counted(unread, "row"))
    yield (
        silent,
        say(
            "Whether {machines} held lock: never logged there, so taken for granted while rolling.",
            machines=listed(silent),
        ),
    )
    yield (
        unknown,
        say_counted("The cause of {n} event of {of}.", "The cause of {n} events of {of}.", unknown, of=whole(events)),
    )
    yield (
        alone,
        say_counted(
            "Which event on air, if any, {n} ticket belongs to.", "Which event on air, if any, {n} tickets belong to.",
            alone,
        ),
    )  # fmt: skip
    yield True, say("What no log holds: loss that no machine logs, and everything outside booked air windows.")

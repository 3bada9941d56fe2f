"""An incident's page as plain text that can go in a mail, and as plain values: the same facts, from the same sheet.

What rooms write may hold signs that steer a terminal; only signs that print reach the text.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime, timedelta
from typing import Any

from pipeline.render.language import say, say_counted
from pipeline.render.moments import BOOKING, TICKET, Moment
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sentences import Ref, Sentence
from pipeline.render.sheet import Sheet
from pipeline.render.stretch import is_stretch, nothing
from pipeline.render.table_words import source_word
from pipeline.render.words import Local, duration, within

WIDTH = 78
MOST_SPANS = 20
MOST_LINES = 40  # told in a text; the page has more


def incident_text(sheet: Sheet, reading: Reading) -> str:
    """Headline, account with the numbers of the lines that prove it, moments, lines, and what is not known.

    Lines of at most ``WIDTH`` letters, but for a name that is longer; times are the site's own.
    """
    context, local = sheet.context, reading.local
    incident = context["incident"]
    as_of = local.when(reading.as_of) if reading.as_of else say("no data")
    name = "" if is_stretch(incident) else say("Incident {incident}.", incident=incident["incident"]) + " "
    zone = say("Times are those of {zone}; the data go to {as_of}.", zone=reading.settings.timezone, as_of=as_of)
    blocks = [
        [*_wrapped(f"{reading.settings.name}: {sheet.title}"), *_wrapped(f"{name}{zone}")],
        _wrapped(context["headline"] if context["accounts"] else f"{context['headline']} {nothing()}"),
        _near(context, reading),
        *_accounts(context),
        _air(context, reading) if is_stretch(incident) else [],
        _moments(context, reading),
        _lines(context, reading),
        _headed(say("What is not known"), (line for said in sheet.not_known for line in _wrapped(f"- {said}", "  "))),
    ]
    return "\n\n".join("\n".join(_printable(line) for line in block) for block in blocks if block)


def _near(context: Mapping[str, Any], reading: Reading) -> list[str]:
    near = [f"{one['incident']} ({reading.local.stamp(one['started_at_utc'])})" for one in context["at_once"]]
    gap = duration(reading.settings.incident_gap_s)
    return (
        _wrapped(say("Incidents within {gap} of it: {incidents}.", gap=gap, incidents=", ".join(near))) if near else []
    )


def _accounts(context: Mapping[str, Any]) -> Iterator[list[str]]:
    several = len(context["accounts"]) > 1
    for number, one in enumerate(context["accounts"], 1):
        heading = say("What happened, part {number}", number=number) if several else say("What happened")
        yield _told(heading, one["sentences"], context)
    yield _told(say("Before it"), context["lead_up"], context)


def _told(heading: str, sentences: Iterable[Sentence], context: Mapping[str, Any]) -> list[str]:
    text = " ".join(_with_numbers(sentence, context["numbers"]) for sentence in sentences)
    return _headed(heading, _wrapped(text)) if text else []


def _with_numbers(sentence: Sentence, numbers: Mapping[Ref, int]) -> str:
    behind = sorted({numbers[line] for line in sentence.lines if line in numbers})
    return f"{sentence.text} [{', '.join(map(str, behind))}]" if behind else sentence.text


def _air(context: Mapping[str, Any], reading: Reading) -> list[str]:
    """Who fed the channel, and whether air was covered: of a time that is no incident the account says nothing."""
    time, rows = reading.local.time, context["spans"]
    told = [
        say(
            "{begin} to {end}  {feed}: {air}",
            begin=time(row["started_at_utc"]),
            end=time(row["ended_at_utc"]),
            feed=source_word(row["feed"]),
            air=row["air"],
        )
        for row in rows[:MOST_SPANS]
    ]
    if len(rows) > MOST_SPANS:
        more = len(rows) - MOST_SPANS
        told.append(say_counted("{n} stretch more on the page", "{n} stretches more on the page", more))
    told = told or [say("No air time of this room lies around it.")]
    heading = say("Air around it, and the machine the selector was on")
    return _headed(heading, (line for row in told for line in _wrapped(row, "    ")))


def _moments(context: Mapping[str, Any], reading: Reading) -> list[str]:
    lines = []
    for row in context["moments"]:
        moment: Moment = row["moment"]
        stamp = say("; stamp {stamp}", stamp=moment.stamp) if moment.stamp else ""
        said = f"{reading.local.stamp(moment.at_utc)} ({moment.margin}) {moment.what}{stamp}"
        lines += _wrapped(_with_numbers(Sentence(said, row["lines"]), context["numbers"]), "    ")
    lines += [line for said in context["unordered"] for line in _wrapped(f"- {said}", "  ")]
    return _headed(say("The moments"), lines) if lines else []


def _lines(context: Mapping[str, Any], reading: Reading) -> list[str]:
    lines, local = context["lines"], reading.local
    told = [*context["lead_up"], *(sentence for one in context["accounts"] for sentence in one["sentences"])]
    needed = frozenset(ref for said in told for ref in said.lines)
    needed |= {ref for row in context["moments"] for ref in row["lines"]}
    shown = _nearest(lines, needed, context["incident"], reading.settings.lead_s)
    more, left_out = len(lines) - len(shown), context["left_out"]
    rows = [row for line in shown for row in _line_rows(line, context["day"], local)]
    rows = rows or [say("No line lies in the window.")]
    if any(line["is_order_unknown"] for line in shown):
        rows += _wrapped(say("≈ marks a line whose order with the line above is not known."))
    if more or left_out:
        last = say_counted("{n} line more on the page", "{n} lines more on the page", more)
        if left_out:
            last += say_counted(", and {n} line further away on none", ", and {n} lines further away on none", left_out)
        rows += _wrapped(f"{last}.")
    return _headed(say("The lines behind it"), rows)


def _line_rows(line: Row, day: str, local: Local) -> list[str]:
    """A line of the logs with its number, time, ±, and where it stands."""
    order = "≈ " if line["is_order_unknown"] else ""
    time = local.time(line["at_utc"]) if local.date(line["at_utc"]) == day else local.stamp(line["at_utc"])
    said = f"{line['number']:>4}  {order}{time} ({_line_margin(line)})  {line['source']}: {line['what']}"
    place = say("{file}, line {line}", file=line["file"], line=line["line"])
    if line["stamp"]:
        place = say("{file}, line {line}, as {stamp}", file=line["file"], line=line["line"], stamp=line["stamp"])
    return _wrapped(f"{said} ({place})", "      ")


def _line_margin(line: Row) -> str:
    """Its ± in words, or on whose word its time rests."""
    rests = {BOOKING: say("as booked"), TICKET: say("as the ticket says"), "label": say("as the label says")}
    return rests.get(line["clock"], within(line["within_s"]))


def _nearest(lines: Rows, needed: frozenset[Ref], incident: Row, lead_s: float) -> Rows:
    """What the account rests on, and of the others in the window those nearest to its beginning, in order."""
    must = {line["number"] for line in lines if (line["file"], line["line"]) in needed}
    begin, lead = incident["started_at_utc"], timedelta(seconds=lead_s)
    inside = [line for line in lines if begin - lead <= line["at_utc"] <= incident["ended_at_utc"] + lead]
    nearest = sorted(inside, key=lambda line: abs((line["at_utc"] - begin).total_seconds()))
    rest = [line["number"] for line in nearest if line["number"] not in must]
    kept = must | set(rest[: max(0, MOST_LINES - len(must))])
    return [line for line in lines if line["number"] in kept]


def incident_data(sheet: Sheet, reading: Reading) -> dict[str, Any]:
    """The same as plain values: instants in UTC with a Z, lengths in seconds, each sentence with the rows behind it."""
    context, incident = sheet.context, sheet.context["incident"]
    return {
        "site": reading.settings.name,
        "timezone": reading.settings.timezone,
        "as_of_utc": _utc(reading.as_of),
        "incident": None if is_stretch(incident) else incident["incident"],
        "title": sheet.title,
        "channel": incident["channel"],
        "started_at_utc": _utc(incident["started_at_utc"]),
        "ended_at_utc": _utc(incident["ended_at_utc"]),
        "lost_s": incident["lost_s"],
        "headline": context["headline"],
        "incidents_near": [one["incident"] for one in context["at_once"]],
        "parts": [_part(one) for one in context["accounts"]],
        "before": _sentences(context["lead_up"]),
        "air": [_span(row) for row in context["spans"]],
        "moments": [_moment(row["moment"], row["lines"]) for row in context["moments"]],
        "order_not_known": context["unordered"],
        "lines": [_line(line) for line in context["lines"]],
        "lines_left_out": context["left_out"],
        "not_known": list(sheet.not_known),
    }


def _part(one: Mapping[str, Any]) -> dict[str, Any]:
    part: Row = one["part"]
    names = ("channel", "machine", "to_machine", "ticket")
    return {
        **{name: part[name] for name in names},
        "incident": part["incident"],
        "started_at_utc": _utc(part["started_at_utc"]),
        "ended_at_utc": _utc(part["ended_at_utc"]),
        "sentences": _sentences(one["sentences"]),
    }


def _span(row: Row) -> dict[str, Any]:
    begun = {name: _utc(row[name]) for name in ("started_at_utc", "ended_at_utc")}
    return {**begun, **{name: row[name] for name in ("channel", "feed", "state", "exposed_why")}}


def _moment(moment: Moment, lines: Iterable[Ref]) -> dict[str, Any]:
    return {
        "what": moment.what,
        "at_utc": _utc(moment.at_utc),
        "within_s": moment.within_s,
        "clock": moment.clock,
        "stamp": moment.stamp,
        "lines": _refs(lines),
    }


def _sentences(sentences: Iterable[Sentence]) -> list[dict[str, Any]]:
    return [{"text": said.text, "lines": _refs(said.lines)} for said in sentences]


def _line(line: Row) -> dict[str, Any]:
    names = ("number", "stamp", "within_s", "source", "what", "file", "line", "is_take", "is_order_unknown")
    return {"at_utc": _utc(line["at_utc"]), **{name: line[name] for name in names}}


def _refs(lines: Iterable[Ref]) -> list[dict[str, Any]]:
    return [{"file": file, "line": line} for file, line in lines]


def _utc(at_utc: datetime | None) -> str | None:
    return None if at_utc is None else f"{at_utc.isoformat()}Z"


def _headed(heading: str, lines: Iterable[str]) -> list[str]:
    return [heading, *(f"  {line}" for line in lines)]


def _wrapped(text: str, then: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH - 2, subsequent_indent=then, break_long_words=False, break_on_hyphens=False)


def _printable(line: str) -> str:
    return "".join(letter if letter.isprintable() else " " for letter in line)

"""An incident's page, for the engineer who attaches it to a ticket: account, moments, strip, what was before, lines."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import timedelta
from typing import Any

from pipeline.render.incident_room import fault_rows, head_rows, lead_up, room_rows
from pipeline.render.incident_strip import strips
from pipeline.render.incident_words import account
from pipeline.render.language import say, say_counted
from pipeline.render.lines import line_numbers, order_lines, outside_lines
from pipeline.render.moments import moments_of, order_not_known
from pipeline.render.page_words import air_state
from pipeline.render.preserve import to_preserve
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sentences import Ref, Sentence, refs
from pipeline.render.sheet import Sheet, incident_page
from pipeline.render.shown import MOST_OTHERS
from pipeline.render.stretch import is_stretch, lost_air, stretch_headline, stretch_title
from pipeline.render.witness import Witness
from pipeline.render.words import Local, capital, duration, listed

LINES = 400
HISTORY = 8
NEIGHBOURS = 20  # incidents before and after in time that can lie within the gap
SHARED = ("machine", "reel", "recorded_on")
AWAY = "no air of this room"  # a state of the air table


def incident_sheets(reading: Reading) -> Iterator[Sheet]:
    """One sheet for each incident or stretch of time that is shown, in order of time."""
    shared = history_index(reading.parts)
    for place, incident in enumerate(reading.incidents):
        if incident["incident"] in reading.shown:
            yield _sheet(reading, place, reading.shown[incident["incident"]], shared)


def _sheet(reading: Reading, place: int, parts: Rows, shared: Mapping[tuple[str, str], Rows]) -> Sheet:
    incident, local = reading.incidents[place], reading.local
    around = reading.around_of(incident["incident"])
    tables = incident_tables(reading, incident, parts)
    keep = frozenset(line for table in tables.values() for line in _lines_of(table))
    lines, left_out = order_lines(
        around["events"], around["takes"], around["tickets"],
        around=incident["started_at_utc"], most=LINES, more=outside_lines(around), keep=keep,
    )  # fmt: skip
    channels = dict.fromkeys([part["channel"] for part in parts] or [incident["channel"]])
    context = {
        **tables,
        "incident": incident,
        "day": local.date(incident["started_at_utc"]),
        "headline": (stretch_headline if is_stretch(incident) else headline)(incident, parts, local),
        "is_stretch": is_stretch(incident),
        "figures": [figure for channel in channels for figure in strips(reading, incident, channel, parts)],
        "spans": air_table(reading, incident),
        "lines": lines,
        "numbers": line_numbers(lines),
        "left_out": left_out,
        "alive": sum(row["event"] == "alive" for row in around["events"]),
        "tickets": around["tickets"],
        "history": history(parts, shared),
        "at_once": at_once(reading, place),
    }
    title = f"{local.date(incident['started_at_utc'])}, {local.time(incident['started_at_utc'])}"
    title = stretch_title(incident, local) if is_stretch(incident) else title
    return Sheet(
        name=incident_page(incident["incident"]),
        template="incident.html.j2",
        title=say("{title}: channel {channel}", title=title, channel=incident["channel"]),
        period=local.stamp(incident["started_at_utc"]),
        context=context,
        not_known=_not_known(reading, incident, parts, lines),
    )


def incident_tables(reading: Reading, incident: Row, parts: Rows) -> dict[str, Any]:
    """What the page says that rests on lines: accounts, moments, the room, what was before, what to preserve."""
    around, local, settings = reading.around_of(incident["incident"]), reading.local, reading.settings
    witness = Witness(around)
    moments = [(part, moments_of(part, witness)) for part in parts]
    return {
        "accounts": [
            {"part": part, "sentences": account(part, around, local, is_first=not number)}
            for number, part in enumerate(parts)
        ],
        "moments": [
            {"moment": moment, "part": part, "lines": refs(*moment.rows)} for part, own in moments for moment in own
        ],
        "unordered": list(dict.fromkeys(text for _, own in moments for text in order_not_known(own, local))),
        "room": room_rows(around, incident, local, carry_s=settings.carry_s),
        "most_others": MOST_OTHERS,
        "heads": head_rows(around, incident, reading.parts),
        "faults": fault_rows(around),
        "care": [row | {"lines": refs(row)} for row in around["care"]],
        "lead_up": lead_up(around, incident, local, lead_s=settings.lead_s),
        "preserve": to_preserve(incident, parts, around, reading.figures.get("files", [])),
    }


def _lines_of(table: Any) -> Iterator[Ref]:
    """Every line that a table of ``incident_tables`` rests on, however deep it stands."""
    if isinstance(table, Sentence):
        yield from table.lines
    elif isinstance(table, Mapping):
        yield from table.get("lines", ())
        yield from _lines_of([table[key] for key in ("sentences", "latest") if key in table])
    elif isinstance(table, list):
        for row in table:
            yield from _lines_of(row)


def headline(incident: Row, parts: Rows, local: Local) -> str:
    """What was lost in a sentence or two, with the time off air and the change of the clocks where there was one."""
    away_s = sum(
        (part["ended_at_utc"] - part["started_at_utc"]).total_seconds() for part in parts if part["recovery_no"] is None
    )
    told = [capital(lost_air(incident["lost_s"]))]
    if away_s:
        told.append(say("the room was off air for {length} while another source stood in", length=duration(away_s)))
    several = say_counted(", in {n} part", ", in {n} parts", len(parts)) if len(parts) > 1 else ""
    text = f"{'; '.join(told)}{several}."
    began, ended = (local.zone_name(incident[name]) for name in ("started_at_utc", "ended_at_utc"))
    if began != ended:
        changed = say(
            "The clocks changed meanwhile: it began in {began} and ended in {ended}.", began=began, ended=ended
        )
        text += f" {changed}"
    return text


def _touches(row: Row, incident: Row, reach_s: float) -> bool:
    begin = incident["started_at_utc"] - timedelta(seconds=reach_s)
    end = incident["ended_at_utc"] + timedelta(seconds=reach_s)
    return bool(row["started_at_utc"] < end and row["ended_at_utc"] > begin)


def air_table(reading: Reading, incident: Row) -> Rows:
    """Stretches of air within the lead of the incident, and in between those on another source, no air of the room."""
    around = reading.around_of(incident["incident"])
    away = [
        {**row, "state": AWAY, "exposed_why": None}
        for row in around["feeds"]
        if row["feed"] == "other" and row["ended_at_utc"] > row["started_at_utc"]
    ]
    lead_s = reading.settings.lead_s
    rows = [row for row in (*around["spans"], *away) if _touches(row, incident, lead_s)]
    ordered = sorted(rows, key=lambda row: (row["channel"], row["started_at_utc"]))
    return [row | {"air": say("no air of this room") if row["state"] == AWAY else air_state(row)} for row in ordered]


def history_index(parts: Rows) -> dict[tuple[str, str], Rows]:
    """All parts by transport left, reel and recording machine, in order of time."""
    index: dict[tuple[str, str], Rows] = {}
    for part in parts:
        for what in SHARED:
            if part[what]:
                index.setdefault((what, part[what]), []).append(part)
    return index


def history(parts: Rows, shared: Mapping[tuple[str, str], Rows]) -> Rows:
    """For each transport, reel and recording machine of the incident: how many earlier events it had, latest first."""
    own = {part["event_key"] for part in parts}
    rows: Rows = []
    words = {"machine": say("transport left"), "reel": say("reel"), "recorded_on": say("recorded on")}
    for what in SHARED:
        for name in dict.fromkeys(part[what] for part in parts if part[what]):
            first = min(part["started_at_utc"] for part in parts)
            earlier = [
                part for part in shared[what, name] if part["started_at_utc"] < first and part["event_key"] not in own
            ]
            latest = earlier[::-1][:HISTORY]
            rows.append({"kind": what, "what": words[what], "name": name, "count": len(earlier), "latest": latest})
    return rows


def at_once(reading: Reading, place: int) -> Rows:
    """Other incidents closer in time than the incident gap, though they share no channel and no machine."""
    gap_s, here = reading.settings.incident_gap_s, reading.incidents[place]
    nearby = reading.incidents[max(0, place - NEIGHBOURS) : place + NEIGHBOURS + 1]
    return [other for other in nearby if other is not here and _touches(other, here, gap_s)]


def _not_known(reading: Reading, incident: Row, parts: Rows, lines: Rows) -> tuple[str, ...]:
    around = reading.around_of(incident["incident"])
    states = {row["state"] for row in around["spans"] if _touches(row, incident, 60.0)}
    silent = sorted({row["machine"] for row in around["not_known"]})
    clocks = {clock["machine"]: clock["within_s"] for clock in reading.figures["clocks"]}
    loose = [row["machine"] for row in around["machines"] if clocks.get(row["machine"]) is None]
    recoveries = [part for part in parts if part["recovery_no"] is not None]
    facts = [
        ("unknown" in states, say("What was on air for part of it: the machine that fed logs nothing.")),
        ("unproved" in states, say("Whether protect covered for part of it: nothing logged proves it in step.")),
        (silent, say("What {machines} did for part of the window: drawn as a crossed gap.", machines=listed(silent))),
        (
            any(part["onset_at_utc"] is None and part["machine"] for part in recoveries),
            say("When the trouble began, where no fault and no alarm is logged before the take."),
        ),
        (
            any(part["top"] in (None, "unknown") for part in recoveries),
            say("The cause, where no ticket says it."),
        ),
        (
            any(line["is_order_unknown"] for line in lines),
            say("Which came first, where a line is marked so: two clocks differ by less than their joint ±."),
        ),
        (
            any(part["is_back"] is False for part in parts),
            say("How long it would have lasted: the window or the data ended."),
        ),
        (
            loose,
            say("How the clock of {machines} stands to the house clock: its times have no ±.", machines=listed(loose)),
        ),
        (True, say("What was seen at home, and anything that no machine, selector or ticket recorded.")),
    ]
    return tuple(words for is_so, words in facts if is_so)

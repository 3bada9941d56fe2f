"""An incident's page, for the engineer who attaches it to a ticket: account, moments, strip, what was before, lines."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Any

from markupsafe import escape

from pipeline.render.incident_room import fault_rows, head_rows, is_of_heads, lead_up, room_rows
from pipeline.render.incident_strip import strips
from pipeline.render.incident_words import account
from pipeline.render.language import say, say_counted
from pipeline.render.lines import line_numbers, order_lines, outside_lines
from pipeline.render.moments import moments_of, order_not_known
from pipeline.render.page_words import air_state, unbroken
from pipeline.render.pieces import piece_key
from pipeline.render.preserve import copies_read, to_preserve
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sentences import Ref, Sentence, refs
from pipeline.render.sheet import LateSheet, Sheet, incident_page
from pipeline.render.shown import MOST_OTHERS
from pipeline.render.stretch import is_stretch, lost_air, stretch_headline, stretch_title
from pipeline.render.witness import Witness
from pipeline.render.words import Local, capital, duration, listed

TEMPLATE = "incident.html.j2"
PRESERVE = '<h2 id="preserve">'  # the heading in it before the sentences on what to preserve
NUMBERS = ("recovery_no", "interruption_no", "event_no")  # only whether there is one is told
LINES = 400
HISTORY = 8
NEIGHBOURS = 20  # incidents before and after in time that can lie within the gap
SHARED = ("machine", "reel", "recorded_on")
AWAY = "no air of this room"  # a state of the air table


def incident_sheets(reading: Reading) -> Iterator[Sheet]:
    """One sheet for each incident or stretch of time that is shown, in order of time."""
    return (_sheet(given) for given in _all_given(reading))


def late_incident_sheets(reading: Reading) -> Iterator[LateSheet]:
    """The same sheets, each to be made where its page does not stand already."""
    return (_late_sheet(given) for given in _all_given(reading))


@dataclass(frozen=True)
class Given:
    """All that the page of one incident is made from, and nothing else.

    ``reading`` holds this incident alone, its own rows, earlier parts on the heads that it had, and of figures.json and
    of the links what it names. ``history`` and ``at_once`` are rows on what was before and near it.
    """

    reading: Reading
    incident: Row
    parts: Rows
    history: Rows
    at_once: Rows


def _all_given(reading: Reading) -> Iterator[Given]:
    shared = history_index(reading.parts)
    order = {part["event_key"]: place for place, part in enumerate(reading.parts)}
    for place, incident in enumerate(reading.incidents):
        name = incident["incident"]
        if name in reading.shown:
            parts = reading.shown[name]
            before = _on_its_heads(reading.of_incident("head_stays", name), incident, shared)
            before.sort(key=lambda part: order[part["event_key"]])
            own = _alone(reading, incident, parts, before)
            earlier = [
                {**row, "latest": [_pointed_to(part) for part in row["latest"]]} for row in history(parts, shared)
            ]
            yield Given(own, incident, own.shown[name], earlier, at_once(reading, place))


def _pointed_to(part: Row) -> Row:
    return {name: part[name] for name in ("incident", "started_at_utc", "machine")}


def _numbered_apart(rows: Rows, keys: Mapping[str, str]) -> Rows:
    """The rows with numbers of their own in the place of the room's, which change as a day is added before or after."""
    return [
        {name: keys.get(value, value) if name == "event_key" else _told(name, value) for name, value in row.items()}
        for row in rows
    ]


def _told(name: str, value: Any) -> Any:
    return value if name not in NUMBERS or value is None else 0


def _on_its_heads(stays: Rows, incident: Row, shared: Mapping[tuple[str, str], Rows]) -> Rows:
    """Earlier parts on machines in which the incident's heads sat."""
    machines = dict.fromkeys(row["machine"] for row in stays)
    parts = [part for machine in machines for part in shared.get(("machine", machine), ())]
    return [part for part in parts if is_of_heads(stays, part, incident)]


def _alone(reading: Reading, incident: Row, parts: Rows, before: Rows) -> Reading:
    """The reading with nothing in it but what the page of one incident may use."""
    name = incident["incident"]
    keys = {part["event_key"]: f"part {number}" for number, part in enumerate(parts, start=1)}
    around = {table: _numbered_apart(rows, keys) for table, rows in reading.around_of(name).items()}
    machines = {row["machine"] for row in around["machines"]}
    named = {row["file"] for rows in around.values() for row in rows if row.get("file") is not None}
    return replace(
        reading,
        figures={
            "clocks": [_clock(clock) for clock in reading.figures["clocks"] if clock["machine"] in machines],
            "files": [_file(file) for file in reading.figures.get("files", []) if file["path"] in named],
        },
        as_of=None,
        incidents=[incident],
        parts=[_pointed_to(part) for part in before],
        shown={name: _numbered_apart(parts, keys)},
        around={table: {name: rows} for table, rows in around.items()},
        site={},
        checks=[],
        findings=[],
        persons=(),
        links=reading.links.only(part["reel"] for part in parts),
    )


def _clock(clock: Row) -> Row:
    return {"machine": clock["machine"], "within_s": clock["within_s"]}


def _file(file: Row) -> Row:
    return {"path": file["path"], "sha256": file["sha256"]}


def _late_sheet(given: Given) -> LateSheet:
    reading, incident = given.reading, given.incident
    around = reading.around_of(incident["incident"])
    blanks, told = copies_read(around, reading.figures["files"])
    # A file's sum is no part of the key: it is printed in a blank.
    figures = {**reading.figures, "files": [file["path"] for file in reading.figures["files"]]}
    return LateSheet(
        name=incident_page(incident["incident"]),
        template=TEMPLATE,
        title=_title(incident, reading.local),
        period=reading.local.stamp(incident["started_at_utc"]),
        key=piece_key(replace(given, reading=replace(reading, figures=figures)), told),
        make=lambda: _sheet(given),
        blanks=blanks,
        printed=tuple(str(escape(unbroken(text))) for text in told),
        after=PRESERVE,
    )


def _title(incident: Row, local: Local) -> str:
    title = f"{local.date(incident['started_at_utc'])}, {local.time(incident['started_at_utc'])}"
    title = stretch_title(incident, local) if is_stretch(incident) else title
    return say("{title}: channel {channel}", title=title, channel=incident["channel"])


def _sheet(given: Given) -> Sheet:
    reading, incident, parts, local = given.reading, given.incident, given.parts, given.reading.local
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
        "history": given.history,
        "at_once": given.at_once,
    }
    return Sheet(
        name=incident_page(incident["incident"]),
        template=TEMPLATE,
        title=_title(incident, local),
        period=local.stamp(incident["started_at_utc"]),
        context=context,
        not_known=_not_known(reading, incident, parts, lines),
        links=reading.links,
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

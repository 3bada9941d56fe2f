"""Writes the site.toml of the second room from the same tables of words by which its files are spelled."""

from __future__ import annotations

import json
from collections.abc import Mapping

from sample_logs.foreign import booking_calendar, fault_workbook, registers, selector_log, spellings
from sample_logs.foreign.days import CALENDAR_ENDS
from sample_logs.foreign.house import NAME, NEW_NUMBER
from sample_logs.foreign.machine_syslog import ELEMENT

OPENING = f"""# An invented room in an invented town, whose files are in none of the program's own columns.
name = "{NAME}"
timezone = "Europe/Stockholm"   # its clocks go back on 26 October 2031
day_starts = "06:00"
frame_rate = 25
reel_numbers = "normal"         # O typed for 0, zeros in front left out

[[renumbered]]                  # its bay was moved: logs and tickets call it so from that day on
was = "{NEW_NUMBER[1]}"
is = "{NEW_NUMBER[0]}"
from = {NEW_NUMBER[2]}
"""
VALUE = "-?[0-9]+(?:,[0-9]+)?"
PHRASES = (
    f"^(?P<event>FÖRSKJUTNING|KLOCKA GÅR FÖRE) (?P<tal>{VALUE})(?: (?P<vad>bm[0-9]))?$",  # the old card
    f"^(?P<event>TIMMÄTARE) (?P<tal>{VALUE}) h$",
    "^(?P<event>LARM SLUT)$",
    "^(?P<event>LARM SLUT|LARM|HUVUD BYTT|DEL BYTT) (?P<vad>.+)$",
    "^(?P<event>.+)$",
)


def write_site() -> bytes:
    """The file's bytes."""
    tables = (_selector(), _tickets(), _cards(), _old_card(), _series(), _single(), _register(), _labels())
    return "\n".join((OPENING, *tables)).encode()


def _table(kind: str, path: str | list[str], keys: Mapping[str, str], *sections: str) -> str:
    head = {"kind": _quoted(kind), "path": json.dumps(path), **keys}
    return "[[feeds]]\n" + "".join(f"{key} = {value}\n" for key, value in head.items()) + "".join(sections)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _section(name: str, pairs: Mapping[str, str | list[str]]) -> str:
    lines = (f"{_quoted(theirs)} = {json.dumps(ours, ensure_ascii=False)}\n" for theirs, ours in pairs.items())
    return f"[feeds.{name}]\n" + "".join(lines)


def _parts(patterns: Mapping[str, tuple[str, ...]]) -> str:
    """Patterns in single quotes, in which TOML leaves a backslash alone."""
    lists = ("".join(f"    '{pattern}',\n" for pattern in each) for each in patterns.values())
    return "[feeds.parts]\n" + "".join(
        f"{_quoted(theirs)} = [\n{listed}]\n" for theirs, listed in zip(patterns, lists, strict=True)
    )


def _turned(table: Mapping[str, str]) -> dict[str, str]:
    """Theirs to ours, from ours to theirs."""
    return {theirs: ours for ours, theirs in table.items()}


def _selector() -> str:
    sources = {**spellings.bays(), **_turned(spellings.SOURCES)}
    columns = {
        "Sändningsdygn": "at",
        "Klockslag": "at",
        "Händelse": "action",
        "Kanal": "channel",
        "Från": "from_machine",
        "Till": "to_machine",
        "Anledning": "reason",
        "Gjort av": "by",
    }
    return _table(
        "switches",
        selector_log.FILE,
        {
            "encoding": '"windows-1252"',
            "delimiter": '";"',
            "decimal": '","',
            "date_order": '"dmy"',
            "dates": '"broadcast"',
        },
        _section("columns", columns),
        _section("words.action", {**_turned(spellings.ACTIONS), selector_log.LOGIN: ""}),
        _section("words.channel", _turned(spellings.CHANNELS)),
        _section("words.from_machine", sources),
        _section("words.to_machine", sources),
        _section("words.reason", _turned(spellings.REASONS)),
        _section("words.by", {"Pulten": "control"}),
    )


def _tickets() -> str:
    ours = (
        *("ticket", "machine", "opened", "restored", "closed", "symptom", "cause", "action", "part"),
        *("labour_hours", "parts_cost", "reel", "written_by"),
    )
    return _table(
        "tickets",
        fault_workbook.FILE,
        {"sheet": _quoted(fault_workbook.SHEET), "header_row": str(fault_workbook.HEADER_ROW)},
        _section("columns", dict(zip(fault_workbook.HEADER, ours, strict=True))),
        _section("words.machine", {**spellings.bays(), "Kaffeautomaten": ""}),
        _section("words.cause", _turned(spellings.CAUSES)),
    )


def _spoken() -> tuple[str, ...]:
    """What both kinds of log card say."""
    details = {**_turned(spellings.ALARMS), **{card: _old_number(name) for card, name in spellings.hosts().items()}}
    return (
        _section("words.machine", spellings.hosts()),
        _section("words.event", _turned(spellings.PHRASES)),
        _section("words.detail", details),
        _section("begins.event", {**_turned(spellings.BEGINNINGS), "TEMPERATUR": ""}),
        "[feeds.patterns.event]\n'^BANDRÄKNARE [0-9]+$' = \"\"\n",
    )


def _old_number(machine: str) -> str:
    return NEW_NUMBER[0] if machine == NEW_NUMBER[1] else machine


def _cards() -> str:
    columns = {
        "at": "at",
        "host": "machine",
        "tal": "value",
        "vad": "detail",
        f"{ELEMENT}.varde": "value",
        f"{ELEMENT}.mot": "detail",
        f"{ELEMENT}.vad": "detail",
    }
    paths = ["maskinlogg/norr_*.log", "maskinlogg/soder_*.log", "maskinlogg/soder_*.log.gz"]
    return _table(
        "events",
        paths,
        {"format": '"syslog"', "decimal": '","'},
        _section("columns", columns),
        _parts({"msg": PHRASES}),
        *_spoken(),
    )


def _old_card() -> str:
    columns = {"at": "at", "host": "machine", "tal": "value", "vad": "detail"}
    return _table(
        "events",
        "maskinlogg/bm5_*.log",
        {"format": '"syslog"', "decimal": '","'},
        _section("columns", columns),
        _parts({"msg": PHRASES}),
        *_spoken(),
    )


def _booked(path: str, columns: Mapping[str, str | list[str]], *parts: str, until: str = "") -> str:
    """Booking, starts and ends of a calendar have our names already."""
    always = {"location": "machine", "categories": "role"}
    return _table(
        "bookings",
        path,
        {"until": until} if until else {},
        _section("columns", {**always, **columns}),
        *parts,
        _section("words.machine", spellings.bays()),
        _section("words.channel", _turned(spellings.CHANNELS)),
        _section("words.role", {**_turned(spellings.ROLES), booking_calendar.MEETING: ""}),
    )


def _series() -> str:
    """Each occurrence is a transmission of its own, named by its title and by the start that the rule gives."""
    columns: dict[str, str | list[str]] = {
        "summary": ["programme", "transmission"],
        "gang": "transmission",
    }
    parts = _parts({"description": (r"^Kanal (?P<channel>\w+)$",), "booking": ("/(?P<gang>[0-9]{8}T[0-9]{6}Z)$",)})
    return _booked(booking_calendar.SERIES_FILE, columns, parts, until=CALENDAR_ENDS.isoformat())


def _single() -> str:
    summary = ("^(?P<transmission>S[0-9]{3}) (?P<programme>.+) / (?P<show>.+)$", "^(?P<programme>inspelning)$")
    patterns = _parts({"summary": summary, "description": (r"^Kanal (?P<channel>\w+)",)})
    return _booked(booking_calendar.SINGLE_FILE, {"x-ekervattna-band": "reel"}, patterns)


def _register() -> str:
    ours = ("machine", "kind", "pair", "group", "installed", "retired", "replacement_cost")
    return _table(
        "machines",
        registers.REGISTER_FILE,
        {"encoding": '"utf-16"', "delimiter": '"\\t"', "date_order": '"dmy"', "decimal": '","', "thousands": '" "'},
        _section("columns", dict(zip(registers.REGISTER_HEADER, ours, strict=False))),
        _section("words.machine", spellings.bays()),
    )


def _labels() -> str:
    ours = ("reel", "programme", "show", "recorded_on", "recorded_by", "recorded_at")
    return _table(
        "reels",
        registers.LABELS_FILE,
        {"delimiter": '";"', "date_order": '"dmy"'},
        _section("columns", dict(zip(registers.LABELS_HEADER, ours, strict=True))),
        _section("words.recorded_on", spellings.bays()),
    )

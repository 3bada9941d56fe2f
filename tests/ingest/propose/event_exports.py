"""Event logs as delimited text, from rooms that write them in different ways; all invented."""

from __future__ import annotations

import gzip
import io
from pathlib import Path

from tests.ingest.propose.export import OPEN, Export, at, cycle, lines


def _german_events() -> list[str]:
    words = cycle("Läuft", "Eingerastet", "Versatz", "Kein Bild", "Bild zurück", "Stopp", "Haubenkontakt")
    values = {"Versatz": "-0,04"}
    return [
        "Datum;Uhrzeit;Bandmaschine;Ereignis;Messwert;Bemerkung",
        *(
            f"{at(k * 70, '%d.%m.%Y')};{at(k * 70, '%H:%M:%S')};Maschine {k % 4 + 1};{word};{values.get(word, '')};"
            for k, word in enumerate(words)
        ),
        "17.03.2031;08:00:00;Maschine 1;Läuft;;",
    ]


def _american_events() -> list[str]:
    rows = [
        f'"{at(k * 1800, "%m/%d/%Y %I:%M:%S %p")}","Deck {k % 3 + 1}","{word}",'
        f'"{"tension, left" if word == "Alarm" else ""}"'
        for k, word in enumerate(cycle("Play", "Servo locked", "Alarm", "Alarm cleared", "Stopped", "Standing by"))
    ]
    return ['"Timestamp","Deck","Event","Comment"', *rows, '"03/31/2031 09:00:00 AM","Deck 1","Play",""']


def _headless_events() -> list[str]:
    return [
        f"{at(k * 61, '%Y-%m-%dT%H:%M:%S')},VT{k % 4 + 1},{word},{'0.02' if word == 'offset' else ''}"
        for k, word in enumerate(cycle("roll", "lock", "offset", "stop", count=48))
    ]


def _undecidable_events() -> list[str]:
    rows = [
        f"0{k % 8 + 1}/0{k % 4 + 2}/2031 20:1{k % 6}:00,VT{k % 4 + 1},{word}"
        for k, word in enumerate(cycle("roll", "stop"))
    ]
    return ["time,machine,event", *rows]


def _two_machines() -> list[str]:
    rows = [f"{at(k * 60, '%Y-%m-%dT%H:%M:%S')},VT{k % 4 + 1},VT{(k + 2) % 4 + 1},stop" for k in range(40)]
    return ["time,unit,transport,event", *rows]


def _offset_in_milliseconds() -> list[str]:
    rows = [
        f"{at(k * 60, '%Y-%m-%dT%H:%M:%SZ')};VT{k % 4 + 1};{word};{40 if word == 'offset' else ''};n{k}"
        for k, word in enumerate(cycle("roll", "lock", "offset", "stop"))
    ]
    return ["stamp;machine;event;value (ms);note", *rows]


def _clock_only() -> list[str]:
    rows = [f"{at(k * 60, '%H:%M:%S')};VT{k % 4 + 1};{word}" for k, word in enumerate(cycle("roll", "lock", "stop"))]
    return ["time;machine;event", *rows]


def _packed_events(path: Path) -> None:
    rows = [
        f"{at(k * 61, '%Y-%m-%d %H:%M:%S')};VT{k % 4 + 1};{word}"
        for k, word in enumerate(cycle("Roll", "Lock", "Stop"))
    ]
    packed = io.BytesIO()
    with gzip.GzipFile(fileobj=packed, mode="wb", mtime=0) as stream:
        stream.write("\n".join(["Tid;Maskin;Händelse", *rows]).encode())
    path.write_bytes(packed.getvalue())


EVENT_EXPORTS = (
    Export(
        "maschinenlog.csv",
        lines(_german_events(), "windows-1252", "\r\n"),
        "events",
        {
            "Datum": "at",
            "Uhrzeit": "at",
            "Bandmaschine": "machine",
            "Ereignis": "event",
            "Messwert": "value",
            "Bemerkung": "detail",
        },
        {"format": "csv", "delimiter": ";", "encoding": "windows-1252", "decimal": ",", "date_order": "dmy"},
        {
            "event": {
                "Läuft": "roll",
                "Eingerastet": "lock",
                "Versatz": "offset",
                "Kein Bild": "picture_lost",
                "Bild zurück": "picture_back",
                "Stopp": "stop",
            }
        },
        asked=("Haubenkontakt",),
    ),
    Export(
        "decklog.csv",
        lines(_american_events()),
        "events",
        {"Timestamp": "at", "Deck": "machine", "Event": "event", "Comment": "detail"},
        {"format": "csv", "date_order": "mdy"},
        {
            "event": {
                "Play": "roll",
                "Servo locked": "lock",
                "Alarm": "alarm",
                "Alarm cleared": "clear",
                "Stopped": "stop",
            }
        },
        asked=("Standing by",),
    ),
    Export(
        "feed7.csv",
        lines(_headless_events()),
        "events",
        {"column 1": "at", "column 2": "machine", "column 3": "event", "column 4": OPEN},
        {"format": "csv", "header_row": 0},
    ),
    Export(
        "undecidable.csv",
        lines(_undecidable_events()),
        "events",
        {"time": "at", "machine": "machine", "event": "event"},
        undecided=("date_order",),
    ),
    Export(
        "two.csv",
        lines(_two_machines()),
        "events",
        {"time": "at", "unit": OPEN, "transport": OPEN, "event": "event"},
        undecided=("machine",),
    ),
    Export(
        "offsets.csv",
        lines(_offset_in_milliseconds()),
        "events",
        {"stamp": "at", "machine": "machine", "event": "event", "value (ms)": OPEN, "note": "detail"},
        undecided=("value",),
    ),
    Export(
        "clocks.csv",
        lines(_clock_only()),
        "events",
        {"time": "at", "machine": "machine", "event": "event"},
        undecided=("day",),
    ),
    Export(
        "clocks-2031-03-09.csv", lines(_clock_only()), "events", {"time": "at", "machine": "machine", "event": "event"}
    ),
    Export(
        "logg.csv.gz",
        _packed_events,
        "events",
        {"Tid": "at", "Maskin": "machine", "Händelse": "event"},
        {"format": "csv", "delimiter": ";"},
        {"event": {"Roll": "roll", "Lock": "lock", "Stop": "stop"}},
    ),
)

"""Machine logs as syslog, sentences, JSON Lines and Parquet; all invented."""

from __future__ import annotations

import json
from datetime import UTC, timedelta
from pathlib import Path

import polars as pl

from tests.ingest.propose.export import NONE, START, Export, at, cycle, lines


def _old_syslog() -> list[str]:
    texts = cycle(
        "ROLL", "SERVO LOCK", "OFFSET -0.04", "ALARM tension low", "ALARM CLEAR tension low", "STOP", "REEL MOTOR 3"
    )
    return [
        f"<13>{at(k * 61, '%b')}  {9} {at(k * 61, '%H:%M:%S')} vt{k % 4 + 1} card: {text}"
        for k, text in enumerate(texts)
    ]


def _new_syslog() -> list[str]:
    texts = cycle("play", "locked", "offset", "stopped")
    return [
        f"<14>1 {at(k * 61, '%Y-%m-%dT%H:%M:%S')}.000+01:00 deck{k % 3 + 1} card - - "
        f'[m@32473 reading="{"0.02" if text == "offset" else ""}" temp="{20 + k % 9}"] {text}'
        for k, text in enumerate(texts)
    ]


def _prose() -> list[str]:
    texts = cycle("ROLL", "SERVO LOCK", "OFFSET VT9 0.02", "HOURS 1023.5", "STOP", "door opened by hand")
    return [f"{at(k * 61, '%d.%m.%Y %H:%M:%S')} VT{k % 4 + 1}: {text}" for k, text in enumerate(texts)] + [
        "31.03.2031 10:00:00 VT1: ROLL"
    ]


def _epoch_lines() -> list[str]:
    base = int(START.replace(tzinfo=UTC).timestamp() * 1000)
    words = cycle("rolling", "in lock", "timing offset", "halted")
    return [
        json.dumps(
            {
                "ts": base + k * 61_000,
                "deck": f"D{k % 4 + 1}",
                "what": word,
                "reading": 0.02 if "offset" in word else None,
                "temp": 21 + k % 5,
            }
        )
        for k, word in enumerate(words)
    ]


def _parquet_events(path: Path) -> None:
    words = cycle("rolling", "locked", "alarm raised", "stopped")
    pl.DataFrame(
        {
            "logged_at": [START + timedelta(seconds=61 * k) for k in range(len(words))],
            "player": [f"P{k % 4 + 1}" for k in range(len(words))],
            "event_type": words,
            "remarks": [f"n{k}" for k in range(len(words))],
        }
    ).write_parquet(path)


LOG_EXPORTS = (
    Export(
        "cards.log",
        lines(_old_syslog()),
        "events",
        {"at": "at", "host": "machine", "app": NONE, "procid": NONE, "msgid": NONE, "facility": NONE, "severity": NONE},
        {"format": "syslog"},
        {
            "event": {
                "SERVO LOCK": "lock",
                "ROLL": "roll",
                "STOP": "stop",
                "OFFSET": "offset",
                "ALARM": "alarm",
                "ALARM CLEAR": "clear",
            }
        },
        asked=("REEL MOTOR 3",),
        undecided=("year",),
        parts={"msg": ("event", "value", "detail")},
    ),
    Export(
        "decks-2031.log",
        lines(_new_syslog()),
        "events",
        {
            "at": "at",
            "host": "machine",
            "msg": "event",
            "m@32473.reading": "value",
            "app": NONE,
            "m@32473.temp": NONE,
            "facility": NONE,
            "severity": NONE,
        },
        {"format": "syslog"},
        {"event": {"play": "roll", "locked": "lock", "stopped": "stop"}},
    ),
    Export(
        "decks.ndjson",
        lines(_epoch_lines()),
        "events",
        {"ts": "at", "deck": "machine", "what": "event", "reading": "value", "temp": NONE},
        {"format": "jsonl", "numeric_times": "epoch_ms"},
        {"event": {"rolling": "roll", "in lock": "lock", "timing offset": "offset", "halted": "stop"}},
    ),
    Export(
        "night.txt",
        lines(_prose()),
        "events",
        {},
        {"format": "csv", "header_row": 0, "date_order": "dmy"},
        {"event": {"ROLL": "roll", "SERVO LOCK": "lock", "OFFSET": "offset", "HOURS": "hours", "STOP": "stop"}},
        asked=("door opened by hand",),
        parts={"column 1": ("at", "machine", "event", "value", "detail")},
    ),
    Export(
        "players.parquet",
        _parquet_events,
        "events",
        {"logged_at": "at", "player": "machine", "event_type": "event", "remarks": "detail"},
        {"format": "parquet"},
        {"event": {"rolling": "roll", "locked": "lock", "alarm raised": "alarm", "stopped": "stop"}},
    ),
)

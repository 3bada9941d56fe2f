"""What a month's figures rest on: the files that reach into it, failed checks, and clocks of which nothing is known."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from pipeline.render.reading import Reading, Rows

MOST_FILES = 30


def month_quality(reading: Reading, month: str) -> dict[str, Any]:
    """Files with their places among the files of figures.json, failed checks, and machines whose clock is not known."""
    span = next(row for row in reading.site["site_months"] if row["month"] == month)
    numbers = {file["path"]: number for number, file in enumerate(reading.figures["files"], start=1)}
    files = [
        {**row, "number": numbers[row["file"]]}
        for row in reading.site["file_reach"]
        if row["file"] in numbers and _overlaps(row["first_at_utc"], row["last_at_utc"], span)
    ]
    return {
        "files": files[:MOST_FILES],
        "files_count": len(files),
        "set_aside": sum(row["set_aside_count"] for row in files),
        "failed": [check for check in reading.checks if not check["is_passed"]],
        "no_clock": machines_without_clock(reading, month, span),
    }


def _overlaps(first: datetime | None, last: datetime | None, span: Mapping[str, Any]) -> bool:
    if first is None or last is None:
        return False
    return bool(first < span["ended_at_utc"] and last >= span["started_at_utc"])


def machines_without_clock(reading: Reading, month: str, span: Mapping[str, Any]) -> list[str]:
    """Machines that fed air in the month, and of whose clock in it no start command and roll tells anything."""
    flown = [row["machine"] for row in reading.site["month_machines"] if row["month"] == month]
    known = {
        clock["machine"]
        for clock in reading.figures["clocks"]
        if any(segment["pairs"] and _holds(segment, span) for segment in clock["segments"])
    }
    return [machine for machine in flown if machine not in known]


def _holds(segment: Mapping[str, Any], span: Mapping[str, Any]) -> bool:
    """Whether a segment of a clock, an open end being null, touches the month; stamps are ISO 8601 and so in order."""
    started, ended = (segment[name] or "" for name in ("started", "ended"))
    before = f"{span['ended_at_utc'].isoformat()}Z"
    after = f"{span['started_at_utc'].isoformat()}Z"
    return (not started or started < before) and (not ended or ended > after)


def month_of(rows: Rows, at_utc: datetime) -> str:
    """The name of the month of ``rows`` that holds an instant, as the site counts months; empty outside them all."""
    return next((row["month"] for row in rows if row["started_at_utc"] <= at_utc < row["ended_at_utc"]), "")

"""A figure's lines as text for a terminal or a mail, and as plain values: what they add up to, and what proves each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

import polars as pl

from pipeline.evidence.document import quoted
from pipeline.evidence.scope import MICROSECONDS, Lines, Number
from pipeline.results import Scope

LONGEST = 300  # characters shown of a row
SIDE = {"begins": "begins", "ends": "ends", "says": "so says"}
WIDEST = 48  # columns that names of figures take before their value
NUMBERS = ("kind", "number")  # of an item: how the tables call it, of no use outside


def lines_text(lines: Lines, sources: pl.DataFrame, shown: int) -> str:
    """The figure, how it comes about, its first ``shown`` items with their ``sources``, and what they add up to."""
    head = [f"{lines.figure} of {lines.scope}: {number_text(lines.value)}", f"It is {lines.how}."]
    if lines.is_derived:
        head.append(f"Worked out anew from {_listed(lines)}: {number_text(lines.total)}{_verdict(lines)}")
        return "\n".join(head)
    by_item = _by_item(sources)
    rows = [
        line
        for item in lines.items.head(shown).iter_rows(named=True)
        for line in (_item_text(item), *by_item.get(item["item"], ()))
    ]
    count = lines.items.height
    more = f" ({count - shown} more with --limit 0)" if shown < count else ""
    counted = "no line" if not count else "1 line" if count == 1 else f"{count} lines"
    foot = f"{counted}{more}, together {number_text(lines.total)}{_verdict(lines)}"
    return "\n".join([*head, *rows, foot])


def names_text(scope: Scope, values: Mapping[str, Number], choices: Mapping[str, Sequence[str]]) -> str:
    """The names of the figures of a group with their values, and what else can be chosen."""
    rows = [f"{name.ljust(WIDEST)}  {number_text(value)}" for name, value in values.items()]
    other = [f"--{key}: {', '.join(map(quoted, names))}" for key, names in choices.items() if names]
    return "\n".join([f"figures of {scope}:", *rows, *other])


def lines_data(lines: Lines, sources: pl.DataFrame, shown: int) -> dict[str, Any]:
    """The same as plain values ready for JSON; instants are ISO 8601 in UTC."""
    found: dict[int, list[dict[str, Any]]] = {}
    for source in sources.iter_rows(named=True):
        found.setdefault(source.pop("item"), []).append(source)
    items = [
        {key: _plain(value) for key, value in item.items() if key not in NUMBERS}
        | {"sources": found.get(item["item"], [])}
        for item in lines.items.head(shown).select(pl.exclude("took_us", "is_seen")).iter_rows(named=True)
    ]
    return {
        "figure": lines.figure, "scope": lines.scope.named, "value": lines.value, "total": lines.total,
        "is_right": lines.is_right, "how": lines.how, "of": list(lines.of), "of_scope": lines.of_scope.named,
        "count": lines.items.height, "items": items,
    }  # fmt: skip


def number_text(value: Number) -> str:
    """The number with all its digits; None is "not known"."""
    return "not known" if value is None else f"{value:,}" if isinstance(value, int) else repr(value)


def _listed(lines: Lines) -> str:
    names = ", ".join(lines.of)
    return names if lines.of_scope == lines.scope else f"{names} (of {lines.of_scope})"


def _verdict(lines: Lines) -> str:
    return (
        "" if lines.is_right else f". THIS IS NOT THE FIGURE, which is {number_text(lines.value)}: run the site again"
    )


def _item_text(item: Mapping[str, Any]) -> str:
    place = ", ".join(one_line(item[key]) for key in ("channel", "machine") if item[key])
    words = (_when(item["started_at_utc"], item["ended_at_utc"]), place, one_line(item["what"]), _amount(item))
    return f"{item['item']:>4}  " + ": ".join(word for word in words if word)


def _amount(item: Mapping[str, Any]) -> str:
    return f"{item['amount_us'] / MICROSECONDS} s" if "amount_us" in item else ""


def _when(started: datetime | None, ended: datetime | None) -> str:
    if started is None:
        return ""
    if ended is None or ended == started:
        return f"{_stamp(started)} UTC"
    until = _stamp(ended) if ended.date() != started.date() else _stamp(ended).partition(" ")[2]
    return f"{_stamp(started)} to {until} UTC"


def _stamp(at_utc: datetime) -> str:
    fraction = f".{at_utc.microsecond:06d}".rstrip("0") if at_utc.microsecond else ""
    return f"{at_utc:%Y-%m-%d %H:%M:%S}{fraction}"


def _by_item(sources: pl.DataFrame) -> dict[int, list[str]]:
    found: dict[int, list[str]] = {}
    for source in sources.iter_rows(named=True):
        place = "" if source["file"] is None else f"{one_line(source['file'])}, line {source['line']}: "
        text = [] if source["text"] is None else [f"            {one_line(source['text'])}"]
        told = f"      {SIDE[source['side']]}: {place}{one_line(source['why'])}"
        found.setdefault(source["item"], []).extend([told, *text])
    return found


def one_line(text: str) -> str:
    """``text`` without what a terminal would take for a command, and not too long."""
    shown = "".join(character if character.isprintable() else " " for character in text[:LONGEST])
    return shown + ("…" if len(text) > LONGEST else "")


def _plain(value: Any) -> Any:
    return f"{value.isoformat()}Z" if isinstance(value, datetime) else value

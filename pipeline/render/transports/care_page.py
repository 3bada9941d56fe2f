"""The page on care: does it matter here whether a machine was cleaned, lined up, warm, and on a young head."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from pipeline.render.index import period
from pipeline.render.language import say
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sheet import Sheet
from pipeline.render.transports.care_chart import care_ratios
from pipeline.render.transports.care_names import HOUR, groups, ratio_text, share_text, titles
from pipeline.render.transports.care_words import not_known, told
from pipeline.render.transports.plain_numbers import plain
from pipeline.render.words import duration, figure, hours, not_applicable

MOST_MACHINES = 40
LEAST_FREE = 5  # degrees of freedom below which the scatter of events says nothing
KINDS = ("less", "more", "not_recorded")


def care_sheets(reading: Reading) -> Iterator[Sheet]:
    """The one page; where there is nothing to compare it says so."""
    found = reading.figures["transports"]["care"]
    machines = adherence_rows(found, reading.site["register"])
    context = {
        "told": told(found),
        "found": found,
        "chart": care_ratios(found, "care"),
        "groups": group_rows(found),
        "ratios": ratio_rows(found),
        "machines": machines,
        "machines_count": len(found["adherence"]["machines"]),
        "room": {kind: share_text(found["adherence"]["room"][kind]) for kind in ("clean", "lineup")},
        "least_free": LEAST_FREE,
        "plain": plain,
        "silence": duration(found["silence_s"]),
        "duty": hours(found["duty_h"] * HOUR),
    }
    yield Sheet("care.html", "care.html.j2", say("Care"), period(reading.figures), context, not_known(found))


def group_rows(found: Mapping[str, Any]) -> Rows:
    """Two rows an item, less care and more, and one of what is not recorded; each item adds up to the room."""
    words, names = groups(found), titles()
    rows: Rows = []
    for item in found["items"]:
        said = (*words[item["item"]], say("not recorded"))
        kinds = [(kind, what) for kind, what in zip(KINDS, said, strict=True) if item[kind]["uses_count"]]
        rows += [
            {
                "title": names[item["item"]],
                "words": what,
                "uses": item[kind]["uses_count"],
                "events": item[kind]["events_count"],
                "hours": hours(item[kind]["duty_h"] * HOUR),
                "rate": item[kind]["per_1000_h"],
            }
            for kind, what in kinds
        ]
    return rows


def ratio_rows(found: Mapping[str, Any]) -> Rows:
    """One row an item: the three ratios, the test, and what could have been found."""
    together, names = found["together"]["ratios"] if found["together"] else {}, titles()
    return [
        {
            **row,
            "title": names[row["item"]],
            "raw": ratio_text(row["raw"]),
            "adjusted": ratio_text(row["adjusted"]),
            "together": ratio_text(together.get(row["item"]), say("not fixed") if row["item"] in together else None),
            "could_show": _could_show(row["could_show_ratio"]),
            "needs": _needs(row["twice_needs"]),
        }
        for row in found["items"]
    ]


def _could_show(ratio: float | None) -> str:
    return say("none", about="ratio") if ratio is None else figure(ratio)


def _needs(hours_ratio: float | None) -> str:
    return not_applicable() if hours_ratio is None else say("{count} times", count=figure(hours_ratio))


def adherence_rows(found: Mapping[str, Any], register: Rows) -> Rows:
    """The machines with most hours due, at most ``MOST_MACHINES``, in register order by pair; no ranking."""
    rows = found["adherence"]["machines"]
    kept = sorted(rows, key=lambda row: (-row["duty_h"], row["machine"]))[:MOST_MACHINES]
    known = {row["machine"]: row for row in register}

    def place(row: Row) -> tuple[bool, str, str]:
        line = known.get(row["machine"], {})
        return row["machine"] not in known, line.get("pair") or "", row["machine"]

    return [
        {
            **row,
            "hours": hours(row["duty_h"] * HOUR),
            "clean": share_text(row["clean"]),
            "lineup": share_text(row["lineup"]),
            "heard": say("not recorded") if row["heard_before_s"] is None else duration(row["heard_before_s"]),
            "head": say("not recorded") if row["head_h"] is None else hours(row["head_h"] * HOUR),
        }
        for row in sorted(kept, key=place)
    ]

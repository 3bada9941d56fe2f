"""The page on the clocks: what each machine's clock did, why it was corrected or left, and which figures hang on it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from math import inf
from typing import Any

from pipeline.render.clock_charts import Stretch, clock_figure
from pipeline.render.figures_svg import Figure
from pipeline.render.index import period
from pipeline.render.language import decimal, say, whole
from pipeline.render.page_weight import cells_bytes, fitting, text_bytes
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sheet import Sheet
from pipeline.render.words import Local, counted, duration, hours, listed

EFFECTS_AT_MOST = 200  # figures of months and machines printed
# Bytes of the page: its charts, its table of segments, its table of what moved. The frame has the rest of 500 kB.
CHART_BYTES, SEGMENT_BYTES, EFFECT_BYTES = 345_000, 60_000, 55_000
LINK_BYTES = 120  # of a link to a definition
SEGMENT_CELLS = (
    "machine", "number", "started", "reference", "offset_s", "within_s", "drift_ppm", "pairs", "why",
)  # fmt: skip
NAMED = 12
PAIRS_NEEDED = 5  # contract of the correction; the loading holds the same number


def clocks_sheet(reading: Reading) -> Sheet:
    """The sheet of all clocks."""
    clocks = reading.figures["clocks"]
    stretches = clock_stretches(clocks, reading.site["clock_pairs"])
    segments = [
        {**segment, "machine": clock["machine"], "number": number, "why": why(segment)}
        for clock in clocks
        for number, segment in enumerate(clock["segments"], start=1)
    ]
    context = {
        "charts": draw(stretches, reading.local),
        "paired_count": sum(clock["pairs"] > 0 for clock in clocks),
        "segments": fitting(segments, SEGMENT_BYTES, _segment_bytes),
        "segments_count": len(segments),
        **effects(reading.figures["clock_effects"]),
    }
    return Sheet("clocks.html", "clocks.html.j2", say("Clocks"), period(reading.figures), context, _not_known(clocks))


def draw(stretches: Mapping[str, Sequence[Stretch]], local: Local) -> list[Figure]:
    """The clocks as charts, corrected ones first; where not all fit on the page, those that say most."""
    names = [name for name, _ in sorted(stretches.items(), key=_corrected_first)]
    left, drawn = CHART_BYTES, {}
    for name in sorted(names, key=lambda name: _rank(stretches[name])):
        place = names.index(name)
        figure = clock_figure(name, stretches[name], local, f"clock-{place}")
        left -= len(figure.svg.encode()) + text_bytes(figure.caption)
        if left < 0:
            break
        drawn[place] = figure
    return [drawn[place] for place in sorted(drawn)]


def _rank(stretches: Sequence[Stretch]) -> tuple[bool, float]:
    """Corrected clocks before others, then by the largest offset beside its ±."""
    largest = max(abs(stretch.offset_s) / stretch.within_s if stretch.within_s else inf for stretch in stretches)
    return not any(stretch.is_corrected for stretch in stretches), -largest


def _segment_bytes(segment: Row) -> int:
    return cells_bytes(*(segment[name] for name in SEGMENT_CELLS)) + 2 * text_bytes(segment["machine"])


def clock_stretches(clocks: Rows, pairs: Rows) -> dict[str, list[Stretch]]:
    """The segments that have pairs among ``pairs``, by machine."""
    segments = {
        (clock["machine"], number): segment
        for clock in clocks
        for number, segment in enumerate(clock["segments"], start=1)
    }
    grouped: dict[tuple[str, int], Rows] = {}
    for pair in pairs:
        grouped.setdefault((pair["machine"], pair["segment_no"]), []).append(pair)
    found: dict[str, list[Stretch]] = {}
    for key, rows in grouped.items():
        if key in segments:
            found.setdefault(key[0], []).append(_stretch(key[1], segments[key], rows))
    return found


def _corrected_first(drawn: tuple[str, Sequence[Stretch]]) -> tuple[bool, str]:
    machine, stretches = drawn
    return not any(stretch.is_corrected for stretch in stretches), machine


def _stretch(number: int, segment: Mapping[str, Any], rows: Rows) -> Stretch:
    reference = datetime.fromisoformat(segment["reference"].removesuffix("Z"))
    return Stretch(
        number=number,
        first_at_utc=min(rows[0]["first_at_utc"], rows[0]["last_at_utc"]),
        last_at_utc=reference - timedelta(seconds=segment["offset_s"]),
        offset_s=segment["offset_s"],
        drift_ppm=segment["drift_ppm"],
        within_s=segment["within_s"],
        pairs_count=segment["pairs"],
        is_corrected=segment["is_corrected"],
        pairs=tuple((row["house_at_utc"], _ahead(row)) for row in rows),
    )


def _ahead(pair: Row) -> float:
    ahead: timedelta = pair["machine_at_utc"] - pair["house_at_utc"]
    return ahead.total_seconds()


def why(segment: Mapping[str, Any]) -> str:
    """Whether the rows of a segment are corrected, or why they are left as they were written."""
    if segment["is_corrected"]:
        return say("corrected")
    if not segment["pairs"]:
        return say("left: no pair, nothing is known")
    if segment["pairs"] < PAIRS_NEEDED:
        return say("left: {pairs}, {needed} are needed", pairs=counted(segment["pairs"], "pair"), needed=PAIRS_NEEDED)
    return say("left: inside its ±")


def said(figure: str) -> str | None:
    """The name of a figure that stands under a heading elsewhere and alone here; None for all others."""
    names = {
        "forced": say("Switches, forced"),
        "precaution": say("Switches, precaution"),
        "unexplained": say("Switches, unexplained"),
        "planned": say("Switches, planned"),
        "return": say("Switches, return"),
        "demands_met": say("Demands met"),
    }
    return names.get(figure)


def effects(found: Mapping[str, Any]) -> dict[str, Any]:
    """What the correction moved, ready to print: the total whole, months and machines where something moved."""
    rows = [{**row, "values": _values(row), "said": said(row["figure"])} for row in found["figures"]]
    moved = [row for row in rows if row["scope"] != "total"]
    return {
        "corrected": _named(found["machines"]),
        "compared_count": found["compared_count"],
        "moved_count": found["moved_count"],
        "effects_total": [row for row in rows if row["scope"] == "total"],
        "effects": fitting(moved[:EFFECTS_AT_MOST], EFFECT_BYTES, _effect_bytes),
        "effects_count": len(moved),
    }


def _effect_bytes(row: Row) -> int:
    return cells_bytes(row["name"], *row["values"]) + LINK_BYTES


def _values(row: Row) -> tuple[str, str, str]:
    """With the correction, without it, and by how much it moved, with its sign."""
    is_time = row["figure"].endswith("_s")
    show = _extent if is_time else _count
    moved = row["moved"]
    sign = "+" if moved > 0 else "−" if moved < 0 else ""
    size = duration(abs(moved)) if is_time else _count(abs(moved))
    return show(row["with_correction"]), show(row["without_correction"]), f"{sign}{size}" if moved else say("none")


def _count(value: float) -> str:
    return decimal(value, 0)


def _extent(value: float) -> str:
    return hours(value) if value >= 36_000 else duration(value)


def _not_known(clocks: Rows) -> tuple[str, ...]:
    """What no pair can tell, and of which machines nothing is known."""
    lines = [
        say(
            "The delay from a start command to the roll, beyond the start_delay_s that the site states: one that is "
            "always the same cannot be told from an offset, so it stands in every offset."
        )
    ]
    few = [clock["machine"] for clock in clocks if clock["pairs"] < PAIRS_NEEDED]
    if few:
        lines.append(
            say(
                "How the clocks ran of {machines}: fewer than {needed} pairs, so their stamps stand as written.",
                machines=_named(few),
                needed=PAIRS_NEEDED,
            )
        )
    return tuple(lines)


def _named(machines: Sequence[str]) -> str:
    """Names, no more than a sentence can hold; empty for none."""
    if len(machines) <= NAMED:
        return listed(machines)
    names = ", ".join(machines[:NAMED])
    return say("{names} and {count} more", names=names, count=whole(len(machines) - NAMED))

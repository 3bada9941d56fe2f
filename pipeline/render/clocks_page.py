"""The page on the clocks: what each machine's clock did, why it was corrected or left, and which figures hang on it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from pipeline.render.clock_charts import Stretch, clock_figure
from pipeline.render.index import period
from pipeline.render.reading import Reading, Row, Rows
from pipeline.render.sheet import Sheet
from pipeline.render.words import counted, duration, hours, listed

EFFECTS_AT_MOST = 200  # figures of months and machines printed
NAMED = 12
# Names that stand under a heading elsewhere and alone here.
SAID = {
    **{kind: f"Switches, {kind}" for kind in ("forced", "precaution", "unexplained", "planned", "return")},
    "demands_met": "Demands met",
}
DELAY = (
    "The delay from a start command to the roll, beyond the start_delay_s that the site states: one that is always the "
    "same cannot be told from an offset, so it stands in every offset."
)
PAIRS_NEEDED = 5  # contract of the correction; the loading holds the same number


def clocks_sheet(reading: Reading) -> Sheet:
    """The sheet of all clocks."""
    clocks = reading.figures["clocks"]
    stretches = clock_stretches(clocks, reading.site["clock_pairs"])
    drawn = [
        clock_figure(machine, pieces, reading.local, f"clock-{place}")
        for place, (machine, pieces) in enumerate(sorted(stretches.items(), key=_corrected_first))
    ]
    segments = [
        {**segment, "machine": clock["machine"], "number": number, "why": why(segment)}
        for clock in clocks
        for number, segment in enumerate(clock["segments"], start=1)
    ]
    context = {
        "charts": drawn,
        "paired_count": sum(clock["pairs"] > 0 for clock in clocks),
        "segments": segments,
        **effects(reading.figures["clock_effects"]),
    }
    return Sheet("clocks.html", "clocks.html.j2", "Clocks", period(reading.figures), context, _not_known(clocks))


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
        return "corrected"
    if not segment["pairs"]:
        return "left: no pair, nothing is known"
    if segment["pairs"] < PAIRS_NEEDED:
        return f"left: {counted(segment['pairs'], 'pair')}, {PAIRS_NEEDED} are needed"
    return "left: inside its ±"


def effects(found: Mapping[str, Any]) -> dict[str, Any]:
    """What the correction moved, ready to print: the total whole, months and machines where something moved."""
    rows = [{**row, "values": _values(row), "said": SAID.get(row["figure"])} for row in found["figures"]]
    moved = [row for row in rows if row["scope"] != "total"]
    return {
        "corrected": _named(found["machines"]),
        "compared_count": found["compared_count"],
        "moved_count": found["moved_count"],
        "effects_total": [row for row in rows if row["scope"] == "total"],
        "effects": moved[:EFFECTS_AT_MOST],
        "effects_count": len(moved),
    }


def _values(row: Row) -> tuple[str, str, str]:
    """With the correction, without it, and by how much it moved, with its sign."""
    is_time = row["figure"].endswith("_s")
    show = _extent if is_time else lambda value: f"{value:,.0f}"
    moved = row["moved"]
    sign = "+" if moved > 0 else "−" if moved < 0 else ""
    size = duration(abs(moved)) if is_time else f"{abs(moved):,.0f}"
    return show(row["with_correction"]), show(row["without_correction"]), f"{sign}{size}" if moved else "none"


def _extent(value: float) -> str:
    return hours(value) if value >= 36_000 else duration(value)


def _not_known(clocks: Rows) -> tuple[str, ...]:
    """What no pair can tell, and of which machines nothing is known."""
    lines = [DELAY]
    few = [clock["machine"] for clock in clocks if clock["pairs"] < PAIRS_NEEDED]
    if few:
        lines.append(
            f"How the clocks ran of {_named(few)}: fewer than {PAIRS_NEEDED} pairs, so their stamps stand as written."
        )
    return tuple(lines)


def _named(machines: Sequence[str]) -> str:
    """Names, no more than a sentence can hold; empty for none."""
    if len(machines) <= NAMED:
        return listed(machines)
    return f"{', '.join(machines[:NAMED])} and {len(machines) - NAMED:,} more"

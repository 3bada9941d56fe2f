"""What the keys of a table must say of a file's times; nothing is guessed that its cells do not tell."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import polars as pl

from pipeline.ingest.batch import Batch, cell_name
from pipeline.ingest.propose.fits import numeric_notation
from pipeline.ingest.propose.setting import Findings, Setting
from pipeline.ingest.propose.toml_text import shown, text_value
from pipeline.ingest.propose.traits import MOST, OFFSET_WRITTEN, Traits, kind_of
from pipeline.ingest.times.date_orders import day_in_name, decide_date_order, year_in_name

FRAMES = re.compile(r".*[0-9]{2}:[0-9]{2}:[0-9]{2}([:;])([0-9]{2})$")
# Day 0 of spreadsheets that count days, such that 2026-01-01 is 46023 in the one and 44561 in the other.
DAY_0 = {"serial_1900": date(1899, 12, 30), "serial_1904": date(1904, 1, 1)}


@dataclass(frozen=True)
class TimeCells:
    """The cells of one column of times: its name, its traits, and line and text of each that is recorded."""

    name: str
    traits: Traits
    cells: tuple[tuple[int, str], ...]

    @property
    def texts(self) -> Iterator[str]:
        """The texts alone."""
        return (text for _, text in self.cells)


def time_cells(name: str, traits: Traits, batch: Batch, places: Sequence[int]) -> TimeCells:
    """The cells of ``places`` of a batch, joined by a space as the mapping joins them."""
    joined = pl.concat_str([pl.col(cell_name(place)) for place in places], separator=" ", ignore_nulls=True)
    rows = batch.rows.select("line", joined.alias("text")).filter(pl.col("text") != "")
    return TimeCells(name, traits, tuple(rows.iter_rows()))


def propose_times(file: str, columns: Sequence[TimeCells], day_system: str = "") -> Findings:
    """Keys and sentences on the times of ``columns``. ``day_system`` is what a workbook says of its numbers."""
    told = [column for column in columns if column.cells]
    if not told:
        return Findings()
    numeric = {column.name: notation for column in told if (notation := numeric_notation(column.traits))}
    written = [column for column in told if column.name not in numeric]
    return (
        _of_numbers(numeric, told, day_system)
        + _of_order(written)
        + _of_missing_dates(file, written)
        + _of_offsets(written)
        + _of_frames(written)
    )


def _of_numbers(numeric: dict[str, str], columns: Sequence[TimeCells], day_system: str) -> Findings:
    if not numeric:
        return Findings()
    names, notations = ", ".join(numeric), sorted(set(numeric.values()))
    if len(notations) > 1:
        return Findings(
            undecided=(f"numeric_times: {names} hold numbers of different magnitudes. One file can have one.",)
        )
    example = next(text for column in columns if column.name in numeric for text in column.texts)
    if notations[0] != "serial":
        why = f"numbers such as {shown(example)} in {names} are of that magnitude; they count from 1970 in UTC"
        return Findings((Setting("numeric_times", text_value(notations[0]), why),))
    if day_system:
        why = f"numbers such as {shown(example)} in {names} count days; the workbook says from which"
        return Findings((Setting("numeric_times", text_value(day_system), why),))
    days = {system: start + timedelta(days=int(float(example.replace(",", ".")))) for system, start in DAY_0.items()}
    settings = tuple(
        Setting("numeric_times", text_value(system), f"{shown(example)} is then {day}", is_decided=False)
        for system, day in days.items()
    )
    told = " or ".join(f"{day} ({system})" for system, day in days.items())
    return Findings(settings, undecided=(f"numeric_times: {shown(example)} in {names} is {told}. Say which.",))


def _of_order(columns: Sequence[TimeCells]) -> Findings:
    cells = (cell for column in columns for cell in column.cells)
    decision = decide_date_order(cells)
    if decision.order is not None:
        return Findings((Setting("date_order", text_value(decision.order), decision.why),))
    if not decision.is_needed:
        return Findings()
    orders = ("dmy", "mdy") if not decision.is_contradictory else ()
    settings = tuple(Setting("date_order", text_value(order), "if that is meant", is_decided=False) for order in orders)
    return Findings(settings, undecided=(f"date_order: {decision.why}",))


def _of_missing_dates(file: str, columns: Sequence[TimeCells]) -> Findings:
    found = Findings()
    for kind, key, in_name, example in (
        ("clock", "day", day_in_name(file), "2031-03-09"),
        ("yearless", "year", year_in_name(file), "2031"),
    ):
        names = ", ".join(column.name for column in columns if _share(column.texts, kind) >= MOST)
        if names and in_name is not None:
            found += Findings(
                remarks=(f"{key} is left out: stamps of {names} carry none, the file's name says {in_name}.",)
            )
        elif names:
            setting = Setting(key, example, f"of the first stamp of {names}; an example", is_decided=False)
            told = f"{key}: the stamps of {names} carry none, and the file's name says none. Rename it, or set {key}."
            found += Findings((setting,), undecided=(told,))
    return found


def _of_offsets(columns: Sequence[TimeCells]) -> Findings:
    texts = [text for column in columns for text in column.texts if kind_of(text) in {"stamp", "clock", "yearless"}]
    count = sum(OFFSET_WRITTEN.search(text) is not None for text in texts)
    if not texts:
        return Findings()
    if count == len(texts):
        return Findings(remarks=("Stamps carry their own offset from UTC.",))
    which = (
        "Stamps carry no offset" if count == 0 else f"{len(texts) - count:,} of {len(texts):,} stamps carry no offset"
    )
    return Findings(remarks=(f"{which}: the site's timezone is taken for them, or set timezone here.",))


def _of_frames(columns: Sequence[TimeCells]) -> Findings:
    matches = [match for column in columns for text in column.texts if (match := FRAMES.match(text))]
    if not matches:
        return Findings()
    highest = max(int(match[2]) for match in matches)
    if any(match[1] == ";" for match in matches):
        rate = "29.97" if highest < 30 else "59.94"
        why = f'";" before the frames is drop-frame; frames go up to {highest}'
        return Findings((Setting("timecode_rate", rate, why),))
    setting = Setting(
        "timecode_rate",
        str(highest + 1),
        f"frames go up to {highest}; left out, the site's frame_rate",
        is_decided=False,
    )
    told = f"timecode_rate: stamps end in frames, up to {highest}. Set it unless the site's frame_rate is theirs."
    return Findings((setting,), undecided=(told,))


def _share(texts: Iterable[str], kind: str) -> float:
    kinds = [kind_of(text) for text in texts]
    return kinds.count(kind) / len(kinds) if kinds else 0.0

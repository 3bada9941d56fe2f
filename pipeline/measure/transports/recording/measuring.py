"""Player, recorder or reel: whose are the faults that are seen at playback?

A fault seen at playback may have been recorded. Every reel says on its label which machine recorded it and on whose
shift, and a reel is played on several machines, so that the three can be told apart where the bookings mix them enough.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import polars as pl

from pipeline.measure.transports.recording.findings import judge_recording
from pipeline.measure.transports.recording.reading import read_faults_at_playback, read_playback
from pipeline.settings import Settings
from pipeline.store import Store

Row = dict[str, Any]


def measure_recording(store: Store, settings: Settings, figures: Mapping[str, Any]) -> Row:  # noqa: ARG001
    """The part ``transports.recording`` of figures.json; see ``judge_recording`` and docs/transports/recording.md.

    Reads ``core_*``, ``clean_bookings``, ``clean_reels`` and ``measure_coincidences``. Writes
    ``measure_playback_faults`` (one row a fault that began on a machine that ran well) and ``measure_playback`` (one
    row a machine, reel and role). Who recorded is told by pseudonym unless the site shows persons.
    """
    faults = read_faults_at_playback(store)
    cells = read_playback(store, faults)
    if not settings.show_persons:
        cells = with_pseudonyms(cells, store.read("select reel, recorded_by from clean_reels order by reel"))
    store.write("measure_playback_faults", faults)
    store.write("measure_playback", cells)
    return {"faults": count_faults(faults, cells)} | judge_recording(cells)


def with_pseudonyms(cells: pl.DataFrame, labels: pl.DataFrame) -> pl.DataFrame:
    """The cells with "recordist 1" and so on for who recorded, numbered by first appearance in order of reel id."""
    people = dict.fromkeys(name for name in labels["recorded_by"] if name is not None)
    pseudonyms = {name: f"recordist {number}" for number, name in enumerate(people, 1)}
    if not pseudonyms:
        return cells
    return cells.with_columns(pl.col("recorded_by").replace_strict(pseudonyms, default=None, return_dtype=pl.String))


def count_faults(faults: pl.DataFrame, cells: pl.DataFrame) -> Row:
    """Where every fault went: each onset is not booked, common, repeated, or counted with or without its names."""
    booked = faults.filter(pl.col("is_booked"))
    alone = booked.filter(~pl.col("is_common"))
    no_reel = cells.filter(pl.col("reel").is_null())
    no_label = cells.filter(pl.col("reel").is_not_null() & pl.col("recorder").is_null())
    return {
        "onsets_count": faults.height,
        "not_booked_count": faults.height - booked.height,
        "common_count": booked.height - alone.height,
        "repeated_count": alone.filter(pl.col("is_repeated")).height,
        "counted_count": int(cells["count"].sum()),
        "air_count": int(cells["air_count"].sum()),
        "played_h": float(cells["exposure_h"].sum()),
        "no_reel_count": int(no_reel["count"].sum()),
        "no_reel_h": float(no_reel["exposure_h"].sum()),
        "no_label_count": int(no_label["count"].sum()),
        "no_label_h": float(no_label["exposure_h"].sum()),
    }

"""Simulated rooms for the tests, and what the program says of them beside what is true."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from pipeline.ingest import load_site
from pipeline.measure import document, measure_site
from pipeline.model import build_models
from pipeline.settings import read_settings
from pipeline.simulate import Parameters, simulate_site
from pipeline.simulate.clocks import PAIRS_AT_LEAST
from pipeline.statistics import kaplan_meier
from pipeline.store import Store

TIMES = ("to_air", "to_take", "to_cover", "to_service")
GROUPS = {"months": "month", "channels": "channel", "machines": "machine"}


def bytes_of(folder: Path) -> dict[str, bytes]:
    """Every file below a folder."""
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def truth_of(site: Path) -> dict[str, Any]:
    """The true answer of a site."""
    answer: dict[str, Any] = json.loads((site / "truth.json").read_text(encoding="utf-8"))
    return answer


def figures_of(site: Path) -> dict[str, Any]:
    """Loaded, modelled and measured, without the pages."""
    settings = read_settings(site)
    with (
        Store(site / "airhours.duckdb") as store,
        store.transaction(),
        pytest.MonkeyPatch.context() as patched,
    ):
        patched.setattr(document, "measure_transports", lambda *_: {})  # of which the truth says nothing
        load_site(site, settings, store)
        build_models(store)
        return measure_site(store, settings)


def hold_room(folder: Path, parameters: Parameters) -> dict[str, Any]:
    """Simulate, run, compare everything that the truth holds; returns the truth."""
    simulate_site(folder, parameters)
    truth = truth_of(folder)
    hold(figures_of(folder), truth)
    return truth


def hold(figures: dict[str, Any], truth: dict[str, Any]) -> None:
    """Figures equal the truth: counts, and seconds to the microsecond."""
    assert figures["as_of"] == truth["as_of"]
    assert figures["rows"] == truth["rows"]
    files = {entry["path"]: entry for entry in figures["files"]}
    assert set(files) == {entry["path"] for entry in truth["files"]}
    for entry in truth["files"]:
        assert {name: files[entry["path"]][name] for name in entry} == entry
    _hold_group(figures["total"], truth["total"], "total")
    for group, key in GROUPS.items():
        said = {entry[key]: entry for entry in figures[group]}
        assert set(said) == {entry[key] for entry in truth[group]}, group
        for entry in truth[group]:
            _hold_group(said[entry[key]], entry, entry[key])
    _hold_clocks(figures, truth)


def _hold_group(said: dict[str, Any], true: dict[str, Any], where: str) -> None:
    for name, value in true.items():
        if name in TIMES:
            curve = kaplan_meier([seconds for seconds, _ in value], [seen for _, seen in value])
            times = said[f"{name}_s"]
            assert (times["n"], times["open"]) == (len(value), sum(not seen for _, seen in value)), (where, name)
            wanted = {"median": curve.median, "p90": curve.quantile(0.9), "low": curve.low, "high": curve.high}
            assert {key: times[key] for key in wanted} == pytest.approx(wanted, abs=1e-6), (where, name)
        elif name.endswith("_s"):
            assert round(said[name] * 1e6) == round(value * 1e6), (where, name)
        elif isinstance(value, float):
            assert said[name] == pytest.approx(value, abs=1e-12), (where, name)
        else:
            assert said[name] == value, (where, name)


def _hold_clocks(figures: dict[str, Any], truth: dict[str, Any]) -> None:
    """Every clock is corrected that is wrong, and no other; with pairs enough, each is read exactly."""
    said = {entry["machine"]: entry for entry in figures["clocks"]}
    for clock in truth["clocks"]:
        entry = said.get(clock["machine"])
        if clock["pairs"] >= PAIRS_AT_LEAST:
            assert entry is not None
            assert {name: entry[name] for name in clock} == clock
        assert clock["offset_s"] == 0 or (entry is not None and entry["is_corrected"])
        assert entry is None or entry["is_corrected"] == (clock["offset_s"] != 0)

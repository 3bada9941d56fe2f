"""The whole job on the invented room: figures equal to the true answer, a second run that changes nothing."""

from __future__ import annotations

import hashlib
import json
import shutil
from collections import Counter
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, assume, given
from hypothesis import settings as examples
from hypothesis import strategies as st

from pipeline import page_times
from pipeline.digests import digest_file
from pipeline.errors import AirhoursError
from pipeline.flow import Request, RunResult, run_site
from pipeline.statistics import kaplan_meier
from tests.finished_room import ROOM, Finished, copy_room, quiet
from tests.second_reader.rooms import nasty_rooms
from tests.second_reader.sites import Room, write_site
from tests.second_reader.working_rooms import working_rooms

TIMES = ("to_air", "to_take", "to_cover", "to_service")
GROUPS = {"months": "month", "channels": "channel", "machines": "machine"}

MANIFEST = "data/manifest.json"


def bytes_of(folder: Path) -> dict[str, str]:
    """A sha256 of every file below a folder."""
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


@pytest.fixture(scope="module")
def room(finished: Finished, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return Path(shutil.copytree(finished.site, tmp_path_factory.mktemp("room") / "site"))


@pytest.fixture(scope="module")
def run(finished: Finished, room: Path) -> RunResult:
    return replace(finished.result, index=room / finished.result.index.relative_to(finished.site))


@pytest.fixture(scope="module")
def truth() -> dict[str, Any]:
    answer: dict[str, Any] = json.loads((ROOM / "truth.json").read_text(encoding="utf-8"))
    return answer


@pytest.fixture(scope="module")
def figures(run: RunResult) -> dict[str, Any]:
    written: dict[str, Any] = json.loads((run.index.parent / "data" / "figures.json").read_text(encoding="utf-8"))
    return written


def hold(said: dict[str, Any], true: dict[str, Any], where: str) -> None:
    """Every figure the true answer gives, to the count and to the microsecond."""
    for name, value in true.items():
        if name in TIMES:
            curve = kaplan_meier([seconds for seconds, _ in value], [seen for _, seen in value])
            times = said[f"{name}_s"]
            assert (times["n"], times["open"]) == (len(value), sum(not seen for _, seen in value)), (where, name)
            wanted = {"median": curve.median, "p90": curve.quantile(0.9), "low": curve.low, "high": curve.high}
            assert {key: times[key] for key in wanted} == pytest.approx(wanted, abs=1e-6), (where, name)
        elif isinstance(value, float):
            assert said[name] == pytest.approx(value, abs=1e-6), (where, name)
        else:
            assert said[name] == value, (where, name)


def test_figures_equal_the_true_answer(figures: dict[str, Any], truth: dict[str, Any]) -> None:
    hold(figures["total"], truth["total"], "total")
    for group, key in GROUPS.items():
        said = {entry[key]: entry for entry in figures[group]}
        assert set(said) == {entry[key] for entry in truth[group]}, group
        for entry in truth[group]:
            hold(said[entry[key]], entry, entry[key])


def test_every_file_is_accounted_for_as_the_script_planted_it(figures: dict[str, Any], truth: dict[str, Any]) -> None:
    assert figures["rows"] == truth["rows"]
    said = {entry["path"]: entry for entry in figures["files"]}
    for entry in truth["files"]:
        names = ("feed", "read", "kept", "repeats", "set_aside")
        assert {name: said[entry["path"]][name] for name in names} == {name: entry[name] for name in names}
        assert entry["read"] == entry["kept"] + entry["repeats"] + entry["set_aside"]


def test_clocks_are_as_the_script_set_them(figures: dict[str, Any], truth: dict[str, Any]) -> None:
    said = {clock["machine"]: clock for clock in figures["clocks"]}
    for clock in truth["clocks"]:
        assert said[clock["machine"]]["offset_s"] == pytest.approx(clock["offset_s"], abs=1e-3)
        assert said[clock["machine"]]["is_corrected"] == (clock["offset_s"] != 0)


def test_the_five_states_add_up_in_every_group(figures: dict[str, Any]) -> None:
    entries = [figures["total"], *(entry for group in (*GROUPS, "month_channels") for entry in figures[group])]
    for entry in entries:
        parts = sum(entry[f"{state}_s"] for state in ("lost", "unknown", "covered", "unproved", "exposed"))
        assert entry["air_s"] == pytest.approx(parts, abs=1e-6)
    for group in ("months", "channels", "month_channels"):
        assert sum(entry["air_s"] for entry in figures[group]) == pytest.approx(figures["total"]["air_s"], abs=1e-6)


def test_a_second_run_changes_no_byte_and_loads_nothing(room: Path, run: RunResult) -> None:
    before = bytes_of(room)
    again = run_site(room, narrate=quiet)
    assert not again.is_changed
    assert all(file.action == "unchanged" for file in again.load.files)
    assert bytes_of(room) == before


@pytest.mark.slow
def test_another_database_and_folder_give_the_same_bytes(room: Path, run: RunResult, tmp_path: Path) -> None:
    other = run_site(room, out=tmp_path / "out", database=tmp_path / "other.duckdb", narrate=quiet)
    assert bytes_of(other.index.parent) == bytes_of(run.index.parent)


@pytest.mark.slow
@pytest.mark.parametrize("other", ["scribbled over", ""], ids=["another length", "the same length"])
def test_a_page_that_was_altered_is_written_again(room: Path, run: RunResult, other: str) -> None:
    before = bytes_of(run.index.parent)
    told = run.index.read_text(encoding="utf-8")
    run.index.write_text(other or told.replace("</h1>", "</H1>"), encoding="utf-8")
    assert bytes_of(run.index.parent) != before
    run_site(room, narrate=quiet)
    assert bytes_of(run.index.parent) == before


@pytest.mark.slow
def test_only_verifying_reads_the_pages_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    site, summed = copy_room(tmp_path / "site"), list[str]()
    pages = run_site(site, narrate=quiet).index.parent

    def note(path: Path) -> str:
        summed.append(path.relative_to(pages).as_posix())
        return digest_file(path)

    monkeypatch.setattr(page_times, "digest_file", note)
    assert not run_site(site, narrate=quiet).is_changed
    # What was written last is too young to be believed.
    assert [name for name in summed if name.endswith(".html")] == []
    summed.clear()
    assert not run_site(site, narrate=quiet, request=Request(verify=True)).is_changed
    assert sorted(summed) == sorted(set(bytes_of(pages)) - {MANIFEST})


def test_a_run_that_fails_leaves_all_as_it_was(room: Path, run: RunResult, tmp_path: Path) -> None:
    site = Path(shutil.copytree(room, tmp_path / "site"))
    before = bytes_of(site)
    tickets = site / "tickets.csv"
    good = tickets.read_bytes()
    tickets.write_bytes(good.replace(b"machine", b"machne", 1))
    with pytest.raises(AirhoursError, match="machne"):
        run_site(site, narrate=quiet)
    tickets.write_bytes(good)
    assert bytes_of(site) == before


def test_what_began_together_is_what_was_played_so(figures: dict[str, Any], truth: dict[str, Any]) -> None:
    """Three showings of a reel recorded wrong on both copies, and four mains dips that take a pair: seven, no other."""
    played = [
        datetime.fromisoformat(scene["start_utc"])
        for scene in truth["scenes"]
        if scene["scene"] in {"recorded_fault", "both_dip_healed", "both_dip_third"}
    ]
    clusters = figures["patterns"]["coincidences"]["clusters"]
    began = [datetime.fromisoformat(cluster["onsets"][0]["at"]) for cluster in clusters]
    hours = [min((at - start).total_seconds() / 3600 for start in played if start <= at) for at in began]
    assert (len(played), len(clusters)) == (7, 7)
    assert all(hour < 2 for hour in hours)
    reels = [{onset["reel"] for onset in cluster["onsets"]} for cluster in clusters]
    assert reels.count({"K0907-1A", "K0907-1B"}) == 3


def test_events_under_a_name_are_those_played(figures: dict[str, Any], truth: dict[str, Any]) -> None:
    """Counts by machine and by the hour on the wall, added up from the true answer."""
    zone = ZoneInfo("Europe/Stockholm")
    begun = [datetime.fromisoformat(event["at_utc"]).astimezone(zone) for event in truth["recoveries"]]
    true = {
        "machine": Counter(event["machine"] for event in truth["recoveries"]),
        "hour of the local day": Counter(f"{at.hour:02d}:00 to {at.hour + 1:02d}:00" for at in begun),
    }
    for kind, counts in true.items():
        said = {row["name"]: row["count"] for row in figures["patterns"]["names"] if row["kind"] == kind}
        assert said == counts


@pytest.mark.slow
def test_the_four_required_feeds_are_enough(tmp_path: Path) -> None:
    site = copy_room(tmp_path / "site")
    (site / "machines.csv").unlink()
    (site / "reels.csv").unlink()
    for months in ("2031-03", "2031-04"):
        for path in site.glob(f"events/*{months}*"):
            path.unlink()
    result = run_site(site, narrate=quiet)
    assert result.figures["total"]["air_s"] > 0
    assert (result.index.parent / "transports.html").is_file()


@pytest.mark.slow
@examples(max_examples=8, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(room=nasty_rooms() | working_rooms(), has_register=st.booleans())
def test_any_small_room_gets_its_pages(
    tmp_path_factory: pytest.TempPathFactory, room: Room, has_register: bool
) -> None:
    assume(room.events and room.bookings)
    site = write_site(room, tmp_path_factory.mktemp("any") / "site")
    if not has_register:
        (site / "machines.csv").unlink()
    assert run_site(site, narrate=quiet).index.is_file()


@pytest.mark.slow
def test_only_what_is_new_is_loaded(run: RunResult, tmp_path: Path) -> None:
    site = copy_room(tmp_path / "site")
    held_back = site / "events" / "VT1_2031-04.csv"
    text = held_back.read_bytes()
    held_back.unlink()
    run_site(site, narrate=quiet)
    held_back.write_bytes(text)
    second = run_site(site, narrate=quiet)
    assert [file.file for file in second.load.files if file.action != "unchanged"] == ["events/VT1_2031-04.csv"]
    assert second.figures == run.figures
    found, wanted = bytes_of(second.index.parent), bytes_of(run.index.parent)
    # All but where pieces stand that the next run may take over.
    assert {name for name in wanted.keys() | found.keys() if found.get(name) != wanted.get(name)} <= {MANIFEST}

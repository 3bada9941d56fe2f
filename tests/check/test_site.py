"""A small invented room from its files to the verdicts: it passes, and what is bent in its tables is found."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from pipeline.check import check_site
from pipeline.check.site import ask_table
from pipeline.check.suites import TableCheck, read_suites
from pipeline.ingest import load_site
from pipeline.measure import measure_site
from pipeline.model import build_models
from pipeline.results import CheckOutcome, CheckResult
from pipeline.settings import read_settings
from pipeline.store import Store

TOML = 'name = "Invented room"\ntimezone = "Europe/Stockholm"\nday_starts = "06:00"\nframe_rate = 25\n'
FILES = {
    "events/VT1.csv": """\
at,machine,event,value,detail
2031-03-01T19:55:00Z,VT1,roll,,
2031-03-01T19:55:04Z,VT1,lock,,
2031-03-01T20:10:00Z,VT1,stop,,
""",
    "events/VT2.csv": """\
at,machine,event,value,detail
2031-03-01T19:55:00Z,VT2,roll,,
2031-03-01T19:55:04Z,VT2,lock,,
2031-03-01T19:56:00Z,VT2,offset,0.0,VT1
2031-03-01T20:31:00Z,VT2,stop,,
""",
    "switches.csv": """\
at,action,channel,from_machine,to_machine,reason,by
2031-03-01T20:10:03Z,take,One,VT1,VT2,fault,crew
""",
    "tickets.csv": "ticket,machine,opened,restored\nF1,VT1,2031-03-01T20:20:00Z,2031-03-01T20:10:00Z\n",
    "bookings.csv": """\
booking,transmission,channel,programme,show,reel,machine,role,starts,ends
B1,X1,One,Moss,,R1,VT1,air,2031-03-01T20:00:00Z,2031-03-01T20:30:00Z
B2,X1,One,Moss,,R1,VT2,protect,2031-03-01T20:00:00Z,2031-03-01T20:30:00Z
""",
}


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The database of the small room, loaded, modelled and measured."""
    site = tmp_path_factory.mktemp("site")
    (site / "events").mkdir()
    (site / "site.toml").write_text(TOML, encoding="utf-8")
    for name, text in FILES.items():
        (site / name).write_text(text, encoding="utf-8")
    with Store(site / "room.duckdb") as store, store.transaction():
        load_site(site, read_settings(site), store)
        build_models(store)
        measure_site(store, read_settings(site))
    return site / "room.duckdb"


def checked(built: Path, tmp_path: Path, *bends: str) -> tuple[CheckResult, list[tuple[object, ...]]]:
    """The result and the rows of ``check_findings`` after the statements ``bends``, in a copy of the database."""
    path = Path(shutil.copy(built, tmp_path / "room.duckdb"))
    with Store(path) as store, store.transaction():
        for bend in bends:
            store.run(bend)
        result = check_site(store)
        findings = store.read("select * from check_findings order by all").rows()
        written = store.read("select check_id, is_passed, found_count, of_count, touches from check_results").rows()
    assert written == [
        (each.check_id, each.passed, each.found_count, each.of_count, ", ".join(each.touches))
        for each in result.results
    ]
    return result, findings


def failed(result: CheckResult) -> dict[str, CheckOutcome]:
    return {each.check_id: each for each in result.results if not each.passed}


def test_a_sound_room_is_not_stopped(built: Path, tmp_path: Path) -> None:
    result, findings = checked(built, tmp_path)
    assert [each.check_id for each in result.results] == [check.check_id for check in read_suites()]
    # the ticket is restored ten minutes before it is opened, and two clocks have no start command to go by
    assert set(failed(result)) == {"tickets_backwards", "unestimated_clocks"}
    assert not result.is_stopped
    ticket = next(row for row in findings if row[0] == "tickets_backwards")
    assert ticket[:4] == ("tickets_backwards", "tickets", "tickets.csv", 2)
    clocks = failed(result)["unestimated_clocks"]
    assert (clocks.severity, clocks.found_count) == ("note", 2)


def test_broken_models_stop(built: Path, tmp_path: Path) -> None:
    result, findings = checked(
        built,
        tmp_path,
        "update metric_air set covered_s = covered_s + 0.000001 where machine = 'VT1'",
        "update core_switches set kind = 'whim'",
        "update core_interruptions set ended_at_utc = started_at_utc",
        "update core_files set kept_count = kept_count - 1 where file = 'switches.csv'",
        "insert into metric_air select * from metric_air where machine = 'VT2'",
    )
    assert result.is_stopped
    # a second row of VT2 doubles its air in the months, and its key
    stopping = {name for name, each in failed(result).items() if each.severity == "stop"}
    assert stopping == {
        "file_accounts",
        "air_adds_up",
        "air_identity",
        "air_keys",
        "switch_kinds",
        "interruption_lengths",
        "interruption_losses",
    }
    assert failed(result)["air_keys"].found_count == 2
    whats = [row[4] for row in findings]
    assert "file switches.csv, read_count 1, placed_count 0" in whats
    assert "switch_no 1, kind whim" in whats


@pytest.mark.parametrize(
    ("check_id", "bend"),
    [
        ("air_states", "update core_air_spans set state = 'fine'"),
        ("air_states", "update core_air_spans set state = null"),
        ("air_span_lengths", "update core_air_spans set ended_at_utc = started_at_utc"),
        ("exposed_identity", "update metric_air set exposed_s = exposed_s + 1"),
        ("air_shares", "update metric_air set lost_s = air_s + 1"),
        ("switch_takes", "insert into core_switches select * from core_switches"),
        ("switch_machines", "update core_switches set from_machine = null"),
        ("interruption_losses", "update core_interruptions set lost_s = lost_s + 0.000001"),
        ("demand_counts", "update metric_events set demands_healed_count = demands_count"),
        ("recovery_times", "update core_recoveries set to_cover_s = -0.000001"),
    ],
)
def test_a_check_on_a_table_fails_where_it_is_bent(built: Path, tmp_path: Path, check_id: str, bend: str) -> None:
    check = next(each for each in read_suites() if each.check_id == check_id)
    assert isinstance(check, TableCheck)
    with Store(Path(shutil.copy(built, tmp_path / "room.duckdb"))) as store:
        store.run(
            "create table check_findings (check_id varchar, feed varchar, file varchar, line bigint, what varchar)"
        )
        assert ask_table(store, check)().passed
        store.run(bend)
        outcome = ask_table(store, check)()
        rows = store.read("select what from check_findings").rows()
    assert not outcome.passed
    assert outcome.found_count == len(rows) > 0


def test_a_share_is_held_against_the_rows_looked_at(built: Path, tmp_path: Path) -> None:
    # seven lines of machines in use; with VT2's booking gone, its four lie outside: 4 of 7 is more than a quarter
    result, _ = checked(built, tmp_path, "delete from clean_bookings where booking = 'B2'")
    outcome = failed(result)["unbooked_events"]
    assert (outcome.found_count, outcome.of_count) == (4, 7)
    result, _ = checked(built, tmp_path, "delete from core_word_rows where machine = 'VT2'")
    assert "unbooked_events" not in failed(result)

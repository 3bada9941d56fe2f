"""What a run may use of its machine: the container's limit where it is lower, and what a person says before both."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from pipeline import machine
from pipeline.errors import StoreError
from pipeline.store import Store


@pytest.fixture(autouse=True)
def said(monkeypatch) -> None:
    monkeypatch.delenv(machine.MEMORY, raising=False)
    monkeypatch.delenv(machine.THREADS, raising=False)


@pytest.mark.parametrize(
    ("has", "gets"), [(24 << 30, "768MiB"), (4 << 30, "768MiB"), (2 << 30, "512MiB"), (512 << 20, "256MiB")]
)
def test_the_engine_gets_a_quarter_of_the_memory_within_bounds(monkeypatch, has: int, gets: str) -> None:
    monkeypatch.setattr(machine, "memory_bytes", lambda: has)
    assert machine.engine_memory() == gets


def test_while_pages_are_drawn_the_engine_holds_less(monkeypatch, tmp_path: Path) -> None:
    monkeypatch.setattr(machine, "memory_bytes", lambda: 24 << 30)
    limit = "select current_setting('memory_limit')"
    with Store(tmp_path / "a.duckdb") as store:
        assert store.value(limit) == "768.0 MiB"
        store.hold_less()
        assert store.value(limit) == "384.0 MiB"
        monkeypatch.setenv(machine.MEMORY, "3GB")
        store.hold_less()
        assert store.value(limit) == "2.7 GiB"  # 3 × 10⁹ ÷ 2³⁰ = 2.79, and the engine cuts what it prints


@pytest.mark.parametrize("name", ["memory.max", "memory/memory.limit_in_bytes"])
def test_a_containers_limit_counts_where_it_is_lower(tmp_path: Path, name: str) -> None:
    whole = machine.memory_bytes(tmp_path)
    path = tmp_path / name
    path.parent.mkdir(exist_ok=True)
    path.write_text("300000000\n")
    assert machine.memory_bytes(tmp_path) == 300_000_000
    path.write_text("max\n")
    assert machine.memory_bytes(tmp_path) == whole
    path.write_text(f"{whole * 2}\n")
    assert machine.memory_bytes(tmp_path) == whole


@pytest.mark.parametrize(("quota", "cores"), [("50000 100000", 1), ("max 100000", None), ("nonsense", None)])
def test_a_containers_share_of_the_cores_counts(tmp_path: Path, quota: str, cores: int | None) -> None:
    (tmp_path / "cpu.max").write_text(quota)
    assert machine.core_count(tmp_path) == (cores or machine.core_count(tmp_path / "none"))


def test_what_a_person_says_goes_before(monkeypatch) -> None:
    monkeypatch.setenv(machine.MEMORY, "3GB")
    monkeypatch.setenv(machine.THREADS, "1")
    assert (machine.engine_memory(), machine.engine_threads()) == ("3GB", 1)


@pytest.mark.parametrize("word", ["much", "0GB", "4", "-1GB", "4GB; drop table x"])
def test_a_memory_that_is_no_size_is_refused(monkeypatch, word: str) -> None:
    monkeypatch.setenv(machine.MEMORY, word)
    with pytest.raises(StoreError, match="Expected a size such as 4GB"):
        machine.engine_memory()


@pytest.mark.parametrize("word", ["two", "0", "-1", "1.5", "4096", "²"])
def test_threads_that_are_no_number_are_refused(monkeypatch, word: str) -> None:
    monkeypatch.setenv(machine.THREADS, word)
    with pytest.raises(StoreError, match="Expected a whole number from 1 to 1024"):
        machine.engine_threads()


def test_the_engine_is_told(monkeypatch, tmp_path: Path) -> None:
    monkeypatch.setenv(machine.MEMORY, "300MiB")
    monkeypatch.setenv(machine.THREADS, "1")
    with Store(tmp_path / "a.duckdb") as store:
        told = store.read(
            "select current_setting('memory_limit') as m, current_setting('threads') as t, "
            "current_setting('temp_directory') as d"
        ).row(0)
    assert told == ("300.0 MiB", 1, str(tmp_path / f".airhours-a.duckdb-{os.getpid()}"))


@pytest.mark.slow
def test_what_does_not_fit_goes_beside_the_file_and_is_gone_afterwards(monkeypatch, tmp_path: Path) -> None:
    """Two million texts of 64 letters are 128 MB to sort within 64 MiB."""
    monkeypatch.setenv(machine.MEMORY, "64MiB")
    with Store(tmp_path / "a.duckdb") as store:
        store.run("create table t as select sha256(r::varchar) as x from range(2000000) as s(r)")
        store.run("create table u as select x from t order by x")
        assert store.value("select count(*) from u") == 2_000_000
    assert [path.name for path in tmp_path.iterdir()] == ["a.duckdb"]

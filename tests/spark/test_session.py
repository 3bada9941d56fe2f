"""What a user is told where Spark cannot be had, and what the session is set to; nothing here starts Java."""

from __future__ import annotations

import builtins
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from pipeline.errors import EngineError, SiteError
from pipeline.settings import read_settings
from pipeline.spark import open_engine
from pipeline.spark.dialect import write_script
from pipeline.spark.exchange import MONTH, PARTITIONED_ROWS, write_out
from pipeline.spark.session import SMALL, SMALL_BYTES, TASK_BYTES, open_session, size_options
from pipeline.store import Store
from tests.spark.rooms import SETTINGS

SITE = 'name = "room"\ntimezone = "UTC"\nday_starts = "00:00"\nframe_rate = 25\n'


def test_without_the_extra_one_sentence_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = builtins.__import__

    def lacking(name: str, *rest: Any, **more: Any) -> Any:
        if name.startswith(("pyspark", "sqlglot")):
            raise ImportError(name)
        return whole(name, *rest, **more)

    for module in [name for name in sys.modules if name.startswith(("pyspark", "sqlglot"))]:
        monkeypatch.delitem(sys.modules, module)
    monkeypatch.setattr(builtins, "__import__", lacking)
    wanted = pytest.raises(EngineError, match=r'needs the optional extra "spark"\. Install it')
    with Store(Path(":memory:")) as store, wanted as told, open_engine(store, SETTINGS):
        pass
    assert "\n" not in str(told.value)


def test_without_java_one_sentence_says_what_to_install(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.delenv("JAVA_HOME", raising=False)
    with pytest.raises(EngineError, match="needs Java 17 or newer"), open_session(SETTINGS, 0):
        pass


def test_a_folder_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    settings = replace(SETTINGS, spark_folder=str(tmp_path / "nowhere"))
    with Store(Path(":memory:")) as store, pytest.raises(EngineError, match="nowhere"), open_engine(store, settings):
        pass


def test_a_model_that_does_not_carry_over_is_named() -> None:
    with pytest.raises(EngineError, match=r"core_odd\.sql cannot run on Spark\. hash\(\) is not known"):
        write_script("core_odd", "select hash(a) as h from t")


def test_small_rooms_go_in_one_task_and_large_ones_in_tasks_of_eight_mebibytes() -> None:
    assert size_options(SMALL_BYTES) == SMALL
    # 33 MiB / 8 MiB = 4.125, so 5 tasks; never fewer than two
    assert size_options(33 << 20)["spark.sql.shuffle.partitions"] == "5"
    assert TASK_BYTES == 8 << 20


def test_settings_are_read_and_mistakes_named(tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    path.write_text(SITE)
    assert (read_settings(tmp_path).engine, read_settings(tmp_path).spark_master) == ("duckdb", "local[2]")
    path.write_text(f'{SITE}engine = "spark"\n[spark]\nmaster = "spark://head:7077"\nfolder = "/shared"\n')
    read = read_settings(tmp_path)
    assert (read.engine, read.spark_master, read.spark_folder) == ("spark", "spark://head:7077", "/shared")
    assert not {"engine", "spark_master", "spark_folder"} & set(read.row())  # no figure depends on them
    for wrong in ('engine = "sparks"\n', "spark = 3\n", '[spark]\nmastr = "x"\n', "[spark]\nmaster = 2\n"):
        path.write_text(SITE + wrong)
        with pytest.raises(SiteError):
            read_settings(tmp_path)


def test_a_long_feed_is_laid_out_by_month_and_loses_no_row(tmp_path: Path) -> None:
    # One row more than fits into one file, half of them in March and half in April; one has no stamp.
    with Store(Path(":memory:")) as store:
        store.run(
            "create table raw_events as select i as line, case when i > 0 then timestamp '2031-03-01' +"
            f" to_days(cast(i % 2 * 31 as integer)) end as stamped_at_utc from range({PARTITIONED_ROWS + 1}) as r(i)"
        )
        path = write_out(store, "raw_events", tmp_path)
        months = {folder.name for folder in path.iterdir()}
        assert months == {f"{MONTH}=2031-03", f"{MONTH}=2031-04", f"{MONTH}=__HIVE_DEFAULT_PARTITION__"}
        count, total = store.read(f"select count(*), sum(line) from read_parquet('{path}/*/*.parquet')").row(0)
        assert (count, int(total)) == (PARTITIONED_ROWS + 1, PARTITIONED_ROWS * (PARTITIONED_ROWS + 1) // 2)


def test_a_short_feed_is_one_file(tmp_path: Path) -> None:
    with Store(Path(":memory:")) as store:
        store.write(
            "raw_switches",
            pl.DataFrame({"line": [1], "at_utc": [None]}, schema_overrides={"at_utc": pl.Datetime("us")}),
        )
        assert write_out(store, "raw_switches", tmp_path).is_file()

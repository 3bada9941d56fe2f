"""Holds sql/ inside what carries over to Spark, and the holding itself to what it must refuse. Needs no Java."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.spark.dialect import write_script
from pipeline.spark.subset import refusals
from pipeline.sql_files import read_checks, read_models, sql_folder

FILES = sorted(sql_folder().glob("*/*.sql"))

# Each means something else on Spark, or nothing (tried in local mode); the word is one of the sentence that refuses it.
REFUSED = {
    "select a from t asof join u on t.x >= u.x": "window",
    "select date_diff('second', a, b) from t": "microsecond",
    "select cast(a / b as bigint) from t": "round()",
    "select cast(a as boolean) from t": "boolean",
    "select round(a, 2) from t": "decimal",
    "select hash(a) from t": "hash",
    "select list(a order by b) from t": "ArrayAgg",
    "select quantile_cont(a, 0.5) from t": "PercentileCont",
    "select median(a) from t": "Median",
    "select epoch(b - a) from t": "TimeToUnix",
    "select to_seconds(a) from t": "to_seconds",
    "select interval (a) second from t": "to_microseconds",
    "select a + interval 1 month from t": "exact",
    "select a at time zone 'UTC' from t": "AtTimeZone",
    "select timezone('UTC', a) from t": "timezone",
    "select time_bucket(interval 1 hour, a) from t": "DateBin",
    "select string_agg(a, ', ') from t": "order by",
    "select string_agg(distinct a, ', ' order by a), count(distinct b) from t": "another distinct",
    "select upper(a) from t": "Upper",
    "select concat(a, b) from t": "Concat",
    "select regexp_replace(a, 'x.y', '') from t": "class",
    "select regexp_replace(a, '(?i)x', '') from t": "(?",
    "select regexp_replace(a, b, '') from t": "literal",
    "select regexp_replace(a, '(x)', '\\1') from t": "replacement",
    "select arg_min(a, b) filter (where c) from t": "case inside",
    "select unnest(a) from t": "written list",
    "select [a, b] from t": "unnest",
    "select a from t union by name select b from u": "by name",
    "with recursive c as (select 1 as n union all select n + 1 from c where n < 5) select * from c": "using key",
    "select * from range(5)": "",
    "select current_date": "CurrentDate",
    "pivot t on a using sum(b)": "",
    "select a from t semi join u on t.x = u.x": "exists",
}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_file_of_sql_carries_over(path: Path) -> None:
    assert refusals(path.read_text(encoding="utf-8")) == ()


def test_every_model_and_check_is_written_for_spark() -> None:
    for model in (*read_models(), *read_checks()):
        script = write_script(model.name, model.sql)
        assert script.select.lstrip("(").upper().startswith(("WITH", "SELECT")), model.name


@pytest.mark.parametrize(("sql", "word"), REFUSED.items(), ids=REFUSED)
def test_what_does_not_carry_over_is_refused(sql: str, word: str) -> None:
    reasons = refusals(sql)
    assert reasons
    assert any(word in reason for reason in reasons), reasons

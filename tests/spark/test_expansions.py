"""What is written out for Spark, value by value against the database, where the two differ by themselves."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import polars as pl
import pytest

from pipeline.spark.dialect import write_script
from pipeline.spark.exchange import keep, load_rows, show, write_out
from pipeline.spark.session import open_session
from pipeline.store import Store
from tests.spark.rooms import SETTINGS, needs_java

pytestmark = [pytest.mark.slow, needs_java, pytest.mark.timeout(900)]

DOUBLES = [
    0.0005, 0.0015, 1.0005, 2.5005, -0.0005, 0.5, 1.5, 2.5, -2.5, 12345678.5, 123456789.125, 0.00033, 0.0001, 1e-05,
    1.5e-07, 1e15, 1e16, 1.5e22, -0.0, 0.1, None,
]  # fmt: skip
TEXTS = [
    "ISTANBUL İ", "ΣΑΣ ς", "Belt  SN 12", "belt\x0bser 9", " padded\u00a0", "\tx\t", "a1b2", "tail 7\n", "é5a", "",
    "ßẞ", "part #4", "no. sn 5", "zß\u3000", "sn8", "Ångström", None, "x", "a_b", "A B",
]  # fmt: skip
STAMPS = [
    datetime.fromisoformat(text)
    for text in ("2031-03-30T01:59:59.999999", "2031-03-30", "1969-12-31T23:59:59.000001", "2031-12-31T23:00:00.5")
]

SELECTS = {
    "a double as text": "select n, cast(x as varchar) as t from given",
    "a decimal as text": "select n, cast(cast(x as decimal(18, 3)) as varchar) as t from given where abs(x) < 1e9",
    "a double to a decimal": "select n, cast(x as decimal(18, 1)) as d, cast(x as decimal(18, 3)) as e from given"
    " where abs(x) < 1e9",
    "rounded": "select n, round(x) as r, cast(round(x) as bigint) as w from given where abs(x) < 1e15",
    "divided": "select n, n / 7 as q, n * 0.000001 / 3 as r, x / 3 as s, n // 4 as w, n % 4 as m from given",
    "small letters": "select n, lower(s) as t from given",
    "trimmed": "select n, trim(s) as t from given",
    "replaced": r"select n, regexp_replace(s, '\s+', '_', 'g') as a, regexp_replace(s, '[0-9]', '_') as b,"
    r" regexp_replace(lower(s), ' ?(#|\b(sn|ser)\b)[ .:]*\S*[0-9]\S*$', '') as c, regexp_replace(s, '\p{L}', '_') as d"
    " from given",
    "found": r"select n, regexp_matches(s, '\bsn') as a, regexp_matches(s, '[0-9]$') as b from given",
    "instants": "select n, at_utc + to_microseconds(n * 1500001) as a, epoch_us(at_utc) as b,"
    " make_timestamp(n * 7) as c,"
    " date_trunc('day', at_utc) as d, date_diff('microsecond', at_utc, at_utc + interval 90 second) as e,"
    " cast(at_utc as varchar) as t, strftime(at_utc, '%Y%m%d-%H%M%S') as f from given",
    "order": "select n, row_number() over (order by s, n) as a, row_number() over (order by s desc, n) as b,"
    " row_number() over (order by x nulls first, n desc) as c from given",
    "least and greatest": "select n, least(x, 1) as a, greatest(at_utc, null) as b, coalesce(x, 0) as c from given",
    "best rows": "select n % 3 as g, arg_min(s, n) as a, arg_max(x, n) as b, arg_min(n, (s, n)) as c,"
    " arg_max(n, (s, n)) as d, arg_min(n, (x, s)) as e from given"
    " group by n % 3",
    "names": "select n % 3 as g, string_agg(distinct s, ', ' order by s) as a,"
    " count(*) filter (where x > 1) as c from given group by n % 3",
    "series": "select n, unnest(generate_series(date_trunc('day', at_utc), date_trunc('day', at_utc) +"
    " to_microseconds((n - 2) * 86400000000), interval '1 day')) as day from given where n < 6",
    "like and lists": "select n, unnest([s, cast(n as varchar)]) as t from given"
    " where s like 'a%' or s not in ('x', '')",
    "not the same": "select n, s is distinct from t as a, s is not distinct from t as b from given",
}  # fmt: skip


@pytest.fixture(scope="module")
def answers(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, tuple[pl.DataFrame, pl.DataFrame]]]:
    folder = tmp_path_factory.mktemp("spark")
    with Store(Path(":memory:")) as store, open_session(SETTINGS, 0) as session:
        store.write("given", _given())
        show(session, "given", write_out(store, "given", folder))
        found = {}
        for number, (name, select) in enumerate(SELECTS.items()):
            path = folder / f"answer_{number}"
            keep(session.sql(write_script(name, select).select), path)
            store.build("here", select)
            store.build("there", f"select * from ({select}) as one limit 0")
            load_rows(store, "there", path)
            found[name] = (
                store.read("select * from here order by all"),
                store.read("select * from there order by all"),
            )
        yield found


def _given() -> pl.DataFrame:
    count = max(len(DOUBLES), len(TEXTS))
    columns = {
        "n": list(range(count)),
        "x": [DOUBLES[n % len(DOUBLES)] for n in range(count)],
        "s": [TEXTS[n % len(TEXTS)] for n in range(count)],
        "t": [TEXTS[(n * 7) % len(TEXTS)] for n in range(count)],
        "at_utc": [(*STAMPS, None)[n % 5] for n in range(count)],
    }
    return pl.DataFrame(columns, schema_overrides={"at_utc": pl.Datetime("us")})


@pytest.mark.parametrize("name", SELECTS)
def test_it_means_the_same_on_spark(answers: dict[str, tuple[pl.DataFrame, pl.DataFrame]], name: str) -> None:
    here, there = answers[name]
    assert here.height > 0
    assert there.rows() == here.rows()

"""The job as one DuckDB script in memory; `python -m bench.speed.jobs.with_duckdb SITE`."""

from pathlib import Path

import duckdb

from bench.speed.jobs.job import Job, asked_job, print_answer

SCRIPT = Path(__file__).with_suffix(".sql")
COUNTS = """
select
    (select count(*) from event_rows where reason is not null)
    + (select count(*) from switch_rows where why is not null)
    + (select count(*) from booking_rows where why is not null)
    + (select count(*) from ticket_rows where why is not null),
    (select count(*) from event_rows where reason is null) - (select count(*) from events)
    + (select count(*) from switch_rows where why is null) - (select count(*) from switches)
"""


SUMS = """
select m.month, a.state, cast(sum(least(a.end_us, m.end_us) - greatest(a.start_us, m.start_us)) as bigint) as length_us
from air as a
left join early as e using (piece)
inner join months as m on a.start_us < m.end_us and a.end_us > m.start_us
where a.state is not null and (e.piece is null or a.start_us < e.start_us)
group by all
"""


def main() -> None:
    job = asked_job()
    with duckdb.connect() as engine:
        prepare_engine(engine, job)
        engine.execute(SCRIPT.read_text(encoding="utf-8"))
        first_us, last_us = engine.execute("select min(start_us), max(end_us) from windows").fetchall()[0]
        engine.execute("create temp table months (month varchar, start_us bigint, end_us bigint)")
        engine.executemany("insert into months values (?, ?, ?)", list(job.months(first_us, last_us)))
        aside, repeats = engine.execute(COUNTS).fetchall()[0]
        print_answer(engine.execute(SUMS).fetchall(), aside, repeats)


def prepare_engine(engine: duckdb.DuckDBPyConnection, job: Job) -> None:
    """Hand over what site.toml says; a cast is kept out of the file reader, which drops rows it fails on."""
    engine.execute("set disabled_optimizers = 'type_pushdown'")
    engine.execute(f"set timezone = '{job.zone}'")
    for name in ("tolerance_s", "lead_us", "carry_us", "silence_us", "tail_us"):
        engine.execute(f"set variable {name} = {getattr(job, name)}")
    engine.execute(f"set variable site = '{str(job.site).replace(chr(39), chr(39) * 2)}'")


if __name__ == "__main__":
    main()

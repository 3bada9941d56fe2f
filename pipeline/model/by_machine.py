"""Renew what follows from a machine's words: from its last stop at which its past is done with.

A stop ends the run, and with it every word on lock, picture and sound. Where the machine's state and its faults begin
anew at it too, nothing before it has a say in what comes after, and nothing after it in what came before.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime

from pipeline.model.touched import Touched
from pipeline.sql_files import Model
from pipeline.store import Store

RENEWED = "by machine"
ASIDE = "renewing"
MOMENTS = "core_machine_moments"
SINCE = {  # when a row of the table begins
    MOMENTS: "at_utc",
    "core_machine_states": "started_at_utc",
    "core_fault_spans": "started_at_utc",
    "core_rolling_spans": "started_at_utc",
    "core_lock_spans": "started_at_utc",
    "core_starts": "at_utc",
    "core_alarms": "started_at_utc",
}
KEPT = (MOMENTS, "core_machine_states")  # what pieces are held against
# From where each machine is renewed, and how many of its moments and runs come before.
RESTARTS = """
    create table restarts as
    with
    machines as (
        select machine from main.core_machine_moments
        union
        select machine from main.core_heard_spans
    ),
    stops as (
        select m.machine, max(m.at_utc) as at_utc
        from main.core_machine_moments as m
        inner join main.core_machine_states as s on m.machine = s.machine and m.at_utc = s.started_at_utc
        inner join main.core_fault_spans as f on m.machine = f.machine and m.at_utc = f.started_at_utc
        where m.event = 'stop' and m.at_utc < ? and m.machine not in (select unnest(?))
        group by m.machine
    ),
    counted as (
        select
            s.machine,
            count(*) filter (m.at_utc < s.at_utc) as moments_before,
            min(m.run_no) filter (m.at_utc = s.at_utc) - 1 as runs_before
        from stops as s
        inner join main.core_machine_moments as m on s.machine = m.machine and m.at_utc <= s.at_utc
        group by s.machine
    )
    select
        n.machine,
        coalesce(s.at_utc, timestamp '0001-01-01') as from_at_utc,
        coalesce(c.moments_before, 0) as moments_before,
        coalesce(c.runs_before, 0) as runs_before
    from machines as n
    left join stops as s on n.machine = s.machine
    left join counted as c on n.machine = c.machine
"""
WORDS = """
    create table core_word_rows as
    select w.* from main.core_word_rows as w
    inner join restarts as r on w.machine = r.machine and w.at_utc >= r.from_at_utc
"""
SPANS = """
    create table core_heard_spans as
    select h.* replace (greatest(h.first_at_utc, r.from_at_utc) as first_at_utc) from main.core_heard_spans as h
    inner join restarts as r on h.machine = r.machine and h.last_at_utc >= r.from_at_utc
"""


def renew(store: Store, models: Iterable[Model], touched: Touched, told: Callable[[str], None], *, before: str) -> None:
    """Bring ``models`` up to date from each machine's restart on; rows that go are kept in the schema ``before``."""
    first_at = _first_at(store, touched, before)
    if first_at is None:
        for table in KEPT:
            store.run(f"create table {before}.{table} as select * from {table} limit 0")
        store.run(f"create table {before}.restarts (machine varchar, from_at_utc timestamp)")
        return
    with store.aside(ASIDE):
        store.run(RESTARTS, [first_at, sorted(touched.habits)])
        store.run(f"create table {before}.restarts as select machine, from_at_utc from restarts")
        store.run(WORDS)
        store.run(SPANS)
        for model in models:
            told(model.name)
            _renew(store, model, before)


def _renew(store: Store, model: Model, before: str) -> None:
    going = f"""
        from main.{model.name} as x
        where exists (
            select 1 from restarts as r where x.machine = r.machine and x.{SINCE[model.name]} >= r.from_at_utc
        )
    """
    if model.name == MOMENTS:
        store.run(
            f"""
            create table {MOMENTS} as
            select m.* replace (
                m.moment_no + r.moments_before as moment_no, m.run_no + r.runs_before as run_no
            )
            from ({model.sql}) as m
            inner join restarts as r on m.machine = r.machine
            """
        )
    else:
        store.run(f"create table {model.name} as {model.sql}")
    if model.name in KEPT:
        store.run(f"create table {before}.{model.name} as select x.* {going}")
    store.run(f"delete {going}")
    store.run(f"insert into main.{model.name} select * from {model.name}")


def _first_at(store: Store, touched: Touched, before: str) -> datetime | None:
    """The first instant at which what these models read may differ: of lines, or of until when the data go."""
    instants = [] if touched.first_at is None else [touched.first_at]
    was, now = (store.value(f"select as_of_at_utc from {of}core_as_of") for of in (f"{before}.", ""))
    if was != now:
        instants += [at for at in (was, now) if at is not None]
    if touched.habits:
        instants.append(datetime.max)  # noqa: DTZ901 - naive UTC; the machines concerned have no restart at all
    return min(instants, default=None)

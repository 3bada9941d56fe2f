"""Renew what is made of lines alone: words, and the spans in which a machine was heard."""

from __future__ import annotations

from collections.abc import Callable

import polars as pl

from pipeline.model.marks import LINES
from pipeline.model.touched import FIRST, Touched
from pipeline.sql_files import Model, read_model, sql_folder
from pipeline.store import Store

RENEWED = "from what was touched"
ASIDE = "renewing"
EVENTS, STRETCHES = "core_events", "core_heard_stretches"
CUTS = pl.Schema({"machine": pl.String(), "from_at_utc": pl.Datetime("us")})


def renew(store: Store, model: Model, touched: Touched) -> None:
    """Bring ``model`` up to date with what was ``touched``; what lies before that stays as it is.

    Raises:
        KeyError: the file of the model says that it is renewed this way, and nothing here knows how.
    """
    RENEWALS[model.name](store, model, touched)


def _renew_words(store: Store, model: Model, touched: Touched) -> None:
    """Words are numbered by time, so that those before the first instant touched keep their numbers."""
    first_at = touched.first_at
    if first_at is None:
        return
    store.run("delete from core_word_rows where at_utc >= ?", [first_at])
    machines = store.read(f"select distinct machine from {LINES}")["machine"]
    with store.aside(ASIDE):
        _show_events(store, dict.fromkeys(machines, first_at), "and event <> 'alive'")
        store.run(
            f"""
            insert into main.core_word_rows
            select * replace (event_no + (select count(*) from main.core_word_rows) as event_no)
            from ({model.sql}) as words
            """
        )


def _renew_spans(store: Store, model: Model, touched: Touched) -> None:
    """Spans that end before a machine's first instant touched stand for the lines in them; later lines join them."""
    since = touched.since | dict.fromkeys(touched.habits, FIRST)
    if not since:
        return
    with store.aside(ASIDE):
        store.write("touched", pl.DataFrame(list(since.items()), schema=CUTS, orient="row"))
        cuts = store.read(
            """
            select t.machine, min(least(t.from_at_utc, coalesce(s.first_at_utc, t.from_at_utc))) as from_at_utc
            from touched as t
            left join main.core_heard_spans as s on t.machine = s.machine and s.last_at_utc >= t.from_at_utc
            group by t.machine
            """
        )
        _show_events(store, dict(cuts.iter_rows()), "")
        stretches = read_model(sql_folder() / "core" / f"{STRETCHES}.sql")
        store.run(
            f"""
            create table {STRETCHES} as
            select s.* from main.core_heard_spans as s
            inner join cuts as c on s.machine = c.machine and s.last_at_utc < c.from_at_utc
            union all by name
            select * from ({stretches.sql}) as fresh
            """
        )
        store.run("delete from main.core_heard_spans where machine in (select machine from touched)")
        store.run(f"insert into main.core_heard_spans select * from ({model.sql}) as spans")


def _show_events(store: Store, since: dict[str, object], narrowed: str) -> None:
    """Have ``core_events`` hold, for the machines of ``since`` alone, the lines from that instant on."""
    store.write("cuts", pl.DataFrame(list(since.items()), schema=CUTS, orient="row"))
    # A stamp that is not corrected is the instant itself, so that a stamp before the first cut needs no look.
    corrected = store.read("select distinct machine from raw_clock_segments where is_corrected")["machine"].to_list()
    least = store.value("select min(from_at_utc) from cuts where machine not in (select unnest(?))", [corrected])
    store.run(
        f"""
        create table {EVENTS} as
        select e.* from main.{EVENTS} as e
        inner join cuts as c on e.machine = c.machine and e.at_utc >= c.from_at_utc
        where (e.stamped_at_utc >= ? or e.machine in (select unnest(?))) {narrowed}
        """,
        [least or FIRST, corrected],
    )


RENEWALS: dict[str, Callable[[Store, Model, Touched], None]] = {
    "core_word_rows": _renew_words,
    "core_heard_spans": _renew_spans,
}

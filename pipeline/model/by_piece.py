"""Build what is worked out piece by piece of air time: all pieces in turns, or those of which any input differs.

A turn is some hundreds of pieces in order of time. What the machines did is shown to it for its own hours only, so that
the work grows with the record and not with its square.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from pipeline.model.take_numbers import TAKE, last_takes, renumber
from pipeline.sql_files import Model
from pipeline.store import Store

RENEWED = "by piece"
ASIDE = "renewing"
A_TURN = 1000  # pieces
# What the pieces read and is made as a whole: kept, to be held against what comes of it.
WATCHED = (
    "core_pieces",
    "core_takes",
    "core_last_takes",
    "core_air_booked",
    "core_members",
    "core_pair_states",
    "core_not_air",
    "core_as_of",
)
MOMENT = "machine, at_utc, next_at_utc, heard_until_utc, is_rolling"
MEMBER = "channel, transmission, machine, started_at_utc, ended_at_utc"
FIRST, NEVER = "timestamp '0001-01-01'", "timestamp '9999-12-31'"
FIRST_WORDS = "select machine, min(first_at_utc) as at_utc from main.core_heard_spans group by machine"
PIECES = """
    create table turn_pieces as
    select *, (row_number() over (order by started_at_utc, channel) - 1) // {turn} as turn_no
    from main.core_pieces as p {narrowed}
"""
# Of the machines and the selector a turn sees what reaches into its hours.
SEEN = {
    "core_pieces": "select * exclude (turn_no) from turn_pieces where turn_no = {turn_no}",
    "core_machine_moments": """
        select * from main.core_machine_moments
        where at_utc < {until} and (next_at_utc is null or next_at_utc > {since})
    """,
    "core_machine_states": """
        select * from main.core_machine_states
        where started_at_utc < {until} and (ended_at_utc is null or ended_at_utc > {since})
    """,
    "core_pair_states": """
        select * from main.core_pair_states
        where started_at_utc < {until} and (ended_at_utc is null or ended_at_utc > {since})
    """,
    "core_takes": "select * from main.core_takes where at_utc >= {since} and at_utc < {until}",
}
HOURS = """
    select min(window_started_at_utc), max(ended_at_utc) from turn_pieces where turn_no = ?
"""


def build(store: Store, models: Sequence[Model], told: Callable[[str], None]) -> None:
    """Make the tables of ``models`` anew from every piece."""
    if store.value("select count(*) from core_pieces") <= A_TURN:
        for model in models:
            told(model.name)
            store.build(model.name, model.sql)
        return
    with store.aside(ASIDE):
        store.run(PIECES.format(turn=A_TURN, narrowed=""))
        _take_turns(store, models, told, is_new=True)


def renew(store: Store, models: Sequence[Model], told: Callable[[str], None], *, before: str) -> None:
    """Make the rows anew of the pieces of which anything that ``models`` read differs from ``before``."""
    with store.aside(ASIDE):
        store.run(f"create table touched_pieces as {touched_pieces(before)}")
        keys = "select channel, started_at_utc from"
        store.run(f"insert into touched_pieces {keys} {before}.core_pieces except {keys} main.core_pieces")
        of_piece = "x.channel = k.channel and x.piece_started_at_utc = k.started_at_utc"
        for model in models:
            store.run(
                f"delete from main.{model.name} as x where exists (select 1 from touched_pieces as k where {of_piece})"
            )
        renumber(store, before)
        narrowed = """
            where exists (
                select 1 from touched_pieces as k where p.channel = k.channel and p.started_at_utc = k.started_at_utc
            )
        """
        store.run(PIECES.format(turn=A_TURN, narrowed=narrowed))
        _take_turns(store, models, told, is_new=False)


def _take_turns(store: Store, models: Sequence[Model], told: Callable[[str], None], *, is_new: bool) -> None:
    turns = store.value("select coalesce(max(turn_no), -1) + 1 from turn_pieces")
    for turn_no in range(max(turns, 1) if is_new else turns):
        _show(store, turn_no)
        for model in models:
            if turn_no == 0:
                told(model.name)
            store.run(f"create or replace table {model.name} as {model.sql}")
            if is_new and turn_no == 0:
                store.run(f"create or replace table main.{model.name} as select * from {model.name}")
            else:
                store.run(f"insert into main.{model.name} select * from {model.name}")


def _show(store: Store, turn_no: int) -> None:
    """Have the inputs of the models hold what the turn's pieces need."""
    since, until = store.read(HOURS, [turn_no]).row(0)
    hours = {
        "turn_no": turn_no,
        "since": "null" if since is None else f"timestamp '{since}'",
        "until": "null" if until is None else f"timestamp '{until}'",
    }
    for table, select in SEEN.items():
        store.run(f"create or replace table {table} as {select.format(**hours)}")


def keep_before(store: Store, before: str) -> None:
    """Keep, in the schema ``before``, what the pieces were made of, but for what `by_machine` keeps there."""
    for table in WATCHED:
        store.run(f"create table {before}.{table} as select * from main.{table}")
    store.run(f"create table {before}.first_words as {FIRST_WORDS}")


def touched_pieces(before: str) -> str:
    """The select of the pieces of which any input differs from the schema ``before``: channel, started_at_utc.

    By a machine only those pieces are touched that it is of, or was.
    """
    return f"""
    with
    pieces as (select * from main.core_pieces),
    present as (
        select p.*, m.machine
        from pieces as p
        inner join main.core_members as m on p.channel = m.channel and p.transmission = m.transmission
        union
        select p.*, m.machine
        from pieces as p
        inner join main.core_piece_machines as m on p.channel = m.channel and p.started_at_utc = m.piece_started_at_utc
    ),
    moments as ({_differing(before, MOMENT, "core_machine_moments")}),
    states as ({_changed_times(before, "machine, state", "core_machine_states")}),
    steps as ({_changed_times(before, "machine_a, machine_b, is_in_step", "core_pair_states")}),
    machine_times as (
        select machine, at_utc as started_at_utc, coalesce(next_at_utc, {NEVER}) as ended_at_utc from moments
        union all
        select machine, started_at_utc, ended_at_utc from states
        union all
        select machine_a, started_at_utc, ended_at_utc from steps
        union all
        select machine, {FIRST}, at_utc from ({_differing(before, "machine, at_utc", "first_words")})
    ),
    by_transmission as (
        select channel, transmission from ({_differing(before, MEMBER, "core_members")})
        union
        select channel, transmission from ({_differing(before, "*", "core_air_booked")})
    ),
    takes as ({_differing(before, TAKE, "core_takes")}),
    not_air as ({_differing(before, "*", "core_not_air")})
    select channel, started_at_utc from ({_differing(before, "*", "core_pieces")})
    union
    select channel, piece_started_at_utc from ({_either(last_takes(before), last_takes("main"))})
    union
    select p.channel, p.started_at_utc
    from pieces as p
    inner join by_transmission as t on p.channel = t.channel and p.transmission = t.transmission
    union
    select p.channel, p.started_at_utc
    from pieces as p
    inner join takes as t on p.channel = t.channel and t.at_utc >= p.started_at_utc and t.at_utc < p.ended_at_utc
    union
    select p.channel, p.started_at_utc
    from pieces as p
    inner join not_air as n
        on p.channel = n.channel and n.started_at_utc < p.ended_at_utc and n.ended_at_utc > p.started_at_utc
    union
    select p.channel, p.started_at_utc
    from present as p
    inner join machine_times as m
        on p.machine = m.machine and m.started_at_utc <= p.ended_at_utc and m.ended_at_utc >= p.window_started_at_utc
    """


def _differing(before: str, columns: str, table: str) -> str:
    """Rows of ``columns`` that stand on one side only, before or now."""
    return _either(f"select {columns} from {before}.{table}", f"select {columns} from {_now(before, table)}")


def _either(was: str, now: str) -> str:
    """Rows of one of two selects alone."""
    return f"({was} except {now}) union all ({now} except {was})"


def _changed_times(before: str, keys: str, table: str) -> str:
    """The keys of spans that differ and when: where only the end of one does, from the earlier of both ends on."""
    names = ["started_at_utc", *keys.split(", ")]
    joined = " and ".join(f"w.{name} is not distinct from n.{name}" for name in names)
    own = ", ".join(f"coalesce(w.{name}, n.{name}) as {name}" for name in names[1:])
    return f"""
        select
            {own},
            case
                when w.until_utc is null or n.until_utc is null then coalesce(w.started_at_utc, n.started_at_utc)
                else least(w.until_utc, n.until_utc)
            end as started_at_utc,
            greatest(coalesce(w.until_utc, {FIRST}), coalesce(n.until_utc, {FIRST})) as ended_at_utc
        from (select *, coalesce(ended_at_utc, {NEVER}) as until_utc from {before}.{table}) as w
        full outer join (
            select *, coalesce(ended_at_utc, {NEVER}) as until_utc from {_now(before, table)}
        ) as n on {joined}
        where w.until_utc is distinct from n.until_utc
    """


def _now(before: str, table: str) -> str:
    """``table`` as it is now, as far as it was kept: of what goes by machine, from its restart on."""
    if table == "first_words":
        return f"({FIRST_WORDS})"
    since = {"core_machine_moments": "at_utc", "core_machine_states": "started_at_utc"}.get(table)
    if since is None:
        return f"main.{table}"
    return f"""(
        select x.* from main.{table} as x
        inner join {before}.restarts as r on x.machine = r.machine and x.{since} >= r.from_at_utc
    )"""

"""Takes are numbered by channel and time, so that one that is new moves the numbers of many that are as they were.

Held against before, a take is known by its row, and its number follows.
"""

from __future__ import annotations

from pipeline.store import Store

# Of equal stamps on a channel the order counts, which is all that the pieces ask of the numbers.
TAKE = """
    channel, at_utc, from_machine, to_machine, reason, taken_by, file, line,
    row_number() over (partition by channel, at_utc order by take_no) as tie_no
"""
RENUMBERED = """
    create table renumbered as
    select w.take_no as was_no, n.take_no
    from {before}.core_takes as w
    inner join main.core_takes as n on w.file = n.file and w.line = n.line
    where w.take_no <> n.take_no
"""
NUMBERS = ("take_no", "put_there_by")  # of core_feed, which alone of the tables by piece tells takes by their numbers
UPDATE = "update main.core_feed as f set {number} = r.take_no from renumbered as r where f.{number} = r.was_no"


def last_takes(schema: str) -> str:
    """The select of the last take before each piece, known by its row."""
    return f"""
        select l.channel, l.piece_started_at_utc, l.to_machine, l.is_fresh, l.is_fitting, t.file, t.line
        from {schema}.core_last_takes as l
        inner join {schema}.core_takes as t on l.take_no = t.take_no
    """


def renumber(store: Store, before: str) -> None:
    """Give rows of ``core_feed`` that stay as they were the numbers that their takes have now."""
    store.run(RENUMBERED.format(before=before))
    if store.value("select count(*) from renumbered"):
        for number in NUMBERS:
            store.run(UPDATE.format(number=number))

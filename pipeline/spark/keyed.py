"""Works a recursion `using key` out in rounds: Spark knows no recursion that replaces rows.

A round reads the rows that the last one added or changed, and all rows so far. What it gives replaces the rows of the
same key; the rounds end when one gives nothing. The rows are kept after each, so that no plan grows with the rounds.
"""

from __future__ import annotations

from typing import Any

from pipeline.spark.dialect import Rounds


def go_round(session: Any, rounds: Rounds) -> None:
    """Leave the result as the view ``rounds.view``."""
    for name, select in rounds.feeds:
        _kept(session.sql(select), name)
    last = _kept(session.sql(rounds.anchor), f"{rounds.view}_last")
    everything = _kept(last, f"{rounds.view}_all")
    while True:
        last = _kept(session.sql(rounds.step), f"{rounds.view}_last")
        if last.isEmpty():
            break
        replaced = everything.join(last, on=list(rounds.key), how="left_anti").select(*everything.columns)
        everything = _kept(replaced.unionByName(last), f"{rounds.view}_all")
    everything.createOrReplaceTempView(rounds.view)


def _kept(frame: Any, name: str) -> Any:
    """The frame worked out and cut off from how, readable as ``name``."""
    done = frame.localCheckpoint(eager=True)
    done.createOrReplaceTempView(name)
    return done

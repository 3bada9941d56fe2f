"""Writes a select of sql/ for Spark.

A recursion `using key` has no counterpart there. It is taken apart into what feeds it, how it begins and what one round
adds; keyed.py goes through the rounds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from pipeline.errors import EngineError
from pipeline.spark.expansions import expand
from pipeline.spark.subset import read_tree, refusals


@dataclass(frozen=True)
class Rounds:
    """A recursion with a key: views to make first (name and select), its beginning, and one round.

    ``step`` reads the rows of the round before as ``<view>_last`` and all rows so far as ``<view>_all``.
    """

    view: str
    key: tuple[str, ...]
    feeds: tuple[tuple[str, str], ...]
    anchor: str
    step: str


@dataclass(frozen=True)
class Script:
    """What builds one table on Spark: the rounds where it needs any, then one select."""

    select: str
    rounds: Rounds | None = None


def write_script(name: str, sql: str) -> Script:
    """The select ``sql`` of the model ``name`` for Spark.

    Raises:
        EngineError: it holds what does not carry over.
    """
    if reasons := refusals(sql):
        raise EngineError(f"{name}.sql cannot run on Spark. {reasons[0]} See docs/spark.md for what carries over.")
    tree = expand(read_tree(sql))
    found = tree.args.get("with_")
    if found is None or not found.args.get("recursive"):
        return Script(_written(tree))
    return _taken_apart(name, tree, found)


def _written(tree: Any) -> str:
    return str(tree.sql("spark"))


def _taken_apart(name: str, tree: Any, found: Any) -> Script:
    (keyed,) = [each for each in found.expressions if each.args.get("key_expressions")]
    before = found.expressions[: found.expressions.index(keyed)]
    view = f"{name}__{keyed.alias}"
    columns = tuple(each.name for each in keyed.args["alias"].columns)
    halves = keyed.this.left, keyed.this.right
    named = {table.name for half in halves for table in _tables(half)}
    feeds = {each.alias: f"{name}__{each.alias}" for each in before if each.alias in named}
    selects = tuple((feeds[each.alias], _select_of(before, each.alias)) for each in before if each.alias in feeds)
    rounds = Rounds(
        view=view,
        key=tuple(each.name for each in keyed.args["key_expressions"]),
        feeds=selects,
        anchor=_round(halves[0], feeds, columns),
        step=_round(
            halves[1], feeds | {keyed.alias: f"{view}_last", f"recurring.{keyed.alias}": f"{view}_all"}, columns
        ),
    )
    found.set("expressions", [each for each in found.expressions if each is not keyed])
    found.set("recursive", False)
    _renamed(tree, {keyed.alias: view})
    return Script(_written(tree), rounds)


def _tables(tree: Any) -> list[Any]:
    from sqlglot import exp

    return list(tree.find_all(exp.Table))


def _renamed(tree: Any, names: dict[str, str]) -> Any:
    from sqlglot import exp

    for table in _tables(tree):
        full = f"{table.db}.{table.name}" if table.db else table.name
        if full in names:
            table.replace(exp.to_table(names[full]).as_(table.alias or table.name, table=True))
    return tree


def _select_of(before: list[Any], name: str) -> str:
    steps = ", ".join(f"{each.alias} AS ({_written(each.this)})" for each in before)
    return f"WITH {steps} SELECT * FROM {name}"


def _round(half: Any, names: dict[str, str], columns: tuple[str, ...]) -> str:
    select = half.this if type(half).__name__ == "Subquery" else half
    return f"SELECT * FROM ({_written(_renamed(select.copy(), names))}) AS found({', '.join(columns)})"

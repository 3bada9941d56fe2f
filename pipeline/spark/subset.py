"""What the models may be written in: the part of the database's SQL that is the same, or made the same, on Spark.

A list of what is allowed rather than of what is not: a construct nobody has tried is refused until somebody has.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from pipeline.spark.patterns import java_pattern

# As sqlglot names them. Clauses and names, then operators, then functions that mean the same on both engines or are
# written out in expansions.py.
CLAUSES = (
    "Select Star From With CTE Table TableAlias Identifier Column Alias Where Join Group Having Order Ordered Window "
    "WindowSpec Subquery Union Except Intersect Distinct Filter IgnoreNulls Case If Literal Null Boolean Paren Tuple "
    "Var Interval Cast DataType DataTypeParam Exists In Limit Not Qualify WithinGroup Array"
)
OPERATORS = "And Or EQ NEQ GT GTE LT LTE Is Between Like Add Sub Mul Div IntDiv Mod Neg DPipe NullSafeEQ NullSafeNEQ"
FUNCTIONS = (
    "Sum Min Max Count CountIf LogicalOr LogicalAnd AnyValue ArgMin ArgMax GroupConcat RowNumber Rank DenseRank Lag "
    "Lead FirstValue LastValue Coalesce Nullif Greatest Least Abs Round Sign DateDiff TimestampTrunc TimeToStr "
    "UnixToTime Lower Trim Left Length RegexpReplace RegexpLike Explode GenerateSeries"
)
ALLOWED = frozenset(f"{CLAUSES} {OPERATORS} {FUNCTIONS}".split())
NAMED = frozenset({"to_microseconds", "epoch_us"})  # functions that sqlglot knows by name only
WHOLE = frozenset({"BIGINT", "INT", "SMALLINT", "TINYINT"})
SETTLED = frozenset({"Null", "Literal", "Round", "Sum", "Count", "RowNumber", "DateDiff", "Boolean"})  # whole numbers
Rule = Callable[[Any], Iterator[str]]


def read_tree(sql: str) -> Any:
    """The select as sqlglot's tree, read in the database's dialect."""
    from sqlglot import parse_one

    return parse_one(sql, dialect="duckdb")


def refusals(sql: str) -> tuple[str, ...]:
    """Why the select cannot be carried over, a sentence each; none where it can. Needs no Java."""
    return tuple(dict.fromkeys(reason for node in read_tree(sql).walk() for reason in _refused(node)))


def _refused(node: Any) -> Iterator[str]:
    kind = type(node).__name__
    if kind == "Anonymous":
        if node.name.lower() not in NAMED:
            yield f"{node.name}() is not known to carry over."
    elif kind not in ALLOWED:
        yield f'"{node.sql("duckdb")[:60]}" ({kind}) is not known to carry over.'
    elif rule := RULES.get(kind):
        yield from rule(node)


def _join(node: Any) -> Iterator[str]:
    if node.args.get("method"):
        yield f"{node.args['method']} join is not known there: use a window over both tables."
    if node.args.get("kind") in ("SEMI", "ANTI", "POSITIONAL"):
        yield f"{node.args['kind']} join: write exists or not exists."


def _date_diff(node: Any) -> Iterator[str]:
    unit = str(node.args.get("unit") or "").lower()
    if unit != "microsecond":
        yield f"date_diff('{unit}') counts boundaries here and elapsed time there: use 'microsecond'."


def _cast(node: Any) -> Iterator[str]:
    kind = node.to.this.name
    if kind in WHOLE and not _is_whole(node.this):
        yield f'"{node.sql("duckdb")[:60]}" rounds here and cuts off there: round() inside.'
    if kind == "BOOLEAN" and type(node.this).__name__ != "Null":
        yield "Only null is cast to boolean: write a comparison."


def _is_whole(node: Any) -> bool:
    kind = type(node).__name__
    if kind in ("Coalesce", "Paren", "Filter", "Window", "Case"):
        return all(_is_whole(each) for each in _values(node))
    is_count = kind == "Column" and node.name.endswith(("_count", "_no", "_us", "line"))
    return kind in SETTLED or is_count


def _values(node: Any) -> list[Any]:
    if type(node).__name__ == "Case":
        default = node.args.get("default")
        return [each.args["true"] for each in node.args["ifs"]] + ([default] if default else [])
    return [node.this, *(node.expressions if type(node).__name__ == "Coalesce" else [])]


def _round(node: Any) -> Iterator[str]:
    if node.args.get("decimals"):
        yield "round() to decimals goes by the binary number here and by its digits there: cast to a decimal."


def _like(node: Any) -> Iterator[str]:
    if type(node.expression).__name__ != "Literal" or "\\" in node.expression.name:
        yield "like wants a literal without a backslash, which is an escape there."


def _pattern(node: Any) -> Iterator[str]:
    pattern, replacement = node.expression, node.args.get("replacement")
    if type(pattern).__name__ != "Literal":
        yield "A regular expression has to be a literal."
        return
    try:
        java_pattern(pattern.name)
    except ValueError as error:
        yield f"The regular expression {pattern.name} has {error}."
    if replacement is not None and (type(replacement).__name__ != "Literal" or set("\\$") & set(replacement.name)):
        yield "The replacement has to be a literal without \\ and $."
    if (node.args.get("modifiers") or node.args.get("flag")) and str(node.args.get("modifiers", "'g'")) != "'g'":
        yield "A regular expression takes no option but g."


def _ordered_text(node: Any) -> Iterator[str]:
    if not node.find(_class("Order")) and type(node.parent).__name__ != "WithinGroup":
        yield "string_agg needs an order by, or the order is anything."
    select = node.find_ancestor(_class("Select"))
    if select and len([each for each in select.expressions for _ in each.find_all(_class("Distinct"))]) > 1:
        yield "string_agg(distinct) beside another distinct fails on Spark 4.1: count the other in a step of its own."


def _filtered(node: Any) -> Iterator[str]:
    if type(node.this).__name__ in ("ArgMin", "ArgMax"):
        yield "arg_min and arg_max take no filter: put a case inside."


def _argument(node: Any) -> Iterator[str]:
    if node.args.get("count"):
        yield "arg_min and arg_max give one value, not a list."


def _unnest(node: Any) -> Iterator[str]:
    parent = node.parent.parent if type(node.parent).__name__ == "Alias" else node.parent
    if type(parent).__name__ != "Select" or len([*parent.find_all(type(node))]) > 1:
        yield "unnest stands once in a select, as a column of its own."
    if type(node.this).__name__ not in ("Array", "GenerateSeries"):
        yield "unnest takes a written list or generate_series."


def _list(node: Any) -> Iterator[str]:
    if type(node.parent).__name__ != "Explode":
        yield "A list stands only inside unnest."


def _trim(node: Any) -> Iterator[str]:
    if node.args.get("expression") or node.args.get("position"):
        yield "trim takes one text and both ends."


def _with(node: Any) -> Iterator[str]:
    keyed = [each for each in node.expressions if each.args.get("key_expressions")]
    if node.args.get("recursive") and len(keyed) != 1:
        yield "recursion: one step with using key (worked out in rounds), and no other."


def _union(node: Any) -> Iterator[str]:
    if node.args.get("by_name"):
        yield "union by name is not known there: list the columns in one order."


def _interval(node: Any) -> Iterator[str]:
    if type(node.this).__name__ != "Literal":
        yield "An interval of a column: use to_microseconds."
    elif str(node.args.get("unit") or "").upper().rstrip("S") in ("MONTH", "YEAR", "QUARTER"):
        yield "An interval of months or years is not exact time."


def _class(name: str) -> Any:
    from sqlglot import exp

    return getattr(exp, name)


RULES: dict[str, Rule] = {
    "Join": _join,
    "DateDiff": _date_diff,
    "Cast": _cast,
    "Round": _round,
    "Like": _like,
    "RegexpReplace": _pattern,
    "RegexpLike": _pattern,
    "GroupConcat": _ordered_text,
    "Filter": _filtered,
    "ArgMin": _argument,
    "ArgMax": _argument,
    "Explode": _unnest,
    "Array": _list,
    "GenerateSeries": _list,
    "Trim": _trim,
    "With": _with,
    "Interval": _interval,
    "Union": _union,
}

"""Writes out what Spark does not know or does otherwise, so that a select means there what it means in the database.

Each function takes a node of sqlglot's tree whose parts are written out already and gives the text for Spark.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pipeline.spark.patterns import java_pattern

MICROSECOND = "INTERVAL '0.000001' SECOND"
BASE = "CAST('1970-01-01 00:00:00' AS TIMESTAMP_NTZ)"
# Blank in Unicode's sense at both ends; Spark's own trim takes the space alone.
BLANKS = r"^\\p{Zs}+|\\p{Zs}+\\z"
# Java writes 1.0E7 where the database writes 10000000.0, and 1.0E-5 where it writes 1e-05.
PLAIN = "REGEXP_REPLACE(CAST(CAST({text} AS DECIMAL(38, 20)) AS STRING), '([0-9])0+\\\\z', '$1')"
SCIENTIFIC = (
    "REGEXP_REPLACE(REGEXP_REPLACE(REGEXP_REPLACE({text}, '(\\\\.0)?E([0-9])', 'e+$2'), '(\\\\.0)?E-', 'e-'),"
    " 'e([+-])([0-9])\\\\z', 'e$10$2')"
)
DOUBLE_TEXT = (
    "CASE WHEN TYPEOF({x}) <> 'double' OR NOT CONTAINS({text}, 'E') THEN {text}"
    " WHEN ABS(TRY_CAST({text} AS DOUBLE)) >= CAST(0.0001 AS DOUBLE)"
    " AND ABS(TRY_CAST({text} AS DOUBLE)) < CAST(10000000000000000 AS DOUBLE)"
    f" THEN {PLAIN.replace('CAST({text} AS DECIMAL', 'TRY_CAST({text} AS DECIMAL')}"
    f" ELSE {SCIENTIFIC} END"
)


def expand(tree: Any) -> Any:
    """The tree with every node written out that has to be; it is changed in place."""
    nodes = list(tree.walk())
    for node in nodes:
        node.meta["is_exact"] = _kind(node) == "Cast" and _is_exact(node.this)
    for node in reversed(nodes):  # parts before what they are part of
        if (write := EXPANSIONS.get(_kind(node))) and (text := write(node)):
            from sqlglot import parse_one

            node.replace(parse_one(text, dialect="spark"))
    return tree


def _kind(node: Any) -> str:
    name = type(node).__name__
    return str(node.name).lower() if name == "Anonymous" else name


def _is_exact(node: Any) -> bool:
    """Whether it is plain before anything is written out that this is no double, so that its text needs no care."""
    is_instant = _kind(node) == "Column" and node.name.endswith("_at_utc")
    return _kind(node) in ("Null", "Cast") or is_instant


def _text(node: Any) -> str:
    return str(node.sql("spark"))


def _div(node: Any) -> str:
    """A quotient is a double in the database, whatever is divided."""
    return f"(CAST({_text(node.this)} AS DOUBLE) / CAST({_text(node.expression)} AS DOUBLE))"


def _to_microseconds(node: Any) -> str:
    return f"({MICROSECOND} * ({_text(node.expressions[0])}))"


def _epoch_us(node: Any) -> str:
    return f"DATEDIFF(MICROSECOND, {BASE}, {_text(node.expressions[0])})"


def _make_timestamp(node: Any) -> str:
    return f"({BASE} + {MICROSECOND} * ({_text(node.this)}))"


def _date_trunc(node: Any) -> str:
    """Spark gives an instant with a zone; the session's zone is UTC, so that taking it off changes nothing."""
    return f"CAST(DATE_TRUNC('{node.args['unit'].name}', {_text(node.this)}) AS TIMESTAMP_NTZ)"


def _series(node: Any) -> str:
    first, last = _text(node.args["start"]), _text(node.args["end"])
    return f"CASE WHEN {first} <= {last} THEN SEQUENCE({first}, {last}, {_text(node.args['step'])}) END"


def _best(name: str) -> Callable[[Any], str]:
    """Rows whose value is missing do not count in the database; in Spark the best row's missing value is the answer."""

    def write(node: Any) -> str:
        value = _text(node.this)
        return f"{name}({value}, {_key(node.expression)}) FILTER(WHERE NOT {value} IS NULL)"

    return write


def _key(node: Any) -> str:
    """What rows are compared by; in a tuple a missing part comes last, as in the database, and not first."""
    if type(node).__name__ != "Tuple":
        return _text(node)
    return f"STRUCT({', '.join(f'{_text(each)} IS NULL, {_text(each)}' for each in node.expressions)})"


def _lower(node: Any) -> str:
    """Letter by letter, as in the database: Java minds a sigma's neighbours and makes two letters of a dotted I."""
    return f"LOWER(TRANSLATE({_text(node.this)}, 'İΣ', 'iσ'))"


def _trim(node: Any) -> str:
    return f"REGEXP_REPLACE({_text(node.this)}, '{BLANKS}', '')"


def _replace(node: Any) -> str:
    pattern, replacement = java_pattern(node.expression.name), node.args["replacement"].name
    if node.args.get("modifiers") is None:  # the first place alone
        pattern, replacement = f"(?s)^(.*?)(?:{pattern})", f"$1{replacement}"
    return f"REGEXP_REPLACE({_text(node.this)}, {_literal(pattern)}, {_literal(replacement)})"


def _matches(node: Any) -> str:
    return f"({_text(node.this)} RLIKE {_literal(java_pattern(node.expression.name))})"


def _literal(text: str) -> str:
    from sqlglot import exp

    return str(exp.Literal.string(text).sql("spark"))


def _cast(node: Any) -> str:
    inner, kind = _text(node.this), node.to.this.name
    if kind in ("TEXT", "VARCHAR") and not node.meta["is_exact"]:
        return f"({DOUBLE_TEXT.format(x=inner, text=f'CAST({inner} AS STRING)')})"
    if kind == "DECIMAL" and len(node.to.expressions) == 2:
        return _decimal(inner, *(int(each.name) for each in node.to.expressions))
    return ""


def _decimal(inner: str, precision: int, scale: int) -> str:
    """The database multiplies a double and rounds the product; Spark rounds the digits it would print."""
    kind = f"DECIMAL({precision}, {scale})"
    product = f"ROUND(CAST({inner} AS DOUBLE) * CAST({10**scale} AS DOUBLE))"
    unit = f"CAST({10.0**-scale:.{scale}f} AS DECIMAL({scale + 1}, {scale}))"
    rounded = f"CAST(CAST({product} AS DECIMAL(20, 0)) * {unit} AS {kind})"
    return f"CASE WHEN TYPEOF({inner}) = 'double' THEN {rounded} ELSE CAST({inner} AS {kind}) END"


EXPANSIONS: dict[str, Callable[[Any], str]] = {
    "Div": _div,
    "to_microseconds": _to_microseconds,
    "epoch_us": _epoch_us,
    "UnixToTime": _make_timestamp,
    "TimestampTrunc": _date_trunc,
    "GenerateSeries": _series,
    "ArgMin": _best("MIN_BY"),
    "ArgMax": _best("MAX_BY"),
    "Lower": _lower,
    "Trim": _trim,
    "RegexpReplace": _replace,
    "RegexpLike": _matches,
    "Cast": _cast,
}

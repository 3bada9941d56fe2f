"""Reads the structured data of RFC 5424 section 6.3 into columns: one a parameter, named by element and parameter.

Nearly all lines of a sender have structured data of the same shape, that is, the same names in the same order. So the
names are read once a shape, and the values of all its lines at once. Lines of rare shapes are cut into tokens.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import polars as pl

VALUE = r'"(?:[^"\\]|\\.)*"'
NAME = r'[^\x00-\x20= \]"]+'
ELEMENTS = rf'^(-|(?:\[(?:[^"\]]|{VALUE})*\])+)'
SHAPE = rf'^(?:\[{NAME}(?: +{NAME}=")* *\])+$'
NAMES_OF_SHAPE = rf'{NAME}="|\[{NAME}'
TOKEN = rf"{NAME}={VALUE}|\[{NAME}"
ESCAPED = r'\\(["\\\]])'
BETWEEN = ", "
MOST_SHAPES = 30  # so many are read a shape at a time
MOST_VALUES = 1000
BAD_DATA = (
    'The structured data cannot be read. Expected - or parts such as [vt@32473 tension="0.4"], where a \\ stands '
    'before each ", \\ and ] of a value, then a space and the text.'
)
TOO_MANY = f"The structured data hold {{}} values. Expected at most {MOST_VALUES}."


@dataclass(frozen=True)
class Shape:
    """Structured data with each value as a single quote, and the columns of its values in their order."""

    text: str
    names: tuple[str, ...]


@dataclass(frozen=True)
class Shapes:
    """The shapes of a block, the commonest first."""

    all: tuple[Shape, ...]

    @property
    def names(self) -> set[str]:
        """The columns of all shapes."""
        return {name for shape in self.all for name in shape.names}


def read_shapes(heads: pl.DataFrame) -> tuple[pl.DataFrame, Shapes]:
    """``heads`` with the column ``shape``, and its shapes; ``reason`` says where structured data are not well formed.

    An element without parameters gives no column. White space before a closing bracket, and a closing bracket
    without a backslash inside quotes, are let pass: they leave no doubt about what is meant.
    """
    usable = pl.when(pl.col("reason").is_null()).then(pl.col("data"))
    heads = heads.with_columns(usable.str.replace_all(VALUE, '"').alias("shape"))
    found = heads["shape"].drop_nulls().value_counts(name="count").sort("count", "shape", descending=[True, False])
    if found.is_empty():
        return heads, Shapes(())
    found = _judged(found)
    wrong, good = found.filter(pl.col("wrong").is_not_null()), found.filter(pl.col("wrong").is_null())
    if wrong.height:
        heads = heads.join(wrong.select("shape", "wrong"), on="shape", how="left", maintain_order="left")
        heads = heads.with_columns(pl.coalesce("reason", "wrong").alias("reason")).drop("wrong")
    tokens = good["shape"].str.extract_all(NAMES_OF_SHAPE).to_list()
    return heads, Shapes(tuple(Shape(text, _names(parts)) for text, parts in zip(good["shape"], tokens, strict=True)))


def _judged(shapes: pl.DataFrame) -> pl.DataFrame:
    values = pl.col("shape").str.count_matches('"', literal=True)
    is_well_formed = pl.col("shape").str.contains(SHAPE)
    too_many = pl.when(values > MOST_VALUES).then(pl.format(TOO_MANY, values))
    return shapes.with_columns(pl.when(~is_well_formed).then(pl.lit(BAD_DATA)).otherwise(too_many).alias("wrong"))


def read_values(heads: pl.DataFrame, shapes: Shapes) -> pl.DataFrame:
    """``line`` and a text column a name, for those of ``heads`` that have structured data; unescaped, section 6.3.3.

    A parameter that comes more than once in a line has its values, those that are not empty, joined by a comma.
    """
    filled = heads.filter(pl.col("shape").is_not_null()).select("line", "data", "shape")
    common = shapes.all[:MOST_SHAPES]
    frames = [_of_shape(filled.filter(pl.col("shape") == shape.text), shape.names) for shape in common]
    if len(shapes.all) > len(common):
        frames.append(_of_rare_shapes(filled.filter(~pl.col("shape").is_in([shape.text for shape in common]))))
    nothing = pl.DataFrame(schema={"line": pl.Int64})
    return pl.concat([nothing, *(frame for frame in frames if frame.height)], how="diagonal")


def _names(tokens: Iterable[str]) -> tuple[str, ...]:
    names, element = [], ""
    for token in tokens:
        if token.endswith('="'):
            names.append(f"{element}.{token[:-2]}")
        else:
            element = token[1:]
    return tuple(names)


def _of_shape(filled: pl.DataFrame, names: tuple[str, ...]) -> pl.DataFrame:
    values = filled.select("line", pl.col("data").str.extract_all(VALUE).alias("values"))
    is_escaped = filled["data"].str.contains("\\", literal=True).any()
    places: dict[str, list[pl.Expr]] = {}
    for place, name in enumerate(names):
        value = pl.col("values").list.get(place).str.strip_prefix('"').str.strip_suffix('"')
        places.setdefault(name, []).append(value.str.replace_all(ESCAPED, "${1}") if is_escaped else value)
    return values.select("line", *(_joined(found).alias(name) for name, found in places.items()))


def _joined(values: list[pl.Expr]) -> pl.Expr:
    if len(values) == 1:
        return values[0]
    bare = [value.str.strip_chars() for value in values]
    return pl.concat_str([pl.when(value != "").then(value) for value in bare], separator=BETWEEN, ignore_nulls=True)


def _of_rare_shapes(filled: pl.DataFrame) -> pl.DataFrame:
    """The same for lines of any shape: first a row a parameter, then these spread over columns."""
    token, name = pl.col("token"), pl.col("name")
    rows = filled.select("line", pl.col("data").str.extract_all(TOKEN).alias("token")).explode("token")
    # The first token of a line is an element, so that filling forward never reaches into the next line.
    element = pl.when(~token.str.ends_with('"')).then(token.str.slice(1)).forward_fill()
    rows = rows.with_columns(element.alias("element"), token.str.extract(f'^({NAME})="', 1).alias("name"))
    value = token.str.strip_prefix(name + '="').str.strip_suffix('"').str.replace_all(ESCAPED, "${1}").str.strip_chars()
    rows = rows.drop_nulls("name").select("line", (pl.col("element") + "." + name).alias("name"), value.alias("value"))
    rows = rows.filter(pl.col("value") != "")
    joined = rows.group_by("line", "name", maintain_order=True).agg(pl.col("value").str.join(BETWEEN))
    return joined.pivot(on="name", index="line", values="value")

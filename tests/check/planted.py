"""Tables written as text, so that a test shows the rows it plants. A first line names the columns, then a line a row.

Cells are parted by spaces, ``-`` is no value, ``_`` a space, and ``20:00`` that time on 1 March 2031. A column's type
follows from how its name ends.
"""

from __future__ import annotations

from pipeline.store import Store

DAY = "2031-03-01"
TYPES = {
    "line": "bigint",
    "value": "double",
    "day": "date",
}
ENDINGS = {
    "_utc": "timestamp",
    "_no": "bigint",
    "_count": "bigint",
    "_s": "decimal(18, 6)",
    "_time": "interval",
}


def plant(store: Store, tables: dict[str, str]) -> None:
    """Make each table of ``tables`` in the store from its text."""
    for table, text in tables.items():
        lines = [line.split() for line in text.splitlines() if line.strip()]
        names = lines[0]
        rows = [f"({', '.join(_cell(*pair) for pair in zip(names, cells, strict=True))})" for cells in lines[1:]]
        columns = ", ".join(names)
        if rows:
            store.build(table, f"select * from (values {', '.join(rows)}) as planted({columns})")
        else:
            nothing = ", ".join(f"{_cell(name, '-')} as {name}" for name in names)
            store.build(table, f"select {nothing} where false")


def _cell(name: str, text: str) -> str:
    if text == "-":
        return f"cast(null as {_type(name)})"
    value = text.replace("_", " ")
    if _type(name) == "timestamp" and "T" not in text:
        value = f"{DAY} {text}"
    return f"cast('{value}' as {_type(name)})"


def _type(name: str) -> str:
    if name.startswith("is_"):
        return "boolean"
    return TYPES.get(name) or next((kind for end, kind in ENDINGS.items() if name.endswith(end)), "varchar")

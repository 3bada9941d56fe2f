"""Writes sql/README.md from what the files of sql/ say of themselves; a test holds the page to it.

python tests/sql_readme.py
"""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from pipeline.sql_files import Model, read_model

HEAD = """# Models

One file is one select and makes one table of the same name. They run in the order of what they read; a run that has
something new leaves the rows that making them all anew from `raw_*` would (docs/renewal.md). `core_*` and `metric_*`
tables are what reports, checks and a person's own queries may rely on; `checks` return the rows that break a rule, and
no rows means pass.

Read with any DuckDB client: `select * from core_interruptions`. Times are naive UTC (`_at_utc`), intervals half-open,
durations in seconds (`_s`), shares 0–1. This page is written by `python tests/sql_readme.py`.
"""
ELSEWHERE = {"clean": "measure, render", "core": "measure, render", "metrics": "measure", "checks": "check"}


def page() -> str:
    """The text of sql/README.md."""
    stages = {stage: [read_model(path) for path in sorted((ROOT / "sql" / stage).glob("*.sql"))] for stage in ELSEWHERE}
    readers: dict[str, list[str]] = {}
    for models in stages.values():
        for model in models:
            for table in model.reads:
                readers.setdefault(table, []).append(model.name)
    parts = [HEAD]
    for stage, models in stages.items():
        parts.append(f"\n## {stage}\n\n| model | what | grain | key | read by |\n| --- | --- | --- | --- | --- |\n")
        parts.extend(_line(model, readers.get(model.name, []), ELSEWHERE[stage]) for model in models)
    return "".join(parts)


def _line(model: Model, readers: list[str], elsewhere: str) -> str:
    what = model.sentence.split(". ")[0].rstrip(".")
    models = [name for name in readers if not name.startswith("check_")]
    shown = ", ".join(models) or elsewhere
    return f"| `{model.name}` | {what} | {model.grain} | {', '.join(model.key)} | {shown} |\n"


if __name__ == "__main__":
    (ROOT / "sql" / "README.md").write_text(page(), encoding="utf-8")

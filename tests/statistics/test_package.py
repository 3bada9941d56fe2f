"""The package stands alone: it can be imported without the database, tables or any other part of the pipeline."""

import subprocess
import sys
from pathlib import Path

import pipeline.statistics

ROOT = Path(__file__).parents[2]


def test_everything_promised_is_there_and_documented() -> None:
    for name in pipeline.statistics.__all__:
        assert getattr(pipeline.statistics, name).__doc__, name


def test_import_brings_nothing_but_numpy_and_scipy() -> None:
    code = "import sys, pipeline.statistics; print(*sorted(sys.modules))"
    loaded = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split()
    tops = {name.partition(".")[0] for name in loaded}
    assert not tops & {"duckdb", "polars", "pandas", "altair", "great_expectations", "typer", "jinja2"}
    assert {n for n in loaded if n.startswith("pipeline.") and not n.startswith("pipeline.statistics")} == set()

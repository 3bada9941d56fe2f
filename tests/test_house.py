"""The habits of the house, held by tests: what models say of themselves, names and units, docs against the program."""

from __future__ import annotations

import re
import shutil
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline.measure import measure_site
from pipeline.settings import KNOWN, read_settings
from pipeline.sql_files import Model, read_checks, read_models
from pipeline.store import Store
from tests.finished_room import Finished
from tests.sql_readme import page

ROOT = Path(__file__).resolve().parent.parent
MADE_BY_INGEST = re.compile(r"raw_\w+|site_\w+|source_files")
MADE_BY_MEASURE = re.compile(r"measure_\w+")
NAMED = re.compile(r"\b(?:from|join)\s+((?:raw|site|source|clean|core|metric|measure)_\w+)")
SPANS_OF_TIME = re.compile(r"\w+_time")


def everything() -> list[Model]:
    """Models and checks."""
    return [*read_models(), *read_checks()]


@pytest.fixture(scope="module")
def store(finished: Finished) -> Iterator[Store]:
    """The invented room, loaded, modelled and measured."""
    with Store(finished.database, read_only=True) as opened:
        yield opened


@pytest.mark.parametrize("model", everything(), ids=lambda model: model.name)
def test_a_model_says_what_it_is_and_what_it_truly_reads(model: Model) -> None:
    assert model.sentence.endswith(".")
    assert model.grain
    assert model.key
    assert set(NAMED.findall(model.sql)) == set(model.reads)
    assert model.sql.splitlines()[-1].startswith("select * from ")
    names = {other.name for other in read_models()}
    for table in model.reads:
        assert table in names or MADE_BY_INGEST.fullmatch(table) or MADE_BY_MEASURE.fullmatch(table)


@pytest.mark.parametrize("model", read_models(), ids=lambda model: model.name)
def test_a_key_is_a_key(store: Store, model: Model) -> None:
    key = ", ".join(f'"{name}"' for name in model.key)
    assert store.value(f"select count(*) from {model.name}") == store.value(
        f"select count(*) from (select distinct {key} from {model.name})"
    )


def test_names_carry_their_unit(store: Store) -> None:
    columns = store.read(
        "select table_name, column_name, data_type from information_schema.columns"
        " where table_name similar to '(clean|core|metric)_.*' order by all"
    )
    assert columns.height > 100
    for table, column, kind in columns.rows():
        where = f"{table}.{column} ({kind})"
        if kind.startswith("TIMESTAMP"):
            assert column.endswith("_utc"), where
        elif kind == "INTERVAL":
            assert SPANS_OF_TIME.fullmatch(column), where
        elif kind == "BOOLEAN":
            assert column.startswith(("is_", "was_", "has_", "logs_")), where
        elif kind.startswith(("DECIMAL", "DOUBLE")):
            assert column.endswith(("_s", "_h", "_ppm", "_count")) or column in {"value", "parts_cost"} | {
                "replacement_cost"
            }, where
        if column.endswith("_count"):
            assert kind.startswith(("BIGINT", "HUGEINT", "DECIMAL")), where


def test_a_span_ends_after_it_starts(store: Store) -> None:
    spans = store.read(
        "select table_name from information_schema.columns where column_name in ('started_at_utc', 'ended_at_utc')"
        " and table_name similar to '(core|metric)_.*' group by table_name having count(*) = 2 order by table_name"
    )["table_name"].to_list()
    assert "core_air_spans" in spans
    for table in spans:
        may_be_empty = table in {"core_feed", "core_incidents", "core_found_incidents"} or "recover" in table
        comparison = "<" if may_be_empty else "<="
        bad = store.value(f"select count(*) from {table} where ended_at_utc {comparison} started_at_utc")
        assert bad == 0, table


def test_the_page_of_models_is_up_to_date() -> None:
    assert (ROOT / "sql" / "README.md").read_text(encoding="utf-8") == page(), "run python tests/sql_readme.py"


def test_the_command_and_its_page_agree() -> None:
    from pipeline.cli import app

    told = set(re.findall(r"`airhours (\w+)", (ROOT / "README.md").read_text(encoding="utf-8")))
    assert told == {command.name for command in app.registered_commands}


def test_every_key_of_site_toml_is_defined() -> None:
    text = (ROOT / "docs" / "definitions.md").read_text(encoding="utf-8")
    for key in KNOWN:
        assert f"| {key} |" in text, key


def test_every_key_of_a_feed_table_is_described() -> None:
    from pipeline.ingest.mapping.feed_tables import KEYS, MAPPING_KEYS

    text = (ROOT / "docs" / "inputs.md").read_text(encoding="utf-8")
    cells = " ".join(line.split("|")[1] for line in text.splitlines() if line.startswith("| "))
    for key in KEYS:
        assert f"feeds.{key}" in cells if key in MAPPING_KEYS else key in cells.replace(",", " ").split(), key


def test_every_mess_has_a_test_that_is_there() -> None:
    text = (ROOT / "docs" / "inputs.md").read_text(encoding="utf-8")
    rows = [line.split("|") for line in text.partition("## Every mess")[2].splitlines() if line.startswith("| ")][2:]
    assert len(rows) > 15
    for _, mess, _, proof, _ in rows:
        named = re.findall(r"`(tests/[\w/]+\.py)(?:::(\w+))?`", proof)
        assert named, mess
        for file, test in named:
            assert f"def {test}" in (ROOT / file).read_text(encoding="utf-8"), f"{file}::{test}"


@pytest.mark.parametrize(
    "name", ["README.md", "DEVELOPERS.md", "docs/definitions.md", "docs/inputs.md", "docs/causes.md", "docs/clocks.md"]
)
def test_files_that_the_docs_name_are_there(name: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8")
    told = set(re.findall(r"`((?:pipeline|sql|tests|sample_logs|docs)/[\w./]*)`", text))
    told |= {link for link in re.findall(r"\]\(([\w./]+)\)", text) if "/" in link or link.endswith(".md")}
    assert told
    for path in told:
        beside = (ROOT / name).parent / path
        assert (ROOT / path).exists() or beside.exists(), path


def test_make_targets_that_the_docs_name_are_there() -> None:
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    for name in ("README.md", "DEVELOPERS.md"):
        for target in re.findall(r"^    make (\w+)", (ROOT / name).read_text(encoding="utf-8"), re.MULTILINE):
            assert re.search(rf"^{target}:", makefile, re.MULTILINE), target


@pytest.mark.parametrize("folder", ["measure", "statistics"])
def test_groups_keep_their_order(folder: str) -> None:
    """A sum of floats hangs on the order of its terms, which threads would else share out differently every time."""
    for file in (ROOT / "pipeline" / folder).rglob("*.py"):
        for arguments in re.findall(r"\.group_by\(((?:[^()]|\([^()]*\))*)\)", file.read_text(encoding="utf-8")):
            assert "maintain_order=True" in arguments, (file.name, arguments)


@pytest.mark.slow
@pytest.mark.parametrize("threads", [1, 3, 8])
def test_figures_do_not_hang_on_threads(finished: Finished, tmp_path: Path, threads: int) -> None:
    with Store(Path(shutil.copy(finished.database, tmp_path / "airhours.duckdb"))) as copied:
        copied.run(f"set threads = {threads}")
        measured = measure_site(copied, read_settings(finished.site))
    assert measured == {name: part for name, part in finished.result.figures.items() if name in measured}


@pytest.mark.slow
def test_the_wheel_holds_the_models_and_pages(tmp_path: Path) -> None:
    from hatchling.builders.wheel import WheelBuilder

    (wheel,) = WheelBuilder(str(ROOT)).build(directory=str(tmp_path), versions=["standard"])
    names = set(zipfile.ZipFile(wheel).namelist())
    for path in (ROOT / "sql").rglob("*.sql"):
        assert f"pipeline/sql/{path.relative_to(ROOT / 'sql').as_posix()}" in names
    for path in (ROOT / "pipeline").rglob("*"):
        if path.suffix in {".py", ".toml", ".j2", ".css", ".txt"}:
            assert path.relative_to(ROOT).as_posix() in names

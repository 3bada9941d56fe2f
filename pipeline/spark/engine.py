"""Builds the tables of sql/ on Spark and brings them into the database, where everything else goes on as before."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from contextlib import contextmanager
from dataclasses import dataclass
from graphlib import TopologicalSorter
from pathlib import Path
from typing import Any

from pipeline.errors import EngineError
from pipeline.settings import Settings
from pipeline.spark.dialect import write_script
from pipeline.spark.exchange import bring_back, keep, show, write_out
from pipeline.spark.keyed import go_round
from pipeline.spark.session import find_builder, open_session
from pipeline.sql_files import Model, read_checks, read_models
from pipeline.store import Store

AT_ONCE = 2  # models planned side by side: while one waits for its rows another is planned


@dataclass(frozen=True)
class Engine:
    """A session of Spark, the work folder it shares with the database, and the models as they were when it opened."""

    session: Any
    folder: Path
    models: tuple[Model, ...]

    def build_models(self, store: Store, report: Callable[[str], None] | None = None) -> tuple[str, ...]:
        """Make every table of sql/ anew from the raw tables; returns their names, each after those it reads.

        Reads and writes what `pipeline.model.build_models` does, and with the same rows. Runs inside the caller's
        transaction.

        Raises:
            EngineError: a model cannot be carried over, or fails on Spark.
        """
        _in_order(self.models, self._build, report)
        for model in self.models:
            bring_back(store, model, self.path(model.name))
        return tuple(model.name for model in self.models)

    def find_rows(self, store: Store) -> Mapping[str, str]:
        """Run every check on Spark; returns for each the select that reads in the database the rows it found.

        What measuring wrote meanwhile is carried over first. The selects can be read while the engine is open.

        Raises:
            EngineError: a check cannot be carried over, or fails on Spark.
        """
        checks = read_checks()
        for table in _inputs(checks) - _inputs(self.models) - {model.name for model in self.models}:
            show(self.session, table, write_out(store, table, self.folder))
        _in_order(checks, self._build)
        columns = "cast(feed as varchar) as feed, cast(file as varchar) as file, cast(line as bigint) as line, what"
        return {
            check.name: f"select {columns} from read_parquet('{self.path(check.name)}/*.parquet')" for check in checks
        }

    def path(self, table: str) -> Path:
        """Where Spark keeps the rows of a table while the engine is open."""
        return self.folder / f"{table}.parquet"

    def _build(self, model: Model) -> None:
        script = write_script(model.name, model.sql)
        try:
            if script.rounds is not None:
                go_round(self.session, script.rounds)
            schema = keep(self.session.sql(script.select), self.path(model.name))
            show(self.session, model.name, self.path(model.name), schema)
        except Exception as error:  # the library wraps whatever Java raised
            told = str(error).strip().splitlines() or [type(error).__name__]
            raise EngineError(f"{model.name}.sql failed on Spark: {told[0][:300]}") from error


@contextmanager
def open_engine(store: Store, settings: Settings) -> Iterator[Engine]:
    """Spark on the site's master, with the raw tables in a work folder that is taken away at the end.

    Raises:
        EngineError: the extra or Java is missing, the folder cannot be written, or Spark does not start.
    """
    find_builder()
    base = settings.spark_folder or None
    try:
        folder = tempfile.TemporaryDirectory(prefix="airhours-spark-", dir=base, ignore_cleanup_errors=True)
    except OSError as error:
        raise EngineError(f'[spark] folder = "{base}" cannot be written: {error.strerror}.') from None
    with folder as name:
        models = read_models()
        tables = sorted(_inputs(models) - {model.name for model in models})
        paths = {table: write_out(store, table, Path(name).absolute()) for table in tables}
        with open_session(settings, sum(_size(path) for path in paths.values())) as session:
            for table, path in paths.items():
                show(session, table, path)
            yield Engine(session, Path(name).absolute(), models)


def _inputs(models: Iterable[Model]) -> set[str]:
    return {table for model in models for table in model.reads}


def _in_order(
    models: Iterable[Model], build: Callable[[Model], None], report: Callable[[str], None] | None = None
) -> None:
    """Build each model once those it reads are built, some at once; the first failure ends it."""
    by_name = {model.name: model for model in models}
    order = TopologicalSorter({name: set(model.reads) & set(by_name) for name, model in by_name.items()})
    order.prepare()
    with ThreadPoolExecutor(AT_ONCE) as pool:
        running: dict[Future[None], str] = {}
        while order.is_active():
            for name in sorted(order.get_ready()):
                if report is not None:
                    report(name)
                running[pool.submit(build, by_name[name])] = name
            for done in wait(running, return_when=FIRST_COMPLETED).done:
                if error := done.exception():
                    pool.shutdown(cancel_futures=True)
                    raise error
                order.done(running.pop(done))


def _size(path: Path) -> int:
    files = path.rglob("*.parquet") if path.is_dir() else [path]
    return sum(file.stat().st_size for file in files)

"""Starts and stops Spark: in this process on the machine's cores, or on the cluster whose master the site names.

Only here is pyspark imported. It needs the optional extra `spark` and a Java runtime; without them the run ends with
one sentence. Nothing is asked of the network: the driver listens on this machine alone unless a cluster is named.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from pipeline.errors import EngineError
from pipeline.settings import Settings

# The same instants and numbers as the database: no zone but UTC, instants without a zone, an overflow is an error.
MEANING = {
    "spark.sql.session.timeZone": "UTC",
    "spark.sql.timestampType": "TIMESTAMP_NTZ",
    "spark.sql.ansi.enabled": "true",
    "spark.sql.caseSensitive": "false",
    "spark.sql.sources.partitionColumnTypeInference.enabled": "false",
    "spark.sql.parquet.inferTimestampNTZ.enabled": "true",
    "spark.sql.parquet.outputTimestampType": "TIMESTAMP_MICROS",
}
QUIET = {
    "spark.ui.enabled": "false",
    "spark.ui.showConsoleProgress": "false",
    "spark.log.structuredLogging.enabled": "false",
    "spark.sql.codegen.logging.maxLines": "0",
}
LOCAL = {"spark.driver.bindAddress": "127.0.0.1", "spark.driver.host": "127.0.0.1"}
# Where everything fits into one task, planning and compiling cost more than the rows do.
SMALL = {
    "spark.sql.adaptive.enabled": "false",
    "spark.sql.codegen.wholeStage": "false",
    "spark.sql.codegen.factoryMode": "NO_CODEGEN",
    "spark.sql.shuffle.partitions": "1",
    "spark.default.parallelism": "1",
    "spark.sql.files.maxPartitionBytes": "512m",
}
SMALL_JAVA = "-XX:TieredStopAtLevel=1 -XX:+UseSerialGC"
SMALL_BYTES = 4 << 20  # of raw tables as Parquet: about 300,000 lines
TASK_BYTES = 8 << 20  # of them for one task of a shuffle: about 1 million lines


@contextmanager
def open_session(settings: Settings, raw_bytes: int) -> Iterator[Any]:
    """A session on ``settings.spark_master``, stopped at the end, for models that begin from ``raw_bytes`` of Parquet.

    Raises:
        EngineError: no pyspark, no Java, or the master does not answer.
    """
    builder = find_builder()
    with tempfile.TemporaryDirectory(prefix="airhours-spark-", ignore_cleanup_errors=True) as scratch:
        session = _start(builder, settings.spark_master, scratch, raw_bytes)
        try:
            yield session
        finally:
            session.stop()


def size_options(raw_bytes: int) -> dict[str, str]:
    """What depends on the size: everything in one task where it fits, else tasks of about a million lines."""
    if raw_bytes <= SMALL_BYTES:
        return SMALL
    return {"spark.sql.shuffle.partitions": str(max(2, -(-raw_bytes // TASK_BYTES)))}


def find_builder() -> Any:
    """What a session is begun with.

    Raises:
        EngineError: the extra is not installed, or there is no Java.
    """
    try:
        import sqlglot  # noqa: F401 - asked for here, so that both libraries are missed with one sentence
        from pyspark.sql import SparkSession
    except ImportError:
        raise EngineError(
            'engine = "spark" in site.toml needs the optional extra "spark". Install it with: pip install'
            " 'airhours[spark]'"
        ) from None
    home = os.environ.get("JAVA_HOME")
    if not shutil.which("java") and not (home and (Path(home) / "bin" / "java").exists()):
        raise EngineError(
            'engine = "spark" in site.toml needs Java 17 or newer, and there is no "java" on this machine. Install one,'
            " on Debian: apt install default-jre-headless"
        )
    return SparkSession.builder


def _start(builder: Any, master: str, scratch: str, raw_bytes: int) -> Any:
    is_local = master.startswith("local")
    options = MEANING | QUIET | (LOCAL if is_local else {}) | size_options(raw_bytes)
    options |= {
        "spark.local.dir": scratch,
        "spark.sql.warehouse.dir": f"{scratch}/warehouse",
        "spark.driver.extraJavaOptions": (
            f"-Duser.timezone=UTC -Dderby.system.home={scratch}"
            + (f" {SMALL_JAVA}" if is_local and raw_bytes <= SMALL_BYTES else "")
        ),
    }
    wanted = builder.appName("airhours").master(master)
    for key, value in options.items():
        wanted = wanted.config(key, value)
    try:
        with _noise_in(Path(scratch) / "java.log"):
            session = wanted.getOrCreate()
    except Exception as error:  # the library wraps whatever Java raised
        raise EngineError(f'Spark did not start on "{master}": {_first_line(error)}') from None
    session.sparkContext.setLogLevel("OFF")
    return session


@contextmanager
def _noise_in(file: Path) -> Iterator[None]:
    """What Java says while it starts goes into ``file``: it inherits where this process's errors go, for good."""
    sys.stderr.flush()
    before = os.dup(2)
    with file.open("wb") as target:
        os.dup2(target.fileno(), 2)
    try:
        yield
    finally:
        os.dup2(before, 2)
        os.close(before)


def _first_line(error: Exception) -> str:
    lines = [line.strip() for line in str(error).splitlines() if line.strip()]
    return lines[0][:200] if lines else type(error).__name__

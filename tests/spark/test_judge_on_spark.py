"""The suites put to the judging library's Spark engine: the verdicts that a run has from its frames in memory."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from pipeline.check import judge
from pipeline.check.judge import Expected
from pipeline.check.suites import SqlCheck, TableCheck, read_suites
from pipeline.spark.session import open_session
from pipeline.store import Store
from tests.finished_room import Finished
from tests.spark.rooms import SETTINGS, needs_java

pytestmark = [pytest.mark.slow, needs_java, pytest.mark.timeout(900)]


def test_the_verdicts_are_the_same(finished: Finished, tmp_path: Path) -> None:
    suites = read_suites()
    with Store(finished.database, read_only=True) as store, open_session(SETTINGS, 0) as session:
        kept = {row["check_id"]: row for row in store.read("select * from check_results").iter_rows(named=True)}
        frames = _Frames(session, tmp_path)
        counted = [check for check in suites if isinstance(check, SqlCheck)]
        wide = {check.check_id: _held_against(check, kept[check.check_id]) for check in counted}
        said = frames.judged(pl.DataFrame([wide]), [_limit(check) for check in counted])
        for check in suites:
            if isinstance(check, TableCheck):
                frame = store.read(f"select {', '.join(check.columns)} from {check.table}")
                said |= frames.judged(frame, [Expected(check.check_id, check.expectation, check.arguments)])
        assert said == {check_id: row["is_passed"] for check_id, row in kept.items()}
        # and it can say no: one count over its limit fails, and only that one
        first = counted[0].check_id
        worse = frames.judged(pl.DataFrame([wide | {first: 1e9}]), [_limit(check) for check in counted])
        assert [each for each in worse if worse[each] != said[each]] == ([first] if said[first] else [])


def _held_against(check: SqlCheck, row: dict[str, Any]) -> float:
    share = row["found_count"] / row["of_count"] if row["of_count"] else 0.0
    return float(share if check.is_ratio else row["found_count"])


def _limit(check: SqlCheck) -> Expected:
    bounds = {"column": check.check_id, "min_value": 0, "max_value": check.limit}
    return Expected(check.check_id, "expect_column_values_to_be_between", bounds)


class _Frames:
    def __init__(self, session: Any, folder: Path) -> None:
        self.session, self.folder = session, folder
        self.library = judge._library()
        context = self.library.get_context(mode="ephemeral")
        context.variables.progress_bars = {"globally": False}
        asset = context.data_sources.add_spark("frames").add_dataframe_asset("frame")
        self.batches = asset.add_batch_definition_whole_dataframe("all rows")

    def judged(self, frame: pl.DataFrame, expected: Sequence[Expected]) -> dict[str, bool]:
        path = (
            self.folder / f"frame_{len(list(self.folder.iterdir()))}.parquet"
        )  # the library keeps what it read by path
        frame.write_parquet(path)
        batch = self.batches.get_batch(batch_parameters={"dataframe": self.session.read.parquet(path.as_uri())})
        suite = self.library.ExpectationSuite(
            name="suite", expectations=[judge._expectation(self.library, each) for each in expected]
        )
        answer = batch.validate(suite, result_format={"result_format": "BASIC"})
        for each in answer.results:
            assert not judge._exceptions(each.exception_info), each.exception_info
        return {each.expectation_config.meta["check_id"]: bool(each.success) for each in answer.results}

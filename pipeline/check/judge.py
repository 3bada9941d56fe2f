"""The judge: Great Expectations decides whether a frame keeps to its expectations. Nothing else imports it.

The library takes seconds to import, so that happens only when something is judged. Expectations name columns and use
nothing of one engine alone, so the same ones can be put to the library's other engines.
"""

from __future__ import annotations

import logging
import os
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import polars as pl

from pipeline.errors import undecided_check

JUDGED_BY = "great_expectations"


@dataclass(frozen=True)
class Expected:
    """One expectation, by the library's name for it, on columns of the frame."""

    check_id: str
    expectation: str
    arguments: Mapping[str, Any]


@dataclass(frozen=True)
class Verdict:
    """What the judge said; ``found`` holds, for each row against the rule, the cells that name it by column."""

    check_id: str
    passed: bool
    looked_at_count: int
    found: tuple[Mapping[str, Any], ...]


def judge(
    name: str, frame: pl.DataFrame, expected: Sequence[Expected], *, rows_by: Sequence[str]
) -> tuple[Verdict, ...]:
    """The verdict on each expectation, in the order given; ``frame`` may be empty, which keeps to all of them.

    Missing cells are passed over, except by an expectation about missing cells, and a missing value is equal to a
    missing value in a compound key. ``rows_by`` are the columns that name a row.

    Raises:
        CheckError: an expectation is not known, or could not be worked out, such as on a column that is not there.
    """
    library = _library()
    known = [_expectation(library, each) for each in expected]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        batch = _batch(library, frame)
        answer = batch.validate(
            library.ExpectationSuite(name=name, expectations=known),
            result_format={"result_format": "COMPLETE", "unexpected_index_column_names": list(rows_by)},
        )
    verdicts = {verdict.check_id: verdict for verdict in map(_verdict, answer.results)}
    for each in expected:
        if each.check_id not in verdicts:
            raise undecided_check(each.check_id, "no answer came back.")
    return tuple(verdicts[each.check_id] for each in expected)


def _library() -> Any:
    os.environ["GX_ANALYTICS_ENABLED"] = "false"
    logging.getLogger("great_expectations").setLevel(logging.ERROR)
    import great_expectations  # noqa: PLC0415 - takes seconds

    return great_expectations


def _batch(library: Any, frame: pl.DataFrame) -> Any:
    import pandas  # type: ignore[import-untyped]  # noqa: PLC0415 - comes with the library and is slow to import

    rows = pandas.DataFrame(frame.to_dict(as_series=False), columns=frame.columns)
    return _frames(library).get_batch(batch_parameters={"dataframe": rows})


@cache
def _frames(library: Any) -> Any:
    """What the library takes any frame by; set up once a process: a set-up writes the library's whole state."""
    from great_expectations.data_context.types.base import ProgressBarsConfig  # noqa: PLC0415

    context = library.get_context(mode="ephemeral")
    context.enable_analytics(False)
    context.variables.progress_bars = ProgressBarsConfig(globally=False)
    asset = context.data_sources.add_pandas("frames").add_dataframe_asset("frame")
    return asset.add_batch_definition_whole_dataframe("all rows")


def _expectation(library: Any, expected: Expected) -> Any:
    name = "".join(part.capitalize() for part in expected.expectation.split("_"))
    kind = getattr(library.expectations, name, None)
    if kind is None:
        raise undecided_check(expected.check_id, f'"{expected.expectation}" is no expectation.')
    return kind(**expected.arguments, meta={"check_id": expected.check_id})


def _verdict(answer: Any) -> Verdict:
    check_id = answer.expectation_config.meta["check_id"]
    if messages := _exceptions(answer.exception_info):
        raise undecided_check(check_id, messages[0])
    result = answer.result
    found = tuple(result.get("unexpected_index_list") or ())
    if len(found) != result["unexpected_count"]:
        raise undecided_check(check_id, f"{result['unexpected_count']} rows are against it and {len(found)} are named.")
    return Verdict(check_id, bool(answer.success), int(result["element_count"]), found)


def _exceptions(information: Mapping[str, Any]) -> list[str]:
    """The messages of what was raised: the library gives one such record, or one a metric by its id."""
    records = [information] if "raised_exception" in information else list(information.values())
    return [str(record["exception_message"]) for record in records if record["raised_exception"]]

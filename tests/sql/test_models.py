"""Every hand-worked case against the models, and every core and metric model against having cases."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline.sql_files import read_models
from pipeline.store import Store
from tests.sql.cases import FOLDER, case_folders, expectations, expected_rows, given_rows, run_case


@pytest.fixture(scope="module")
def store() -> Iterator[Store]:
    with Store(Path(":memory:")) as opened:
        yield opened


@pytest.mark.parametrize("case", case_folders(), ids=lambda case: str(case.relative_to(FOLDER)))
def test_case(store: Store, case: Path) -> None:
    run_case(store, case)
    assert expectations(case), f"{case} expects nothing"
    for model, path in expectations(case).items():
        assert given_rows(store, model, path) == expected_rows(store, model, path), model


def test_every_core_and_metric_model_has_two_cases() -> None:
    counted = {model.name: 0 for model in read_models() if not model.name.startswith("clean_")}
    for case in case_folders():
        for model in expectations(case):
            if model in counted:
                counted[model] += 1
    assert {name for name, count in counted.items() if count < 2} == set()

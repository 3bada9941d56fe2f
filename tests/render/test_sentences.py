"""Sentences and the lines behind them."""

from __future__ import annotations

from pipeline.render.sentences import refs


def test_lines_stand_once_in_order_and_without_those_that_are_nowhere() -> None:
    one, other = {"file": "a.csv", "line": 3}, {"file": "a.csv", "line": 2}
    assert refs(one, None, other, one, {"file": None, "line": None}) == (("a.csv", 3), ("a.csv", 2))

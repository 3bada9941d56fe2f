"""Rows counted by their bytes; expected numbers worked by hand."""

from __future__ import annotations

from pipeline.render.page_weight import CELL_BYTES, cells_bytes, fair_shares, fitting, text_bytes


def test_a_text_is_weighed_as_the_page_holds_it() -> None:
    assert text_bytes("é<") == 2 + len("&lt;")
    assert text_bytes(None) == 0
    assert cells_bytes("ab", 3) == 2 + 1 + 2 * CELL_BYTES


def test_rows_are_taken_until_the_next_would_be_too_much() -> None:
    assert fitting([3, 3, 3], 6, int) == [3, 3]
    assert fitting([3, 3], 6, int) == [3, 3]
    assert fitting([7, 1], 6, int) == []


def test_what_is_small_is_whole_and_the_rest_share_alike() -> None:
    """Of 100: 10 and 20 are given whole, and what is left, 70, is shared by two: 35 each."""
    assert fair_shares([50, 10, 90, 20], 100) == [35, 10, 35, 20]
    assert fair_shares([5, 6], 100) == [5, 6]
    assert fair_shares([], 100) == []

"""The wording of what a user can mend: what is wrong, where, what is allowed, what to do next."""

from __future__ import annotations

import inspect

import pytest

from pipeline import errors
from pipeline.errors import (
    AirhoursError,
    CheckError,
    FeedError,
    SiteError,
    empty_feed,
    missing_column,
    missing_feed,
    undecided_check,
    wrong_setting,
)


def test_everything_a_user_can_mend_is_one_kind() -> None:
    kinds = [kind for _, kind in inspect.getmembers(errors, inspect.isclass) if issubclass(kind, Exception)]
    assert len(kinds) > 5
    assert all(issubclass(kind, AirhoursError) for kind in kinds)


def test_a_missing_column_lists_what_is_there_and_a_near_name() -> None:
    error = missing_column("tickets.csv", "machine", ["ticket", "machne", "opened"])
    assert isinstance(error, FeedError)
    assert str(error) == (
        'tickets.csv has no column "machine". It has: ticket, machne, opened. Did you mean to name "machne" machine?'
    )


def test_a_missing_column_with_nothing_near_or_nothing_at_all() -> None:
    assert str(missing_column("a.csv", "opened", ["x", "", "y"])).endswith("It has: x, y. Add the column opened.")
    assert "It has: nothing." in str(missing_column("a.csv", "opened", []))


def test_a_hundred_columns_are_not_all_listed() -> None:
    """The first 30 of 100, and that 70 more are there."""
    text = str(missing_column("a.csv", "opened", [f"c{n}" for n in range(100)]))
    assert "c29 and 70 more" in text
    assert "c30" not in text


@pytest.mark.parametrize(
    ("error", "kind", "words"),
    [
        (missing_feed("bookings", "bookings.csv"), FeedError, ("bookings", "bookings.csv", "Put the export there")),
        (empty_feed("a.csv", ["at", "machine"]), FeedError, ("a.csv", "at, machine")),
        (
            wrong_setting("site.toml", "lead_s", -1, "0 or more"),
            SiteError,
            ("site.toml", "lead_s", '"-1"', "0 or more"),
        ),
        (undecided_check("no_gap", "a reason."), CheckError, ('"no_gap"', "a reason.", "suites.toml")),
    ],
)
def test_each_says_what_where_and_what_to_do(error: AirhoursError, kind: type, words: tuple[str, ...]) -> None:
    assert type(error) is kind
    text = str(error)
    assert len(text.splitlines()) == 1
    assert text.endswith(".")
    for word in words:
        assert word in text

"""Decimal marks and thousands, as the Unicode locale data spell them for German, Swedish, Swiss and US English."""

from __future__ import annotations

import pytest

from pipeline.ingest.propose.numbers import propose_numbers


def _proposed(*values: str) -> dict[str, str]:
    return {setting.key: setting.value for setting in propose_numbers(values).settings if setting.is_decided}


@pytest.mark.parametrize(
    ("values", "proposed"),
    [
        (("0.04", "12"), {}),
        (("-0,04", "12"), {"decimal": '","'}),
        (("1.234,5",), {"decimal": '","', "thousands": '"."'}),
        (("0,5", "1.250"), {"decimal": '","', "thousands": '"."'}),
        (("1,234.5",), {"thousands": '","'}),
        (("1 234,5",), {"decimal": '","', "thousands": '" "'}),
        (("1\u00a0234,5",), {"decimal": '","', "thousands": '" "'}),
        (("1'234.5",), {"thousands": '"\'"'}),
        (("1,234,567",), {"thousands": '","'}),
        (("0,125",), {"decimal": '","'}),  # a number of thousands does not begin with 0
        (("0.125",), {}),
        ((), {}),
    ],
)
def test_what_leaves_no_doubt_is_proposed(values: tuple[str, ...], proposed: dict[str, str]) -> None:
    assert _proposed(*values) == proposed


def test_three_digits_after_a_comma_may_be_either() -> None:
    findings = propose_numbers(["1,250", "2,500"])
    assert not [setting for setting in findings.settings if setting.is_decided]
    assert findings.undecided[0].startswith("decimal: ")


def test_both_marks_cannot_be_right() -> None:
    findings = propose_numbers(["0,04", "0.04"])
    assert findings.settings == ()
    assert "cannot be written in one way" in findings.undecided[0]

"""How lists print a figure; expected texts are worked by hand from the rules of the other pages."""

from __future__ import annotations

import shlex

import pytest

from pipeline.render.definitions import read_terms
from pipeline.render.language import speaking
from pipeline.render.lines_words import command, exact, is_seconds, label_of, name_of, seconds_text, section_of, shown
from tests.render.made_up_evidence import MadeScope


@pytest.mark.parametrize(
    ("figure", "value", "text"),
    [
        ("air_s", 7200.0, "2.00 h"),
        ("lost_s", 719.475, "11 min 59 s"),
        ("standby.lost_s", 4.0, "4 s"),
        ("to_take_s.median", 3.5, "3.5 s"),
        ("to_take_s.p90", None, "not reached"),
        ("to_take_s.n", 1234, "1,234"),
        ("continuity", 0.99971642, "99.971 %"),
        ("continuity_low", None, "n/a"),
        ("forced", 56, "56"),
        ("protect_switches_per_1000_air_h.value", 93.168, "93.2"),
        ("comparisons.others.p", 0.004, "0.004"),
        ("comparisons.demands_met.ratio", 0.5428, "54 %"),
        ("running_ratio", 0.46, "46 %"),
        ("clock.offset_s", -1.5, "−1.50 s"),
    ],
)
def test_a_value_reads_as_on_the_other_pages(figure: str, value: float | None, text: str) -> None:
    assert shown(figure, value) == text


@pytest.mark.parametrize(
    ("microseconds", "text"),
    [(0, "0.000"), (1, "0.000001"), (1_500_000, "1.500"), (-40_000, "−0.040"), (1_234_567_890_123, "1,234,567.890123")],
)
def test_seconds_stand_to_the_last_digit(microseconds: int, text: str) -> None:
    assert seconds_text(microseconds) == text


def test_the_exact_value_is_said_only_where_it_says_more() -> None:
    assert exact("lost_s", 719.475) == "719.475 s"
    assert exact("continuity", 0.25) == "0.25"
    assert exact("forced", 3) == exact("lost_s", 0.0) == exact("continuity", None) == ""


def test_nested_figures_share_a_section() -> None:
    assert section_of("to_take_s.median") == section_of("to_take_s.n") == "to_take_s"
    assert section_of("continuity_low") == section_of("continuity_high") == "continuity_bounds"
    assert section_of("continuity") == "continuity"
    assert is_seconds("to_take_s.low")
    assert not is_seconds("to_take_s.open")


def test_names_are_those_of_the_definitions() -> None:
    terms = read_terms()
    assert name_of("lost_s", terms) == terms["lost_s"].name
    assert name_of("cause-2", terms, ["a", "b: c"]) == "Cause: b: c"
    assert label_of("lost_s", "lost_s", terms) == ""
    assert label_of("comparisons.others.air_s", "comparisons", terms) == "Against the others, air hours"


def test_the_command_can_be_pasted_whatever_a_channel_is_called() -> None:
    nasty = "One'; rm -rf ~ #"
    words = shlex.split(command("lost_s", MadeScope(month="2031-03", channel=nasty)))
    assert words == [
        "airhours", "lines", "SITE", "lost_s", "--month", "2031-03", "--channel", nasty, "--limit", "0"
    ]  # fmt: skip


def test_in_german_figures_have_the_comma_and_names_their_words() -> None:
    with speaking("de", "de-DE"):
        assert seconds_text(1_234_567_890_123) == "1.234.567,890123"
        assert exact("continuity", 0.25) == "0,25"
        assert shown("to_take_s.p90", None) == "nicht erreicht"
        assert name_of("cause-1", read_terms(), ["signal electronics: tube"]) == "Ursache: Signalelektronik: Röhre"
        assert label_of("comparisons.others.air_s", "comparisons", read_terms()).endswith(", Sendestunden")

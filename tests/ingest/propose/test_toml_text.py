"""What is written is what the standard library's TOML reader gives back, whatever the text."""

from __future__ import annotations

import tomllib

from hypothesis import given
from hypothesis import strategies as st

from pipeline.ingest.propose.toml_text import (
    comment_lines,
    commented_out,
    list_value,
    pattern_value,
    shown,
    text_value,
    with_reason,
)


@given(st.text())
def test_values_and_keys_come_back(text: str) -> None:
    assert tomllib.loads(f"{text_value(text)} = {text_value(text)}") == {text: text}
    assert tomllib.loads(f"a = {pattern_value(text)}") == {"a": text}
    assert tomllib.loads(f"a = {list_value([text_value(text)] * 2)}") == {"a": [text, text]}


@given(st.text(st.characters()), st.text())
def test_a_comment_cannot_end_its_line(text: str, other: str) -> None:
    line = with_reason(f"a = {text_value(other)}", text)
    assert tomllib.loads(line) == {"a": other}
    assert tomllib.loads(commented_out(f"a = {text_value(text)}", other)) == {}
    assert tomllib.loads("\n".join(comment_lines(text))) == {}
    assert len(f"{shown(text)}{line}".splitlines()) == 1


@given(st.text())
def test_a_key_taken_up_by_hand_is_toml(text: str) -> None:
    line = commented_out(f"{text_value(text)} = 1", text)
    assert tomllib.loads(line.removeprefix("# ")) == {text: 1}


def test_half_a_surrogate_pair_is_replaced() -> None:
    assert tomllib.loads(f"a = {text_value(chr(0xD800))}") == {"a": "\ufffd"}


def test_values_are_cut_short_in_comments() -> None:
    assert shown("x" * 100, 3) == '"xxx…"'
    assert max(map(len, comment_lines("word " * 300))) <= 118

"""Words of the data-quality page that come from tables: the kinds of checks and of rulings, and what rulings say."""

from __future__ import annotations

from pipeline.render.cause_names import cause_word
from pipeline.render.language import say
from pipeline.render.table_words import Words, by_language, kind_word


def severity_word(severity: str) -> str:
    """The kind of a data check."""
    return _severities().get(severity, severity)


@by_language
def _severities() -> Words:
    return {"stop": say("stop", about="kind of check"), "note": say("note", about="kind of check")}


def rules_word(rules: str) -> str:
    """What a ruling is about."""
    return _rules().get(rules, rules)


@by_language
def _rules() -> Words:
    return {
        "switch": say("switch", about="ruling"),
        "cause": say("cause", about="ruling"),
        "one incident": say("one incident", about="ruling"),
        "not air": say("not air", about="ruling"),
    }


def says_word(says: str) -> str:
    """What a ruling puts in the place of what was found: a kind of switch, or a cause."""
    word = kind_word(says)
    return cause_word(says) if word == says else word


def touch_word(name: str) -> str:
    """What a failed check touches and is no term of the definitions."""
    return _touched().get(name, name.replace("_", " "))


@by_language
def _touched() -> Words:
    return {
        "rows": say("rows", about="touched by a check"),
        "clocks": say("clocks", about="touched by a check"),
        "as_of": say("as of", about="touched by a check"),
        "ages": say("ages", about="touched by a check"),
    }

"""Causes in the site's language: the names of both levels that the list of cause words gives.

A cause that a room's own list adds is shown as it stands there.
"""

from __future__ import annotations

from pipeline.render.language import say
from pipeline.render.table_words import Words, by_language


def cause_word(cause: str) -> str:
    """A cause of the first or the second level, such as "tube", or of both: "signal electronics: tube"."""
    words = _all()
    return words.get(cause) or ": ".join(words.get(part, part) for part in cause.split(": "))


def cause_text(top: str | None, second: str | None) -> str:
    """Both levels of a cause, such as "signal electronics: tube"; the first alone where no second is told."""
    return f"{cause_word(top or '')}{': ' if second else ''}{cause_word(second or '')}"


@by_language
def _all() -> Words:
    return {**_firsts(), **_machine(), **_tape_and_room(), **_others()}


def _firsts() -> dict[str, str]:
    return {
        "heads and tape path": say("heads and tape path", about="cause"),
        "signal electronics": say("signal electronics", about="cause"),
        "servo and time base": say("servo and time base", about="cause"),
        "tape and recording": say("tape and recording", about="cause"),
        "cooling, air and power": say("cooling, air and power", about="cause"),
        "routing and feeds": say("routing and feeds", about="cause"),
        "server": say("server", about="cause"),
        "operations": say("operations", about="cause"),
        "not a fault": say("not a fault", about="cause"),
        "unknown": say("unknown", about="cause"),
    }


def _machine() -> dict[str, str]:
    return {
        "clogged": say("clogged", about="cause"),
        "worn": say("worn", about="cause"),
        "mismatch or banding": say("mismatch or banding", about="cause"),
        "head failed": say("head failed", about="cause"),
        "guide, vacuum or tension": say("guide, vacuum or tension", about="cause"),
        "sound or control head": say("sound or control head", about="cause"),
        "mechanism": say("mechanism", about="cause"),
        "record or play path": say("record or play path", about="cause"),
        "corrector": say("corrector", about="cause"),
        "tube": say("tube", about="cause"),
        "board, joint or connector": say("board, joint or connector", about="cause"),
        "sound": say("sound", about="cause"),
        "drum": say("drum", about="cause"),
        "capstan or control track": say("capstan or control track", about="cause"),
        "framing": say("framing", about="cause"),
        "reference lost": say("reference lost", about="cause"),
        "pair out of step": say("pair out of step", about="cause"),
        "time code": say("time code", about="cause"),
    }


def _tape_and_room() -> dict[str, str]:
    return {
        "dropout or shed": say("dropout or shed", about="cause"),
        "damage": say("damage", about="cause"),
        "recorded wrong": say("recorded wrong", about="cause"),
        "interchange": say("interchange", about="cause"),
        "wrong, short or wiped reel": say("wrong, short or wiped reel", about="cause"),
        "file": say("file", about="cause"),
        "vacuum or air": say("vacuum or air", about="cause"),
        "over-temperature": say("over-temperature", about="cause"),
        "machine supply": say("machine supply", about="cause"),
        "mains": say("mains", about="cause"),
        "room": say("room", about="cause"),
        "crosspoint": say("crosspoint", about="cause"),
        "selector": say("selector", about="cause"),
        "patch or cable": say("patch or cable", about="cause"),
        "incoming feed": say("incoming feed", about="cause"),
        "control or cue line": say("control or cue line", about="cause"),
        "downstream": say("downstream", about="cause"),
    }


def _others() -> dict[str, str]:
    return {
        "port": say("port", about="cause"),
        "storage": say("storage", about="cause"),
        "network": say("network", about="cause"),
        "software": say("software", about="cause"),
        "copies differ": say("copies differ", about="cause"),
        "cueing": say("cueing", about="cause"),
        "early or late roll": say("early or late roll", about="cause"),
        "wrong selection": say("wrong selection", about="cause"),
        "line-up or cleaning missed": say("line-up or cleaning missed", about="cause"),
        "handover": say("handover", about="cause"),
        "booking clash": say("booking clash", about="cause"),
        "planned": say("planned", about="cause"),
        "test": say("test", about="cause"),
        "precaution": say("precaution", about="cause"),
        "looked and nothing found": say("looked and nothing found", about="cause"),
        "looked and not found": say("looked and not found", about="cause"),
        "not looked at": say("not looked at", about="cause"),
        "record missing": say("record missing", about="cause"),
    }

"""What a machine reports, in the site's language: an event that the contract does not know is shown as it stands."""

from __future__ import annotations

from pipeline.render.language import say
from pipeline.render.table_words import Words, by_language


def event_word(event: str) -> str:
    """An event of a machine's log."""
    return _events().get(event, event.replace("_", " "))


@by_language
def _events() -> Words:
    return {
        "roll": say("roll", about="event"),
        "stop": say("stop", about="event"),
        "lock": say("lock", about="event"),
        "unlock": say("unlock", about="event"),
        "picture_lost": say("picture lost", about="event"),
        "picture_back": say("picture back", about="event"),
        "sound_lost": say("sound lost", about="event"),
        "sound_back": say("sound back", about="event"),
        "offset": say("offset", about="event"),
        "alarm": say("alarm", about="event"),
        "clear": say("clear", about="event"),
        "alive": say("alive", about="event"),
        "clean": say("clean", about="event"),
        "lineup": say("lineup", about="event"),
        "head_fitted": say("head fitted", about="event"),
        "part_fitted": say("part fitted", about="event"),
        "hours": say("hours", about="event"),
        "record_on": say("record on", about="event"),
        "record_off": say("record off", about="event"),
        "clock": say("clock", about="event"),
    }

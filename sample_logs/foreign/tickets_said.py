"""What engineers write on the tickets of the second room, by kind of fault; all of it made up."""

from __future__ import annotations

from random import Random

# kind of fault: (symptom, cause ticked, action taken, part fitted); causes in the words that the twin has
SAID: dict[str, tuple[tuple[str, str, str, str], ...]] = {
    "picture": (
        ("bilden snöade igen, ljudet kvar", "heads", "rengjorde huvudet två gånger", ""),
        ("ränder över bilden, sedan borta", "electronics", "bytte förstärkarkort", "förstärkarkort"),
        ("bilden föll bort på väg ut", "", "hann inte titta", ""),
        ("släpp på släpp", "tape", "bandet fäller, lagt åt sidan", ""),
    ),
    "sound": (
        ("ljudet tyst, bilden hel", "sound", "smuts på ljudhuvudet", ""),
        ("brum och sedan tyst", "patch", "lös sladd bak, bytt", "sladd"),
    ),
    "servo": (
        ("gick ur lås", "servo", "justerade kapstanservot", ""),
        ("vandrade, ville inte låsa", "vacuum", "bytte pumprem", "pumprem"),
    ),
    "stop": (
        ("stannade själv", "mechanism", "ny mikrobrytare i spännarmen", "mikrobrytare"),
        ("stopp mitt i", "cooling", "igensatt filter, rensat", "luftfilter"),
    ),
    "precaution": (("oväsen i styrningen, lade om i tid", "precaution", "inget hittat", ""),),
    "mains": (("ljuset blinkade, båda tappade servo", "mains", "nätet, inget fel i maskinen", ""),),
    "protect": (
        ("reserven höll inte lås", "servo", "rengjorde styrningen", ""),
        ("reserven utan bild", "heads", "sliten spets, beställd", "videohuvud"),
    ),
    "idle": (
        ("fläkten låter", "cooling", "lager smort", ""),
        ("räkneverket slirar", "mechanism", "ny rem; håller å så länge", "räkneverksrem"),
    ),
}
WRITERS = ("tekniker A", "tekniker B", "tekniker Ö", "natten")


def words_said(random: Random, kind: str) -> dict[str, str]:
    """The words of one ticket for a kind of fault, who wrote it and what it cost."""
    symptom, cause, action, part = random.choice(SAID[kind])
    return {
        "symptom": symptom,
        "cause": cause,
        "action": action,
        "part": part,
        "labour_hours": f"{random.randint(1, 24) / 4:.2f}" if part or cause else "",
        "parts_cost": f"{random.randint(400, 190_000) / 100:.2f}" if part else "",
        "written_by": random.choice(WRITERS),
    }

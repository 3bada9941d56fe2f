"""What engineers write on tickets in the invented room: by kind of fault, with their misspellings and negations."""

from __future__ import annotations

from random import Random

# kind of fault: (symptom, cause ticked, action taken, part fitted)
WORDS: dict[str, tuple[tuple[str, str, str, str], ...]] = {
    "picture": (
        ("picture gone to snow, sound ok", "heads", "cleaned head, oxide on tip 2, picture back", ""),
        ("banding then no picture", "heads", "cleaned, no better, swapped demod board, ok", "demod board"),
        ("RF level low on one head", "heads", "head clogged, cleaned twice", ""),
        ("picture tore and went", "time base", "corrector reset, lines straight again", ""),
        ("snow on air, gone to protect", "", "hed clogged agian, cleaned", ""),
        ("picture dropped out", "electronics", "bad joint on playback amp, resoldered", ""),
        ("no picture, meter reads zero", "", "not looked at before the tape was wanted", ""),
        ("picture lost, came back by itself", "unknown", "looked, nothing found", ""),
        ("heavy dropouts", "tape", "reel sheds, put aside for a copy", ""),
    ),
    "sound": (
        ("sound gone, picture ok", "sound", "sound head dirty, cleaned", ""),
        ("buzz then silence", "sound", "replaced sound preamp board", "sound preamp"),
        ("no sound on air", "patch", "patch cord loose at the back, changed", "patch cord"),
        ("sound lost twice", "", "", ""),
    ),
    "servo": (
        ("fell out of lock", "servo", "capstan servo adjusted", ""),
        ("lost lock, hunting", "servo", "control track weak at the splice, recued", ""),
        ("unlocked, drum wandering", "servo", "drum tacho cleaned, relocked", ""),
        ("lock lost, guide pressure low", "vacuum", "vacuum pump belt slipping, replaced", "pump belt"),
        ("would not stay locked", "", "time base ok, servo board swapped with spare", "servo board"),
    ),
    "stop": (
        ("stopped by itself", "mechanism", "tension arm microswitch changed", "microswitch"),
        ("transport stopped, over temperature lamp", "cooling", "air filter blocked, cleaned", "air filter"),
        ("tape stopped", "supply", "fuse in machine supply replaced", "fuse"),
        ("stopped during programme", "operations", "stop pressed on the wrong machine", ""),
    ),
    "precaution": (
        ("tip projection near limit, took protect first", "precaution", "measured, 35 um left, ok until Friday", ""),
        ("guide noise heard, changed over in good time", "precaution", "nothing found", ""),
    ),
    "mains": (
        ("lights blinked, both machines lost servo", "mains", "mains dip, nothing wrong in the machines", ""),
        ("supply dip", "mains", "see partner machine", ""),
    ),
    "protect": (
        ("protect would not hold lock", "servo", "relocked after cleaning the guide", ""),
        ("protect picture noisy", "heads", "cleaned", ""),
        ("protect dropped, nobody on air noticed", "heads", "head worn, ordered", "video head"),
    ),
    "idle": (
        ("fan noisy", "cooling", "bearing greased", ""),
        ("lamp dead on panel", "", "lamp changed", "lamp 24 V"),
        ("hour meter sticks", "unknown", "", ""),
        ("counter slips", "mechanism", "belt changed", "counter belt"),
    ),
}


def ticket_words(random: Random, kind: str) -> dict[str, str]:
    """The words of one ticket for a kind of fault, who wrote it and what it cost."""
    symptom, cause, action, part = random.choice(WORDS[kind])
    return {
        "symptom": symptom,
        "cause": cause,
        "action": action,
        "part": part,
        "labour_hours": f"{random.randint(1, 24) / 4:.2f}" if action else "",
        "parts_cost": f"{random.randint(4, 900)}.00" if part else "",
        "written_by": random.choice(("eng a", "eng b", "eng c", "night")),
    }

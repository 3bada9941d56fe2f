"""How the numbers of a file are written: what stands before their fraction, and what parts their thousands."""

from __future__ import annotations

import re
from collections.abc import Iterable

from pipeline.ingest.propose.setting import Findings, Setting
from pipeline.ingest.propose.toml_text import shown, text_value

SIGN = r"[+-]?"
# Spellings that leave no doubt, as (decimal, thousands). A point or comma before three digits alone may be either.
CERTAIN = (
    (re.compile(rf"{SIGN}[0-9]{{1,3}}(?:\.[0-9]{{3}})+,[0-9]+"), ",", "."),
    (re.compile(rf"{SIGN}[0-9]{{1,3}}(?:,[0-9]{{3}})+\.[0-9]+"), ".", ","),
    (re.compile(rf"{SIGN}[0-9]{{1,3}}(?:[ \u00a0\u202f][0-9]{{3}})+(?:,[0-9]+)"), ",", " "),
    (re.compile(rf"{SIGN}[0-9]{{1,3}}(?:[ \u00a0\u202f][0-9]{{3}})+(?:\.[0-9]+)?"), ".", " "),
    (re.compile(rf"{SIGN}[0-9]{{1,3}}(?:'[0-9]{{3}})+(?:\.[0-9]+)?"), ".", "'"),
    (re.compile(rf"{SIGN}[0-9]{{1,3}}(?:\.[0-9]{{3}}){{2,}}"), ",", "."),
    (re.compile(rf"{SIGN}[0-9]{{1,3}}(?:,[0-9]{{3}}){{2,}}"), ".", ","),
    (re.compile(rf"{SIGN}(?:[0-9]*,(?:[0-9]{{1,2}}|[0-9]{{4,}})|(?:0|[0-9]{{4,}}),[0-9]{{3}})"), ",", ""),
    (re.compile(rf"{SIGN}(?:[0-9]*\.(?:[0-9]{{1,2}}|[0-9]{{4,}})|(?:0|[0-9]{{4,}})\.[0-9]{{3}})"), ".", ""),
)
DOUBTFUL = re.compile(rf"{SIGN}[0-9]{{1,3}}[.,][0-9]{{3}}")


def propose_numbers(values: Iterable[str]) -> Findings:
    """The keys ``decimal`` and ``thousands`` for a file with these numbers; neither where they are plain."""
    found: dict[str, tuple[str, str]] = {}
    doubtful = ""
    for value in values:
        for pattern, decimal, thousands in CERTAIN:
            if pattern.fullmatch(value):
                found.setdefault(decimal, (value, ""))
                if thousands and not found[decimal][1]:
                    found[decimal] = (value, thousands)
                break
        else:
            doubtful = doubtful or (value if DOUBTFUL.fullmatch(value) else "")
    if len(found) > 1:
        told = f"decimal: {shown(found[','][0])} and {shown(found['.'][0])} cannot be written in one way."
        return Findings(undecided=(f"{told} Export the file again.",))
    if not found:
        return _of_doubtful(doubtful)
    decimal, (value, thousands) = next(iter(found.items()))
    settings = [Setting("decimal", text_value(","), f"as in {shown(value)}")] if decimal == "," else []
    if not thousands and doubtful and (decimal not in doubtful):
        value, thousands = doubtful, "." if decimal == "," else ","
    settings += [Setting("thousands", text_value(thousands), f"as in {shown(value)}")] if thousands else []
    return Findings(tuple(settings))


def _of_doubtful(value: str) -> Findings:
    if "," not in value:  # a point is plain: 1.250 is one and a quarter wherever nothing says otherwise
        return Findings()
    settings = tuple(
        Setting(key, text_value(","), "if that is meant", is_decided=False) for key in ("decimal", "thousands")
    )
    told = f"decimal: {shown(value)} may be a fraction or a number of thousands. Say which, or its rows are set aside."
    return Findings(settings, undecided=(told,))

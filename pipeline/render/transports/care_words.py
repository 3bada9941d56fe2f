"""What the page on care says in sentences: what was found, how sure, and what these hours could not have shown."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.render.language import decimal, say, say_counted, whole
from pipeline.render.transports.care_names import (
    DONE,
    HOUR,
    cleaning_of,
    groups,
    limits_text,
    lineup_of,
    number,
    share_text,
    titles,
)
from pipeline.render.words import capital, chance, counted, figure, hours, listed

RARE = 0.05  # of the uses; care left out in fewer was hardly ever left out
MOST_TOLD = 5.0  # a ratio above it is nothing that a reader could act on
Found = Mapping[str, Any]


def told(found: Found) -> list[str]:
    """The opening: the answer, how often care was given, what could have been found, and the caution."""
    if not found["uses_count"]:
        return [nothing()]
    return [*_answers(found), *_adherence(found), *_could_show(found), watched()]


def nothing() -> str:
    """What is said where no machine is known to have rolled for a transmission."""
    return say(
        "No machine is known to have rolled for a transmission, so there is no care to compare. It would take event "
        "logs with rolls, and bookings of the same machines."
    )


def watched() -> str:
    """The caution that belongs to every answer of this page."""
    return say(
        "This is watching and not an experiment: a machine in trouble is given more care, so care may look harmful "
        "where it helps, and where everybody always gives it nothing is left to compare."
    )


def unpaired() -> str:
    """What is said where no machine has hours with and without the same care."""
    return say(
        "Nothing can be compared: no machine has hours both with and without the same care, and an event in them."
    )


def _answers(found: Found) -> list[str]:
    named = [row for row in found["items"] if row["is_named"]]
    if named:
        return [_named(row, groups(found)[row["item"]]) for row in named]
    if not found["tests_count"]:
        return [unpaired()]
    answer = say(
        "No kind of care stands out: on the same machines, uses with less of it had neither more nor fewer events per "
        "hour than luck easily gives ({events} in {uses}, {hours} due).",
        events=counted(found["events_count"], "event"),
        uses=counted(found["uses_count"], "use"),
        hours=hours(found["duty_h"] * HOUR),
    )
    return [answer]


def _named(row: Found, words: tuple[str, str]) -> str:
    values = {
        "less": words[0],
        "more": words[1],
        "ratio": number(row["adjusted"]["value"]),
        "limits": limits_text(row["adjusted"]),
        "p": chance(row["adjusted_p"]),
    }
    if row["adjusted"]["value"] is None or row["adjusted"]["value"] > 1:
        return say(
            "On the same machines, uses {less} had {ratio} times the events per hour of those {more} (limits {limits}, "
            "adjusted {p}): more with less care.",
            **values,
        )
    return say(
        "On the same machines, uses {less} had {ratio} times the events per hour of those {more} (limits {limits}, "
        "adjusted {p}): fewer with less care, which may only say that care goes where trouble is.",
        **values,
    )


def _adherence(found: Found) -> list[str]:
    room = found["adherence"]["room"]
    return [" ".join((_cleaned(room["clean"]), _lined_up(room["lineup"])))]


def _cleaned(row: Found) -> str:
    if not row["known_count"]:
        return say("No machine logs cleaning, so whether it was done is not recorded.")
    return _always(row, say("Cleaned before the use: {given}.", given=_given(row)))


def _lined_up(row: Found) -> str:
    if not row["known_count"]:
        return say("No machine logs line-up, so whether it was done is not recorded.")
    return _always(row, say("Lined up before the use: {given}.", given=_given(row)))


def _given(row: Found) -> str:
    """Such as "10 of 12, 83.3 % (51.6 to 97.9 %)"."""
    return f"{_part(row['count'], row['known_count'])}, {share_text(row)}"


def _part(part: int, all_of_them: int) -> str:
    return say("{part} of {whole}", part=whole(part), whole=whole(all_of_them))


def _always(row: Found, text: str) -> str:
    if row["value"] != 1:
        return text
    return f"{text} {say('Where it is always done, its effect cannot be seen.')}"


def _could_show(found: Found) -> list[str]:
    rows = [row for row in found["items"] if row["p"] is not None]
    shown = [row for row in rows if row["could_show_ratio"] is not None]
    if not shown:
        return [say("These hours could have shown no difference, however large.")] if rows else []
    seen = [row for row in shown if row["could_show_ratio"] <= MOST_TOLD]
    always = [row for row in shown if row not in seen and _is_rare(row)]
    scarce = [row for row in shown if row not in seen and row not in always]
    lines = []
    if seen:
        lines.append(_would_show(seen))
    if always:
        lines.append(_hardly_ever(always))
    if scarce:
        text = say(
            "Of {kinds} next to nothing can be said: these hours could not show even {times} times the rate.",
            kinds=listed([titles()[row["item"]] for row in scarce]),
            times=decimal(MOST_TOLD, 0),
        )
        lines.append(text)
    return [" ".join(lines)]


def _would_show(rows: list[Found]) -> str:
    return say(
        "Four times in five these hours would have shown a rate that is at least {rates}. Smaller differences would "
        "mostly have stayed unseen.",
        rates=listed([_as_high(row["item"], figure(row["could_show_ratio"])) for row in rows]),
    )


def _as_high(item: str, times: str) -> str:
    """By how much the rate would have to be higher without one kind of care."""
    words = {
        "clean": say("{times} times as high without cleaning", times=times),
        "lineup": say("{times} times as high without line-up", times=times),
        "warm_up": say("{times} times as high after less warm-up", times=times),
        "head": say("{times} times as high on an older head", times=times),
    }
    return words[item]


def _is_rare(row: Found) -> bool:
    """Whether a care that is done or not was hardly ever left out; warm-up and heads are parted by a cut instead."""
    known = row["less"]["uses_count"] + row["more"]["uses_count"]
    return row["item"] in DONE and row["less"]["uses_count"] < RARE * known


def _hardly_ever(rows: list[Found]) -> str:
    """Such as "Cleaning and line-up were hardly ever left out (2 and 10 of 1,498 uses), so ..."."""
    left, known = ([sum(row[one]["uses_count"] for one in of) for row in rows] for of in (("less",), ("less", "more")))
    sizes = listed([_part(part, all_of_them) for part, all_of_them in zip(left, known, strict=True)])
    if len(set(known)) == 1:
        sizes = say("{part} of {whole}", part=listed([whole(part) for part in left]), whole=whole(known[0]))
    return say_counted(
        "{names} was hardly ever left out ({sizes} uses), so its effect cannot be seen.",
        "{names} were hardly ever left out ({sizes} uses), so their effect cannot be seen.",
        len(rows),
        names=capital(listed([titles()[row["item"]] for row in rows])),
        sizes=sizes,
    )


def not_known(found: Found) -> tuple[str, ...]:
    """What is not recorded, item by item, and what stands outside."""
    lines = [_lacking(row) for row in found["items"] if row["not_recorded"]["uses_count"]]
    machines = found["adherence"]["machines"]
    silent = {kind: sum(not one[kind]["known_count"] for one in machines) for kind in DONE}
    named = [of(silent[kind]) for kind, of in (("clean", cleaning_of), ("lineup", lineup_of)) if silent[kind]]
    if named:
        text = say(
            "Never logged: {care}. That is not recorded, which is not the same as not done.",
            care=listed(named),
        )
        lines.append(text)
    if found["events_outside_count"]:
        lines.append(_outside(found["events_outside_count"]))
    return (*lines, say("Care that nobody logged, and how well it was done."))


def _outside(count: int) -> str:
    return say_counted(
        "{n} event on standby, or of a machine not known to have rolled for that transmission: no use, so no care.",
        "{n} events on standby, or of a machine not known to have rolled for that transmission: no use, so no care.",
        count,
    )


def _lacking(row: Found) -> str:
    lacking = row["not_recorded"]
    return say(
        "{care} of {uses} with {hours} due and {events}: not recorded, and compared with nothing.",
        care=capital(titles()[row["item"]]),
        uses=counted(lacking["uses_count"], "use"),
        hours=hours(lacking["duty_h"] * HOUR),
        events=counted(lacking["events_count"], "event"),
    )

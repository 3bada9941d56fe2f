"""What else failed in the same seconds: a fault on several machines, or at the same spot of both copies.

Protect is the same programme on another machine. What is wrong with both copies, or with what both machines share, it
cannot help against; so the account says where the lines point that way, and how far they carry.
"""

from __future__ import annotations

from pipeline.render.language import say
from pipeline.render.moments import AT_ONCE_S, Moment, begun, joint, other_faults
from pipeline.render.reading import Row, Rows
from pipeline.render.sentences import Sentence, refs
from pipeline.render.strip_scene import event_words
from pipeline.render.told_times import logged_at, told
from pipeline.render.witness import Witness
from pipeline.render.words import Local, duration, listed, within

SAME_SPOT_S = 0.5  # two machines in step that lose the same thing no further apart lost it at the same spot
PLAYED_FAULTS = frozenset({"picture_lost", "sound_lost"})


def together(part: Row, witness: Witness, local: Local) -> list[Sentence]:
    """Sentences on what failed with it: both copies at one spot, or other machines within ``AT_ONCE_S``."""
    moments = list(other_faults(part, witness)) if part["recovery_no"] is not None else []
    if not moments:
        return []
    same = _same_spot(part, moments, witness)
    if same is not None:
        others = [moment for moment in moments if moment is not same]
        return [_spot(part, same, witness, local), *_reels(part, same, witness), *_speaks(part, others, witness, local)]
    events, near = listed([logged_at(moment, part, local) for moment in moments]), duration(AT_ONCE_S)
    if len(moments) == 1:
        text = say(
            "Within {near} of it {events}: what struck both may lie outside the machines.", near=near, events=events
        )
    else:
        text = say(
            "Within {near} of it {events}: what struck all may lie outside the machines.", near=near, events=events
        )
    return [Sentence(text, refs(*begun(part, witness).rows, *[row for moment in moments for row in moment.rows]))]


def _same_spot(part: Row, moments: list[Moment], witness: Witness) -> Moment | None:
    """The fault of a machine in step with the one on air that lost the same thing at the same spot."""
    own = [row["event"] for row in begun(part, witness).rows if row.get("event") in PLAYED_FAULTS]
    start = begun(part, witness)
    covers = {cover.machine for cover in witness.covers(part["machine"], start.at_utc, is_before=True)}
    for moment in moments:
        apart_s = abs((moment.at_utc - start.at_utc).total_seconds())
        is_same = moment.rows[0]["event"] in own and moment.rows[0]["machine"] in covers
        if is_same and apart_s <= SAME_SPOT_S + (joint(start, moment) or 0.0):
            return moment
    return None


def _spot(part: Row, same: Moment, witness: Witness, local: Local) -> Sentence:
    start, other = begun(part, witness), same.rows[0]["machine"]
    apart_s, margin = abs((same.at_utc - start.at_utc).total_seconds()), joint(start, same)
    covers = witness.covers(part["machine"], start.at_utc, is_before=True)
    offsets = [cover.offset for cover in covers if cover.machine == other]
    text = say(
        "{other} logged {event} too, at {time}, {apart} from {machine}; {so}. Protect cannot help against that.",
        other=other, event=event_words(same.rows[0]), time=told(same, part, local), machine=part["machine"],
        apart=f"{duration(apart_s)} ({within(margin)})", so=_same_if(margin),
    )  # fmt: skip
    return Sentence(text, refs(*start.rows, *same.rows, *offsets))


def _same_if(margin: float | None) -> str:
    if margin is None:
        return say("the two were in step, so if their clocks agree it is the same spot of both copies")
    return say("the two were in step, so it is the same spot of both copies")


def _reels(part: Row, same: Moment, witness: Witness) -> list[Sentence]:
    """Which copies they were, and on which machines they were recorded."""
    at_utc, told_reels = part["started_at_utc"], []
    rows: Rows = []
    for machine in (part["machine"], same.rows[0]["machine"]):
        for row in witness.booked(at_utc, channel=part["channel"], machine=machine)[-1:]:
            if row["reel"]:
                told_reels.append(_copy(row, machine))
                rows += [row, {"file": row["label_file"], "line": row["label_line"]}]
    if len(told_reels) < 2:
        return []
    return [Sentence(say("The copies booked were {copies}.", copies=listed(told_reels)), refs(*rows))]


def _copy(row: Row, machine: str) -> str:
    if row["recorded_on"]:
        return say(
            "{reel} on {machine}, recorded on {recorder}",
            reel=row["reel"],
            machine=machine,
            recorder=row["recorded_on"],
        )
    return say("{reel} on {machine}", reel=row["reel"], machine=machine)


def _speaks(part: Row, others: list[Moment], witness: Witness, local: Local) -> list[Sentence]:
    """Whether the rest of the room speaks for the recording or for something that all machines share."""
    if others:
        text = say(
            "Within {near} {events}: that points at something the machines share.",
            near=duration(AT_ONCE_S), events=listed([logged_at(moment, part, local) for moment in others]),
        )  # fmt: skip
        return [Sentence(text, refs(*[row for moment in others for row in moment.rows]))]
    rolling = [row for row in witness.rows("others_last") if row["kind"] == "motion" and row["event"] == "roll"]
    names, near = listed([str(row["machine"]) for row in rolling]), duration(AT_ONCE_S)
    calm = say("No other machine of the room logged a fault within {near}.", near=near)
    if rolling:
        calm = say(
            "No other machine of the room logged a fault within {near}; {machines} had rolled last and logged none.",
            near=near, machines=names,
        )  # fmt: skip
    points = say(
        "It points at the recording, or at what both machines were fed, and not at {machine}.", machine=part["machine"]
    )
    text = f"{calm} {points}"
    return [Sentence(text, refs(*begun(part, witness).rows, *rolling))]

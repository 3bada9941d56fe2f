"""What else failed in the same seconds: a fault on several machines, or at the same spot of both copies.

Protect is the same programme on another machine. What is wrong with both copies, or with what both machines share, it
cannot help against; so the account says where the lines point that way, and how far they carry.
"""

from __future__ import annotations

from pipeline.render.moments import AT_ONCE_S, Moment, begun, joint, other_faults
from pipeline.render.reading import Row, Rows
from pipeline.render.sentences import Sentence, refs
from pipeline.render.strip_scene import event_words
from pipeline.render.told_times import told
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
    words = [
        f"{moment.rows[0]['machine']} logged {event_words(moment.rows[0])} at {told(moment, part, local)}"
        for moment in moments
    ]
    struck = "both" if len(moments) == 1 else "all"
    text = f"Within {duration(AT_ONCE_S)} of it {listed(words)}: what struck {struck} may lie outside the machines."
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
    if_so = "" if margin is not None else "if their clocks agree "
    text = (
        f"{other} logged {event_words(same.rows[0])} too, at {told(same, part, local)}, {duration(apart_s)} "
        f"({within(margin)}) from {part['machine']}; the two were in step, so {if_so}it is the same "
        "spot of both copies. "
        "Protect cannot help against that."
    )
    return Sentence(text, refs(*start.rows, *same.rows, *offsets))


def _reels(part: Row, same: Moment, witness: Witness) -> list[Sentence]:
    """Which copies they were, and on which machines they were recorded."""
    at_utc, told_reels = part["started_at_utc"], []
    rows: Rows = []
    for machine in (part["machine"], same.rows[0]["machine"]):
        for row in witness.booked(at_utc, channel=part["channel"], machine=machine)[-1:]:
            if row["reel"]:
                made = f", recorded on {row['recorded_on']}" if row["recorded_on"] else ""
                told_reels.append(f"{row['reel']} on {machine}{made}")
                rows += [row, {"file": row["label_file"], "line": row["label_line"]}]
    return [Sentence(f"The copies booked were {listed(told_reels)}.", refs(*rows))] if len(told_reels) > 1 else []


def _speaks(part: Row, others: list[Moment], witness: Witness, local: Local) -> list[Sentence]:
    """Whether the rest of the room speaks for the recording or for something that all machines share."""
    if others:
        words = [
            f"{moment.rows[0]['machine']} logged {event_words(moment.rows[0])} at {told(moment, part, local)}"
            for moment in others
        ]
        text = f"Within {duration(AT_ONCE_S)} {listed(words)}: that points at something the machines share."
        return [Sentence(text, refs(*[row for moment in others for row in moment.rows]))]
    rolling = [row for row in witness.rows("others_last") if row["kind"] == "motion" and row["event"] == "roll"]
    calm = f"; {listed([str(row['machine']) for row in rolling])} had rolled last and logged none" if rolling else ""
    text = (
        f"No other machine of the room logged a fault within {duration(AT_ONCE_S)}{calm}. It points at the recording, "
        f"or at what both machines were fed, and not at {part['machine']}."
    )
    return [Sentence(text, refs(*begun(part, witness).rows, *rolling))]

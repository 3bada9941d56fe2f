"""Which transmission is dealt which scene."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from pipeline.simulate import scenes_faults as faults
from pipeline.simulate import scenes_quiet as quiet
from pipeline.simulate.draws import Draw, Ints
from pipeline.simulate.parameters import SECOND, Parameters
from pipeline.simulate.script import Script, Shows


@dataclass(frozen=True)
class Scene:
    """A scene: which rate deals it, how often among those of its family, and how it is played."""

    family: str
    weight: float
    play: Callable[[Shows, Script, Draw], None]
    has_protect: bool = True


SCENES = (
    Scene("rest", 1, quiet.play_covered),
    Scene("unprotected", 1, quiet.play_alone, has_protect=False),
    Scene("missing", 1, quiet.play_air_unheard),
    Scene("missing", 1, quiet.play_protect_unheard),
    Scene("handovers", 3, quiet.play_planned),
    Scene("handovers", 2, quiet.play_precaution),
    Scene("handovers", 1, quiet.play_return),
    Scene("handovers", 1, quiet.play_unexplained),
    Scene("handovers", 1, quiet.play_early_end),
    Scene("handovers", 1, quiet.play_overrun),
    Scene("faults", 4, faults.play_forced),
    Scene("faults", 2, faults.play_forced_unlock),
    Scene("faults", 1, faults.play_by_standby),
    Scene("faults", 3, faults.play_healed),
    Scene("faults", 1, faults.play_healed_alone, has_protect=False),
    Scene("faults", 1, faults.play_unmet),
    Scene("faults", 1, faults.play_lost_to_the_end),
    Scene("faults", 1, faults.play_rescued),
    Scene("faults", 2, quiet.play_protect_unlocked),
    Scene("faults", 1, quiet.play_out_of_step),
    Scene("faults", 1, quiet.play_late_proof),
)


def deal_scenes(parameters: Parameters, shows: Shows) -> Ints:
    """The place in ``SCENES`` of each transmission's scene.

    Faults and hand-overs come as two Poisson streams; a transmission is dealt the first that falls into it, if any:
    with both rates together r an hour and h hours of air, any with probability 1 − exp(−r h).
    """
    hours = (shows.end - shows.start) / (3600 * SECOND)
    both = parameters.faults + parameters.handovers
    heard = 1 - parameters.unprotected - parameters.missing
    some = heard * -np.expm1(-both * hours / 1000) / (both or 1.0)
    chances = {
        "unprotected": np.full(len(shows), parameters.unprotected),
        "missing": np.full(len(shows), parameters.missing),
        "handovers": parameters.handovers * some,
        "faults": parameters.faults * some,
    }
    chances["rest"] = 1 - np.sum(list(chances.values()), axis=0)
    weights = {family: sum(scene.weight for scene in SCENES if scene.family == family) for family in chances}
    each = [chances[scene.family] * (scene.weight / weights[scene.family]) for scene in SCENES]
    dealt = Draw.of(parameters.seed, 2).uniform(shows.number)
    passed: Ints = (dealt >= np.cumsum(each, axis=0)).sum(axis=0)
    return np.minimum(passed, len(SCENES) - 1)


def play_scenes(parameters: Parameters, shows: Shows, dealt: Ints) -> Script:
    """Every scene played for the transmissions that were dealt it."""
    script = Script()
    for number, scene in enumerate(SCENES):
        chosen = shows.only(dealt == number)
        if len(chosen):
            scene.play(chosen, script, Draw.of(parameters.seed, 3, number))
    return script

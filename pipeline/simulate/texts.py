"""What a simulated site says of itself: site.toml and README.md."""

from __future__ import annotations

from dataclasses import asdict

from pipeline.simulate.parameters import Parameters


def site_toml(parameters: Parameters) -> str:
    """The settings; all others are the program's defaults, which the scenes rely on."""
    return (
        "# An invented room, written by airhours simulate. README.md holds what it was made from.\n"
        f'name = "Simulated room {parameters.seed}"\n'
        f'timezone = "{parameters.zone}"\n'
        f'day_starts = "{parameters.day_starts}"\n'
        "frame_rate = 25\n"
    )


def read_me(parameters: Parameters, event_lines: int) -> str:
    """That the room is invented, from which parameters, and what truth.json holds."""
    rows = "\n".join(f"| {name} | {value} |" for name, value in asdict(parameters).items())
    return (
        "# A simulated room\n\n"
        "This room, its machines, channels, programmes, faults and tickets are invented by a program from the numbers\n"
        f"below. The same numbers give the same files. {event_lines} event lines.\n\n"
        "| parameter | value |\n| --- | --- |\n"
        f"{rows}\n\n"
        "`truth.json` is the true answer: what the scenes played in the room say happened, added up in whole\n"
        "microseconds; it is not worked out from the logs. It has the names of `figures.json`, with the times to\n"
        "recover as plain lists of `[seconds, end seen]`.\n"
    )

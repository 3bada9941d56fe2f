"""The small feeds: bookings, switches, tickets and the two registers, as frames in canonical columns."""

from __future__ import annotations

import numpy as np
import polars as pl

from pipeline.simulate.draws import Ints
from pipeline.simulate.parameters import Parameters
from pipeline.simulate.scenes import SCENES
from pipeline.simulate.script import NOBODY, OTHER, STANDBY, Shows

PROGRAMMES = 40  # titles; a transmission plays one of them, from a reel and its copy
STAMP = "%Y-%m-%dT%H:%M:%S%.6fZ"


def source_names(parameters: Parameters) -> dict[int, str]:
    """The name of each source by its number."""
    return {**dict(enumerate(parameters.machines)), STANDBY: "standby", OTHER: "other", NOBODY: ""}


def channel_names(parameters: Parameters) -> tuple[str, ...]:
    """The channels, of one length."""
    digits = len(str(parameters.channels))
    return tuple(f"Channel {number:0{digits}}" for number in range(1, parameters.channels + 1))


def stamp(name: str) -> pl.Expr:
    """A column of microseconds as text, UTC; what is null stays so."""
    return pl.col(name).cast(pl.Datetime("us")).dt.to_string(STAMP)


def bookings(parameters: Parameters, shows: Shows, dealt: Ints) -> pl.DataFrame:
    """An air booking of every transmission, and a protect booking where its scene has one; in order of time."""
    has_protect = np.array([scene.has_protect for scene in SCENES])[dealt]
    title = shows.number * 7 % PROGRAMMES
    names, channels = source_names(parameters), dict(enumerate(channel_names(parameters)))
    roles = (("air", shows.air, "A", np.full(len(shows), True)), ("protect", shows.protect, "B", has_protect))
    frames = [
        pl.DataFrame(
            {
                "number": shows.number[kept],
                "channel": shows.channel[kept],
                "title": title[kept],
                "machine": machine[kept],
                "starts": shows.start[kept],
                "ends": shows.end[kept],
            }
        ).with_columns(pl.lit(role).alias("role"), pl.lit(copy).alias("copy"))
        for role, machine, copy, kept in roles
    ]
    number = pl.col("number").cast(pl.String).str.zfill(7)
    numbered = pl.col("title").cast(pl.String).str.zfill(2)
    return (
        pl.concat(frames)
        .sort("starts", "channel", "role")
        .select(
            pl.concat_str(pl.lit("B"), number, "copy").alias("booking"),
            pl.concat_str(pl.lit("TX"), number).alias("transmission"),
            pl.col("channel").replace_strict(channels, return_dtype=pl.String),
            pl.concat_str(pl.lit("Programme "), numbered).alias("programme"),
            pl.lit("").alias("show"),
            pl.concat_str(pl.lit("K"), numbered, "copy").alias("reel"),
            pl.col("machine").replace_strict(names, return_dtype=pl.String),
            "role",
            stamp("starts"),
            stamp("ends"),
        )
    )


def switches(parameters: Parameters, table: pl.DataFrame) -> pl.DataFrame:
    """Takes and start commands in order of time."""
    names, channels = source_names(parameters), dict(enumerate(channel_names(parameters)))
    return table.sort("at", "channel", "action", "to").select(
        stamp("at"),
        "action",
        pl.col("channel").replace_strict(channels, return_dtype=pl.String),
        pl.col("from").replace_strict(names, return_dtype=pl.String).alias("from_machine"),
        pl.col("to").replace_strict(names, return_dtype=pl.String).alias("to_machine"),
        "reason",
        pl.lit("control").alias("by"),
    )


def tickets(parameters: Parameters, table: pl.DataFrame) -> pl.DataFrame:
    """Tickets in order of opening."""
    return table.select(
        pl.concat_str(pl.lit("F"), pl.col("number").cast(pl.String).str.zfill(6)).alias("ticket"),
        pl.col("machine").replace_strict(source_names(parameters), return_dtype=pl.String),
        *(stamp(name) for name in ("opened", "restored", "closed")),
        "symptom",
        "cause",
        "action",
        *(pl.lit("").alias(name) for name in ("part", "labour_hours", "parts_cost", "reel")),
        pl.lit("engineer").alias("written_by"),
    )


def machines(parameters: Parameters) -> pl.DataFrame:
    """The register of machines."""
    number = pl.int_range(len(parameters.machines), eager=True)
    return pl.DataFrame({"machine": parameters.machines, "number": number}).select(
        "machine",
        pl.lit("tape").alias("kind"),
        pl.concat_str(pl.lit("P"), pl.col("number") // 2 + 1).alias("pair"),
        *(pl.lit("").alias(name) for name in ("group", "installed", "retired", "replacement_cost")),
    )


def reels(parameters: Parameters) -> pl.DataFrame:
    """The labels of the reels; each was recorded on the machine of its number, its copy on the next."""
    titles = [(title, copy) for title in range(PROGRAMMES) for copy in range(2)]
    rows = [
        (
            f"K{title:02}{'AB'[copy]}",
            f"Programme {title:02}",
            "",
            parameters.machines[(2 * title + copy) % len(parameters.machines)],
            "",
            "",
        )
        for title, copy in titles
    ]
    names = ("reel", "programme", "show", "recorded_on", "recorded_by", "recorded_at")
    return pl.DataFrame(rows, schema=names, orient="row")

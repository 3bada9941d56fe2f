"""A hatch as it looks in ink alone: drawn by the chart library's own rasteriser, read back cell by cell."""

from __future__ import annotations

import struct
import zlib
from itertools import pairwise

import vl_convert

from pipeline.render.palette import Hatch

SIDE = 60  # of the picture, in pixels: several tiles of any hatch


def ink_of(hatch: Hatch, *, scale: float = 4.0) -> list[list[float]]:
    """The darkness, 0 paper to 1 black, of each pixel of a square filled with the hatch, drawn at ``scale``."""
    turn = f' patternTransform="rotate({hatch.turn})"' if hatch.turn else ""
    ground = f'<path d="M0 0H{hatch.size}V{hatch.size}H0z" fill="{hatch.ground}"/>'
    tile = f'<pattern id="h" width="{hatch.size}" height="{hatch.size}" patternUnits="userSpaceOnUse"{turn}>'
    side = SIDE / scale
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{side}" height="{side}"><defs>{tile}{ground}{hatch.drawn}'
        f'</pattern></defs><rect width="{side}" height="{side}" fill="url(#h)"/></svg>'
    )
    return _darkness(vl_convert.svg_to_png(svg, scale=scale))


def _darkness(png: bytes) -> list[list[float]]:
    """Of an 8-bit RGBA picture that is not interlaced (PNG specification, third edition, sections 7 and 9)."""
    width, height, depth, kind, *_, interlaced = struct.unpack(">IIBBBBB", png[16:29])
    assert (depth, kind, interlaced) == (8, 6, 0)
    rows, before, stride = [], bytes(4 * width), 4 * width
    raw = zlib.decompress(_data(png))
    for line in range(height):
        begin = line * (stride + 1)
        before = _unfiltered(raw[begin], raw[begin + 1 : begin + 1 + stride], before)
        pixels = (before[place : place + 3] for place in range(0, stride, 4))
        rows.append([1 - (0.2126 * red + 0.7152 * green + 0.0722 * blue) / 255 for red, green, blue in pixels])
    return rows


def _data(png: bytes) -> bytes:
    parts, place = b"", 8
    while place < len(png):
        (length,) = struct.unpack(">I", png[place : place + 4])
        if png[place + 4 : place + 8] == b"IDAT":
            parts += png[place + 8 : place + 8 + length]
        place += 12 + length
    return parts


def _unfiltered(kind: int, line: bytes, before: bytes) -> bytes:
    row = bytearray(line)
    for place, value in enumerate(line):
        left = row[place - 4] if place >= 4 else 0
        above, corner = before[place], before[place - 4] if place >= 4 else 0
        guess = (0, left, above, (left + above) // 2, _nearest(left, above, corner))[kind]
        row[place] = (value + guess) % 256
    return bytes(row)


def _nearest(left: int, above: int, corner: int) -> int:
    guess = left + above - corner
    return min((left, above, corner), key=lambda part: abs(guess - part))


def share_dark(rows: list[list[float]]) -> float:
    """The share of pixels that a copier prints black: darker than half."""
    dark = [value > 0.5 for row in rows for value in row]
    return sum(dark) / len(dark)


def mean_dark(rows: list[list[float]]) -> float:
    """The mean darkness of the pixels."""
    values = [value for row in rows for value in row]
    return sum(values) / len(values)


def changes(rows: list[list[float]]) -> tuple[float, float]:
    """How often black turns white or back, along a line and down a column, per 100 pixels."""
    along = [one != other for row in rows for one, other in pairwise(value > 0.5 for value in row)]
    down = [one != other for row in zip(*rows, strict=True) for one, other in pairwise(value > 0.5 for value in row)]
    return 100 * sum(along) / len(along), 100 * sum(down) / len(down)

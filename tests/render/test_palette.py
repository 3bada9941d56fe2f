"""Inks and fills: one place, read on every paper in colour and grey, and told apart by pattern alone."""

from __future__ import annotations

import re
from itertools import combinations

import pytest

from pipeline.render import palette
from pipeline.render.filling import HERE
from pipeline.render.palette import HATCHES, PROPERTIES, STATES
from tests.render.contrast import contrast, grey
from tests.render.tiles import changes, ink_of, mean_dark, share_dark

STYLE = (HERE / "assets" / "airhours.css").read_text(encoding="utf-8")
PAPERS = (palette.PAPER, palette.TINT, palette.BAND)
HEX = re.compile(r"#[0-9a-fA-F]{3,8}\b")


def test_the_yardsticks_are_those_of_the_standard() -> None:
    # WCAG 2.2: black on white is 21:1. #767676 on white is 4.54:1 (WebAIM's contrast checker, from memory): its part is
    # 0x76 / 255 = 0.46275, linear 0.18116, so (1.05) / (0.23116) = 4.542.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.542, abs=0.001)
    # Red 255 × 0.2126 = 54.2 → 54 = 0x36.
    assert grey("#ff0000") == "#363636"


def test_the_style_sheet_states_the_same_as_the_palette() -> None:
    first = STYLE[STYLE.index(":root {") + 7 : STYLE.index("}")]
    assert dict(re.findall(r"--([a-z-]+): ([^;]+);", first)) == PROPERTIES


def test_colours_stand_in_one_place() -> None:
    after = STYLE[STYLE.index("}") :]
    plain = re.sub(r"@media \((?:prefers-contrast|forced-colors)[^{]*\{.*?\n\}", "", after, flags=re.DOTALL)
    assert not HEX.findall(plain)
    for path in sorted(HERE.rglob("*")):
        if path.suffix in {".py", ".j2"} and path.name not in {"palette.py", "figures_svg.py"}:
            inks = re.findall(r"[\"'](#[0-9a-fA-F]{6})[\"']", path.read_text(encoding="utf-8"))
            assert not inks, path.name


@pytest.mark.parametrize("turned", [str, grey])
@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("ink", [palette.INK, palette.FAINT, palette.LINK, palette.RUST])
def test_text_can_be_read_on_every_paper(ink: str, paper: str, turned: type[str]) -> None:
    assert contrast(turned(ink), turned(paper)) >= 4.5  # WCAG 2.2, 1.4.3


@pytest.mark.parametrize("turned", [str, grey])
def test_marks_stand_out_from_the_paper_and_every_fill_from_its_edge(turned: type[str]) -> None:
    for mark in (palette.INK, palette.FAINT, palette.RUST, palette.GREY):
        assert contrast(turned(mark), turned(palette.PAPER)) >= 3  # WCAG 2.2, 1.4.11
    # A pale fill is no mark by itself: it lies inside an edge of ink, which stands out from paper and fill alike.
    for ground in {hatch.ground for hatch in HATCHES.values()} - {palette.RUST}:
        assert contrast(turned(palette.INK), turned(ground)) >= 3


def test_with_more_contrast_asked_for_every_ink_gains() -> None:
    block = STYLE[STYLE.index("(prefers-contrast: more)") :]
    inks = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", block[: block.index("\n}")]))
    assert set(inks) == {"faint", "rule", "hair", "grid", "link"}
    for name, ink in inks.items():
        assert contrast(ink, palette.PAPER) > contrast(PROPERTIES[name], palette.PAPER)
        assert contrast(ink, palette.PAPER) >= (7 if name in ("faint", "link") else 4.5)  # 7: WCAG 2.2, 1.4.6


def test_the_states_are_told_apart_by_pattern_alone() -> None:
    # In ink alone, as a copier prints them: covered is blank, lost is solid, and the three between are neither; each of
    # these is a pattern that differs from the others in how much of it is black, or in how often black turns white.
    looks = {state: ink_of(HATCHES[state]) for state in STATES}
    dark = {state: share_dark(rows) for state, rows in looks.items()}
    assert dark["covered"] == 0
    assert dark["lost"] == 1
    for one, other in combinations(("unproved", "exposed", "not-known"), 2):
        assert 0.05 < dark[one] < 0.6
        measures = zip((dark[one], *changes(looks[one])), (dark[other], *changes(looks[other])), strict=True)
        assert max(max(pair) / min(pair) for pair in measures) > 1.3, (one, other)


def test_the_pictures_are_as_dark_as_what_is_drawn() -> None:
    # Ink #1d1c1a is 0.2126 × 29 + 0.7152 × 28 + 0.0722 × 26 = 28.07 of 255: 0.890 dark. A dot of radius 0.9 in a tile
    # of 5 × 5 covers π × 0.81 / 25 = 0.1018 of it: 0.0906. A stripe of 1.6 in 5 covers 0.32: 0.285, however turned.
    # (15 units are no whole number of turned tiles, so that the stripes may be off by a part of one.)
    assert mean_dark(ink_of(HATCHES["unproved"])) == pytest.approx(0.0906, abs=0.004)
    assert mean_dark(ink_of(HATCHES["exposed"])) == pytest.approx(0.285, abs=0.02)

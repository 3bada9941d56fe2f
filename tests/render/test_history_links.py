"""Every machine and every reel has one place, whatever it is called."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from pipeline.render.history_links import REELS_A_PAGE, Links, make_links, reels_page, unique_slugs
from pipeline.render.reading import read_site
from tests.render.conftest import Rendered
from tests.render.small_room import HOSTILE_MACHINE, SETTINGS


def test_names_that_read_alike_get_an_ordinal() -> None:
    # "VT 1" and "vt-1" both read "vt-1"; "VT-1 2" reads "vt-1-2", which the second of them has by then.
    names = ["VT 1", "vt-1", "VT-1 2", "Ö", "Å"]
    assert list(unique_slugs(names).values()) == ["vt-1", "vt-1-2", "vt-1-2-2", "x", "x-2"]


@given(st.lists(st.text(alphabet="aA1- .Ö", max_size=4), unique=True))
def test_no_two_names_share_a_place(names: list[str]) -> None:
    words = unique_slugs(names)
    assert list(words) == names
    assert len(set(words.values())) == len(names)
    assert all(set(word) <= set("abcdefghijklmnopqrstuvwxyz0123456789-") for word in words.values())


def test_a_link_leads_to_the_page_or_to_the_row_and_else_is_plain() -> None:
    links = make_links(["VT1"], ["K1", "K2"], ["K2"])
    assert links.machine_link("VT1") == '<a href="machine-vt1.html">VT1</a>'
    assert links.machine_link("standby", "slate & black") == "slate &amp; black"
    assert links.machine_link("<b>") == "&lt;b&gt;"
    assert links.reel_link("K1") == '<a href="reels.html#reels-k1">K1</a>'
    assert links.reel_link("K2", "this") == '<a href="reel-k2.html">this</a>'
    assert links.reel_link("K3") == "K3"
    assert Links().reel_link(None) == "not recorded"


def test_the_list_of_reels_is_cut_where_a_part_is_full() -> None:
    links = make_links([], [f"R{number:04}" for number in range(REELS_A_PAGE + 1)], [])
    # Reels are numbered from 0, so the first part ends with the one before number 500.
    assert links.places["R0499"] == "reels.html#reels-r0499"
    assert links.places["R0500"] == "reels-2.html#reels-r0500"
    assert reels_page(2 * REELS_A_PAGE) == "reels-3.html"


def test_every_machine_and_reel_of_the_room_leads_somewhere(rendered: Rendered) -> None:
    """The room has four machines in its register, one of them with a name that tries to break a page."""
    links = read_site(rendered.store, SETTINGS, rendered.figures).links
    assert list(links.machines) == ["T1", "T2", "T3", HOSTILE_MACHINE]
    # T1 lost its picture on the one, so it has a page; the other, booked as protect, never left a machine.
    assert set(links.places) == {"K0101-air", "K0101-protect"}
    assert links.reels == {"K0101-air": "reel-k0101-air.html"}
    for page in (*links.machines.values(), *links.reels.values()):
        assert (rendered.out / page).is_file()

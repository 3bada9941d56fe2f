"""What stands on a page of lists, and figures that only pages print, added up from their parts."""

from __future__ import annotations

from dataclasses import replace

from pipeline.render.lines_entries import CAUSE_PARTS, JOINED, cause_names, entries, joined
from tests.render.made_up_evidence import MadeEvidence, MadeScope, stretches

CAUSES = [{"top": "heads", "second": "clogged"}, {"top": "unknown", "second": ""}]
FIGURES = {"causes": CAUSES, "months": [{"month": "2031-02", "causes": CAUSES[:1]}]}


def test_causes_stand_on_the_pages_of_all_and_of_a_month() -> None:
    assert cause_names(FIGURES, ("", "", "")) == ["heads: clogged", "unknown"]
    assert cause_names(FIGURES, ("2031-02", "", "")) == ["heads: clogged"]
    assert cause_names(FIGURES, ("2031-02", "One", "")) == cause_names(FIGURES, ("", "", "T1")) == []


def test_a_page_has_the_groups_figures_then_what_is_added_then_causes() -> None:
    scope = MadeScope(month="2031-02")
    found = list(entries(MadeEvidence((scope,), {"air_s": stretches(1)}), FIGURES, scope))
    assert [one.id for one in found] == ["air_s", *JOINED, *(f"cause-1.{part}" for part in CAUSE_PARTS)]
    assert found[-1].scope == replace(scope, cause="heads: clogged")
    assert found[-1].figure == CAUSE_PARTS[-1]


def test_what_only_pages_print_is_added_up_from_its_parts() -> None:
    scope = MadeScope()
    evidence = MadeEvidence((scope,), {"exposed_s": stretches(3), "unproved_s": stretches(1)})
    parts = {name: evidence.lines(name, scope) for name in ("exposed_s", "unproved_s")}
    both = joined("unprotected", scope, parts)
    assert both.value == both.total == 6.0  # 3 × 1.5 s + 1 × 1.5 s
    assert both.how == "exposed_s + unproved_s"
    wrong = {**parts, "unproved_s": replace(parts["unproved_s"], value=2.0)}
    assert joined("unprotected", scope, wrong).value != joined("unprotected", scope, wrong).total

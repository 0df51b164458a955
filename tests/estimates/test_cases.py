"""Every hand-written case raises its finding and no other stop; every rule has a case."""

from __future__ import annotations

import importlib
from collections import defaultdict
from collections.abc import Mapping

import pytest

from labkit.estimates.catalogue import catalogue
from labkit.estimates.check import told_once
from labkit.estimates.finding import Finding
from labkit.estimates.rules import Rule, rules
from tests.estimates.cases import Case, cases


def told(case: Case) -> list[Finding]:
    return case.checker().told(ph=case.ph)


def green(case: Case, findings: list[Finding]) -> bool:
    """Whether the case is satisfied by these findings."""
    others = [f for f in findings if f.severity == "stop" and f.code != case.code]
    if case.code is None:
        return not others
    hit = any(f.code == case.code and f.severity == case.severity for f in findings)
    return hit and not others


@pytest.mark.parametrize("case", cases(), ids=lambda case: f"{case.id} {case.title}")
def test_the_case_raises_its_finding_and_no_other_stop(case: Case) -> None:
    found = told_once(told(case))
    assert green(case, found), [str(f) for f in found]


def test_there_are_many_faulty_and_many_clean_cases() -> None:
    clean = [case for case in cases() if case.code is None]
    assert len(clean) >= 30
    assert len(cases()) - len(clean) >= 90


def test_deleting_any_one_rule_turns_exactly_its_cases_red() -> None:
    """Each rule, taken out of what was told, against every case."""
    everything = {case.id: (case, told(case)) for case in cases()}
    mine: dict[str, set[str]] = defaultdict(set)
    for case, _ in everything.values():
        if case.code is not None:
            mine[case.code].add(case.id)
    on_paper = {r.id for r in rules().values() if r.bench is None}
    own = {e.code for e in catalogue() if not e.code.startswith(("INC", "UL", "LS"))}
    assert not (on_paper | own) - set(mine), "rules without a case"
    for code, expected in mine.items():
        red = {
            case.id
            for case, findings in everything.values()
            if not green(case, told_once([f for f in findings if f.code != code]))
        }
        assert red == expected, code


@pytest.mark.parametrize("rule_id", ["INC01", "INC25", "INC58"])
def test_a_rule_taken_from_the_table_itself_goes_quiet(
    monkeypatch: pytest.MonkeyPatch, rule_id: str
) -> None:
    """The shorter way of the test above is the same as a table without the row."""
    fewer: Mapping[str, Rule] = {k: r for k, r in rules().items() if k != rule_id}
    check_module = importlib.import_module("labkit.estimates.check")
    monkeypatch.setattr("labkit.estimates.rules.rules", lambda: fewer)
    check_module._ready.cache_clear()
    try:
        for case in cases():
            if case.code == rule_id:
                assert not green(case, told_once(told(case))), case.id
    finally:
        check_module._ready.cache_clear()


def test_every_code_that_can_be_told_is_in_the_catalogue_with_a_source() -> None:
    known = {entry.code: entry for entry in catalogue()}
    for case in cases():
        for finding in told(case):
            assert finding.code in known
            assert finding.source
            assert finding.why
            assert finding.do
    assert all(entry.source and entry.question for entry in known.values())
    assert len(known) == len(catalogue())

"""A finding in itself: order, answers, records, and words that are never used."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest

from labkit import tables
from labkit.errors import DataFileError
from labkit.estimates.check import Checker, check, told_once
from labkit.estimates.finding import SEVERITIES, Finding, Findings
from labkit.estimates.needs import Bench, Form, Ph, Set, parse_needs
from labkit.estimates.rules import rules
from labkit.formula import Brief, Move
from tests.estimates.cases import DAY, cases, formula, materials

FORBIDDEN = re.compile(r"\b(safe|compliant|approved)\b", re.IGNORECASE)


def test_stops_come_first_then_checks() -> None:
    found = Findings(
        Finding(code=c, severity=s, what=c) for c, s in zip("abc", SEVERITIES[::-1], strict=True)
    )
    assert [f.severity for f in found] == ["stop", "check", "fyi"]
    assert (len(found.stops), len(found.checks), len(found.fyi)) == (1, 1, 1)
    assert found[:2].codes == ("c", "b")
    assert list(found.table()["severity"]) == ["stop", "check", "fyi"]


def test_an_accepted_finding_keeps_the_reason_and_the_materials() -> None:
    case = next(c for c in cases() if c.code == "INC03")
    finding = case.checker().findings(ph=case.ph).of("INC03")[0]
    record = finding.as_record("  tried at 0.3 %, no strings after a week ")
    assert record["reason"] == "tried at 0.3 %, no strings after a week"
    assert record["materials"] == ["Xanthan Gum", "Behentrimonium Methosulfate"]
    assert record["finding"] == "INC03"
    assert FORBIDDEN.search(str(record)) is None


def test_a_finding_as_plain_values_holds_its_move() -> None:
    move = Move(kind="set", line=1, material="x", percent=Decimal("0.5"))
    finding = Finding(code="A", severity="stop", what="a", move=move)
    assert finding.as_dict()["move"] == move.as_dict()
    assert "move" not in Finding(code="A", severity="fyi", what="a").as_dict()


def test_no_word_of_a_finding_promises_what_a_tool_cannot() -> None:
    for case in cases():
        for f in case.checker().told(ph=case.ph):
            assert FORBIDDEN.search(" ".join((f.what, f.why, f.do))) is None, f


def test_stops_of_harm_and_law_say_who_decides() -> None:
    for case in cases():
        for f in case.checker().told(ph=case.ph):
            if f.severity == "stop" and f.facts.get("kind") in ("harm", "law"):
                assert re.search("assessor|certificate", f.do), f


def test_an_empty_list_of_findings_does_not_praise() -> None:
    assert str(Findings()) == "Nothing found by the rules that were asked."
    assert FORBIDDEN.search(Findings()._repr_html_()) is None


def test_what_the_user_wrote_is_escaped() -> None:
    recipe = formula("Aqua qs | <b>bold</b> 3")
    html = check(recipe, materials(), Brief(product="x", leave_on=True), ph=5)._repr_html_()
    assert "<b>" not in html
    assert "&lt;b&gt;" in html


# --- the small language ---------------------------------------------------------------


def test_every_rule_of_the_table_is_understood() -> None:
    assert len(rules()) == len(tables.rows("incompatibilities"))
    assert all(rule.clauses for rule in rules().values())


def test_a_set_reads_words_that_must_all_hold() -> None:
    clause = parse_needs("[ionic:cationic class:surfactant | inci=Xanthan Gum] >= 0.05")[0]
    assert isinstance(clause, Set)
    assert clause.alternatives[0] == {("ionic", "cationic"), ("class", "surfactant")}
    assert clause.alternatives[1] == {("inci", "xanthan gum")}
    assert (clause.threshold, clause.strict) == (0.05, False)


def test_negations_and_forms_are_read() -> None:
    needs = "no [group:preservative] & not form: gel | lotion & not pH >= 10 & bench: hot fill"
    absent, form, ph, bench = parse_needs(needs)
    assert isinstance(absent, Set)
    assert absent.absent
    assert form == Form(forms=("gel", "lotion"), negated=True)
    assert ph == Ph(sign=">=", value=10.0, negated=True)
    assert bench == Bench(what="hot fill")


@pytest.mark.parametrize(
    "needs",
    ["[colour:blue]", "[ ]", "pH about 5", "market:", "[inci=]", "water", "form:", "salt > 5"],
)
def test_what_is_not_understood_is_refused(needs: str) -> None:
    with pytest.raises(DataFileError, match=r"INC99: .* is not understood"):
        parse_needs(needs, "INC99")


# --- deciding -------------------------------------------------------------------------


def test_an_array_is_decided_like_its_rows() -> None:
    """f(array) == [f(x) for x in array], with and without an interval of the pH."""
    import numpy as np

    for case in cases()[::7]:
        checker = case.checker()
        rng = np.random.default_rng(7)
        rows = rng.dirichlet(np.ones(len(case.formula.lines)), size=6) * 100
        rows[0] = checker.percent
        for ph in (None, 5.0, (5.0, 4.6, 5.4)):
            whole = checker.levels(rows.reshape(2, 3, -1), ph).reshape(6, -1)
            assert (whole == np.stack([checker.levels(r, ph) for r in rows])).all()


def test_many_rows_are_decided_in_pieces_alike() -> None:
    import numpy as np

    checker = cases()[0].checker()
    rows = np.tile(checker.percent, (5000, 1))
    ph = np.linspace(2, 9, 5000)
    levels = checker.levels(rows, ph)
    for k in (0, 2047, 2048, 4999):
        assert (levels[k] == checker.levels(rows[k], float(ph[k]))).all()


def test_the_order_of_lines_does_not_change_what_is_found() -> None:
    for case in cases():
        lines = case.formula.lines
        if len({x.phase for x in lines}) > 1 or len(lines) < 2:
            continue
        other = type(case.formula)("turned", lines[::-1], (), None)
        turned = Checker(other, materials(), case.brief, day=DAY).findings(ph=case.ph)
        plain = case.checker().findings(ph=case.ph)
        assert sorted((f.code, f.severity) for f in turned) == sorted(
            (f.code, f.severity) for f in plain
        ), case.id


def test_a_forecast_at_the_edge_makes_a_stop_a_check() -> None:
    gel = formula("Aqua qs | Carbomer 0.4 | Triethanolamine 0.4 | Phenoxyethanol 0.9")
    brief = Brief(product="gel", leave_on=True, as_of=DAY)
    sure = check(gel, materials(), brief, ph=(4.3, 3.9, 4.7)).of("INC09")
    edge = check(gel, materials(), brief, ph=(4.8, 4.4, 5.2)).of("INC09")
    clear = check(gel, materials(), brief, ph=(5.6, 5.2, 6.0)).of("INC09")
    assert [f.severity for f in (*sure, *edge)] == ["stop", "check"]
    assert "Measure the pH first" in edge[0].do
    assert not clear


def test_without_a_list_of_materials_everything_but_water_is_unknown() -> None:
    found = check(formula("Aqua qs | Carbomer 0.4"), None, Brief(product="gel", leave_on=True))
    assert found.of("UNK01")[0].names == ("Carbomer",)
    assert not found.stops


def test_nothing_is_said_to_be_missing_while_a_material_is_unknown() -> None:
    """The unknown line may be the preservative."""
    brief = Brief(product="toner", as_of=DAY)
    known = check(formula("Aqua qs | Rose hydrosol 50"), materials(), brief, ph=5.5)
    strange = formula("Aqua qs | Rose hydrosol 50 | Moonlight preserver 1")
    unknown = check(strange, materials(), brief, ph=5.5)
    assert [f.severity for f in known.of("INC58")] == ["stop"]
    assert [f.severity for f in unknown.of("INC58")] == ["check"]
    assert "Name the unknown materials first" in unknown.of("INC58")[0].do
    oily = "Aqua qs | Caprylic/Capric Triglyceride 15 | Phenoxyethanol 0.9{}"
    lotion = Brief(product="body lotion", as_of=DAY)
    assert check(formula(oily.format("")), materials(), lotion, ph=5).of("EMUL02")
    strange = formula(oily.format(" | Moonlight emulsifier 4"))
    assert not check(strange, materials(), lotion, ph=5).of("EMUL02")


def test_a_second_formula_with_the_same_lines_is_not_judged_by_the_first() -> None:
    brief = Brief(product="gel", leave_on=True, as_of=DAY)
    little = formula("Aqua qs | Carbomer 0.4 | Glycolic Acid 0.1 | Phenoxyethanol 0.9")
    much = little.move("Phenoxyethanol", "1.4 %")
    first = check(little, materials(), brief, ph=6)
    assert not first.stops
    assert check(much, materials(), brief, ph=6).stops.codes == ("UL026",)
    assert check(little, materials(), brief, ph=6) == first


def test_each_fact_is_told_once() -> None:
    case = next(c for c in cases() if c.code == "INC02")
    codes = [f.code for f in case.checker().told(ph=case.ph)]
    assert {"INC01", "INC02"} <= set(codes)
    once = [f.code for f in told_once(case.checker().told(ph=case.ph))]
    assert "INC01" not in once


def test_what_gives_way_is_known_and_nothing_gives_way_in_a_circle() -> None:
    from labkit.estimates.catalogue import catalogue

    known = {e.code for e in catalogue()}
    pairs = [(r["code"], r["yields_to"]) for r in tables.rows("finding_order")]
    assert {c for pair in pairs for c in pair} <= known
    assert not {(a, b) for a, b in pairs} & {(b, a) for a, b in pairs}
    assert len(set(pairs)) == len(pairs)

"""The charts of one formula: the numbers drawn against hand-worked ones and sources."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import numpy as np
import pytest

from labkit.charts import (
    Chart,
    colour_swatches,
    dry_down,
    flow_curve,
    required_hlb,
    titration,
    working_share,
)
from labkit.charts.drying import dose_on_skin
from labkit.errors import BriefError, FormulaError, MaterialError, ScienceError
from labkit.estimates import forecast
from labkit.formula import Brief, Formula
from labkit.materials import Materials
from labkit.science.rheology import viscosity

SVG = "{http://www.w3.org/2000/svg}"


def toner(lines: str, name: str = "Test toner") -> Formula:
    return Formula.parse(f"phase,material,percent\nA,Aqua,q.s.\n{lines}", name)


class TestTitration:
    def test_the_point_of_the_formula_is_its_forecast(
        self, cream: Formula, mats: Materials
    ) -> None:
        point = titration(cream, mats).panels[0].points[0]
        look = forecast(cream, mats).ph
        assert point.y == pytest.approx(look.value, abs=1e-6)
        assert (point.low, point.high) == pytest.approx((look.low, look.high), abs=1e-6)

    def test_a_base_only_raises_and_an_acid_only_lowers_the_ph(
        self, cream: Formula, mats: Materials
    ) -> None:
        for reagent, sign in (("Sodium hydroxide 18 % solution", 1), ("Lactic acid 80 %", -1)):
            (curve,) = titration(cream, mats, reagent).panels[0].curves
            assert (sign * np.diff(curve.y) >= -1e-9).all()

    def test_half_neutralised_lactic_acid_stands_near_its_pka(self, mats: Materials) -> None:
        """pKa of lactic acid 3.86 at 25 °C (Lange's Handbook); at half neutralisation the
        meter reads the pKa less the activity term, about 0.1 at this strength (Davies)."""
        formula = toner("A,Lactic acid 80 %,1")
        half_g = 0.8 / 90.08 / 2 * 40.0 / 0.18  # 1 g of 80 %: half its moles as 18 % NaOH
        (curve,) = titration(formula, mats, up_to=half_g).panels[0].curves
        assert curve.y[-1] == pytest.approx(3.78, abs=0.06)

    def test_the_doses_that_meet_the_window_do_meet_it(self, mats: Materials) -> None:
        formula = toner("A,Lactic acid 80 %,1")
        chart = titration(formula, mats, brief=Brief(product="toner", ph=(3.8, 4.2)))
        for point in chart.panels[0].points[1:]:
            made = formula.add("Sodium hydroxide 18 % solution", f"{point.x:.4f} %")
            assert forecast(made, mats).ph.value == pytest.approx(point.y, abs=0.005)
        (band,) = chart.panels[0].bands
        assert (band.low, band.high) == (3.8, 4.2)

    def test_an_unknown_reagent_names_near_ones(self, cream: Formula, mats: Materials) -> None:
        with pytest.raises(MaterialError, match="such as"):
            titration(cream, mats, "sodium hydroxid solution")
        with pytest.raises(MaterialError, match="no acid or base in it"):
            titration(cream, mats, "Glycerin")

    def test_without_a_rest_or_a_ph_it_is_refused(self, mats: Materials) -> None:
        fixed = Formula.parse("phase,material,percent\nA,Glycerin,99\nA,Lactic acid 80 %,1")
        with pytest.raises(FormulaError, match=r"no q\.s\. line"):
            titration(fixed, mats)
        with pytest.raises(FormulaError, match="is the q.s. line"):
            titration(
                Formula.parse("phase,material,percent\nA,Aqua,50\nA,Lactic acid 80 %,q.s."),
                mats, "Lactic acid 80 %",
            )  # fmt: skip
        with pytest.raises(FormulaError, match="no pH"):
            titration(Formula.parse("phase,material,percent\nB,Squalane,q.s.\nB,Beeswax,10"), mats)


class TestWorkingShare:
    @pytest.mark.parametrize(("ph", "percent"), [(5.5, 15.4), (5.0, 36.5), (4.76, 50.0)])
    def test_share_of_sorbate_with_the_source_of_its_pka(
        self, mats: Materials, ph: float, percent: float
    ) -> None:
        """Acceptance question 5. 1/(1 + 10^(pH - 4.76)), worked by hand; sorbic acid 4.76
        (Merck Index; 15 % at pH 5.5 is the trade's figure)."""
        formula = toner("A,Potassium Sorbate,0.3")
        chart = working_share(formula, mats, measured_ph=ph)
        point = chart.panels[0].points[0]
        assert point.y == pytest.approx(percent, abs=0.1)
        told = "\n".join(point.hover)
        assert "pKa 4.76" in told
        assert "pKa from: " in told
        source = forecast(formula, mats, measured_ph=ph).preservation.source
        assert "pKa 4.76 of Potassium Sorbate: " in source

    def test_a_full_line_only_inside_the_window(self, mats: Materials) -> None:
        chart = working_share(toner("A,Potassium Sorbate,0.3"), mats, measured_ph=5.0)
        dashed, full = chart.panels[0].curves
        assert dashed.dashed
        assert not full.dashed
        known = [x for x, y in zip(full.x, full.y, strict=True) if np.isfinite(y)]
        assert max(known) <= 5.5

    def test_a_preservative_that_does_not_ionise_is_flat(self, mats: Materials) -> None:
        chart = working_share(toner("A,Phenoxyethanol,0.9"), mats, measured_ph=6.0)
        assert set(chart.panels[0].curves[0].y) == {100.0}

    def test_the_upright_window_is_the_interval_of_the_forecast(
        self, cream: Formula, mats: Materials
    ) -> None:
        band = working_share(cream, mats).panels[0].bands[0]
        look = forecast(cream, mats).ph
        assert band.upright
        assert (band.low, band.high) == (look.low, look.high)
        assert "calculated" in band.words

    def test_no_preservative_is_said(self, mats: Materials) -> None:
        with pytest.raises(FormulaError, match="no preservative that labkit knows"):
            working_share(toner("A,Glycerin,3"), mats)


class TestRequiredHlb:
    def test_the_formula_stands_on_the_line_of_its_pair(self, mats: Materials) -> None:
        """Griffin: half and half of 15.0 and 4.3 is 9.65."""
        formula = toner("B,Mineral oil,20\nB,Polysorbate 80,2\nB,Sorbitan oleate,2")
        panel = required_hlb(formula, mats).panels[0]
        here, low, high = panel.points
        assert here.y == pytest.approx(9.65)
        assert here.x == pytest.approx(50.0)
        assert (low.y, high.y) == (4.3, 15.0)
        assert "reaches 4.3 to 15" in panel.title

    def test_each_oil_has_its_band_and_source(self, mats: Materials) -> None:
        """Acceptance question 8: the band where sources differ, with the sources."""
        formula = toner("B,Caprylic/Capric Triglyceride,10\nB,Polysorbate 80,2")
        (point,) = required_hlb(formula, mats).panels[1].points
        assert (point.low, point.high) == (5.0, 11.0)
        assert "handbook" in point.hover[1]
        assert "tutorial" in point.hover[1]

    def test_a_quat_is_left_out_and_named(self, mats: Materials) -> None:
        """Acceptance question 10."""
        base = "B,Mineral oil,20\nB,Polysorbate 80,2\nB,Sorbitan oleate,2"
        chart = required_hlb(toner(f"{base}\nB,Behentrimonium Methosulfate,3"), mats)
        assert "carry a charge: Behentrimonium methosulfate" in chart.note
        assert chart.panels[0].points[0].y == pytest.approx(9.65)

    def test_a_single_emulsifier_has_no_reach(self, mats: Materials) -> None:
        panel = required_hlb(toner("B,Mineral oil,20\nB,Polysorbate 80,3"), mats).panels[0]
        assert "alone: 15" in panel.title
        assert [p.y for p in panel.points] == [15.0]
        assert (panel.bands[0].low, panel.bands[0].high) == (10.0, 12.0)

    def test_a_pair_that_is_not_in_the_recipe_shows_its_reach(self, mats: Materials) -> None:
        pair = ("Polysorbate 20", "Sorbitan oleate")
        panel = required_hlb(toner("B,Mineral oil,20"), mats, pair=pair).panels[0]
        assert [p.y for p in panel.points] == [4.3, 16.7]
        with pytest.raises(MaterialError, match="it is cationic"):
            required_hlb(
                toner("B,Mineral oil,20"), mats, pair=("Polysorbate 20", "Behentrimonium chloride")
            )

    def test_no_oil_with_data_is_said(self, mats: Materials) -> None:
        with pytest.raises(FormulaError, match="no oil with a required HLB"):
            required_hlb(toner("A,Glycerin,5"), mats)


class TestFlowCurve:
    RATES = (0.5, 1, 2, 5, 10, 20, 50, 100)

    def pasted(self, tau0: float, k: float, n: float) -> str:
        rng = np.random.default_rng(3)
        rate = np.array(self.RATES)
        eta = np.asarray(
            viscosity("Herschel-Bulkley", {"tau0": tau0, "K": k, "n": n}, rate)
        ) * np.exp(rng.normal(0, 0.02, rate.size))
        rows = "\n".join(f"{g:g};{1000 * e:.0f}" for g, e in zip(rate, eta, strict=True))
        return f"shear rate (1/s);viscosity (mPa*s)\n{rows}"

    def test_the_true_parameters_lie_in_the_intervals(self) -> None:
        chart = flow_curve(self.pasted(20.0, 15.0, 0.4))
        found = chart.fits["Herschel-Bulkley"]
        for key, true in (("tau0", 20.0), ("K", 15.0), ("n", 0.4)):
            assert found.low[key] <= true <= found.high[key]
        table = chart.parameters()
        assert list(table["parameter"]) == ["tau0", "K", "n"]

    def test_points_are_the_readings_and_curves_stay_in_their_range(self) -> None:
        chart = flow_curve(self.pasted(20.0, 15.0, 0.4), ["power law", "Herschel-Bulkley"])
        panel = chart.panels[0]
        assert [p.x for p in panel.points] == list(self.RATES)
        assert all(min(c.x) >= 0.49 and max(c.x) <= 100.1 for c in panel.curves)
        assert panel.log
        assert panel.log_x
        assert "beyond is a guess" in chart.note

    def test_a_model_without_its_plateau_is_refused(self) -> None:
        with pytest.raises(ScienceError, match="no plateau at low shear"):
            flow_curve(self.pasted(20.0, 15.0, 0.4), "Carreau")


class TestDryDown:
    def test_water_leaves_and_humectants_and_oils_stay(
        self, cream: Formula, mats: Materials
    ) -> None:
        table = dry_down(cream, mats, Brief(product="hand cream")).table()
        start, end = (table[table["x"] == x].set_index("series")["y"] for x in (0.0, 60.0))
        assert end["water"] < 0.1 * start["water"]
        for group in ("humectants", "oils, waxes and emulsifiers"):
            assert end[group] == pytest.approx(start[group], rel=0.02)

    def test_the_film_begins_with_the_dose_of_the_product_type(
        self, cream: Formula, mats: Materials
    ) -> None:
        """Hand cream 2.16 g a day on 860 cm2, twice a day: 1.26 mg/cm2 (SCCS Notes of
        Guidance, 12th revision)."""
        table = dry_down(cream, mats, Brief(product="hand cream")).table()
        assert table[table["x"] == 0.0]["y"].sum() == pytest.approx(1.26, abs=0.01)

    def test_doses_without_a_row_follow_the_place_on_the_body(self) -> None:
        assert dose_on_skin(None) == (0.2, "common practice for the body")
        assert dose_on_skin(Brief(product="toner"))[0] == 1.3

    def test_the_band_holds_the_curve(self, cream: Formula, mats: Materials) -> None:
        panel = dry_down(cream, mats, dose_mg_cm2=1.0).panels[0]
        for curve, ribbon in zip(panel.curves, panel.ribbons, strict=True):
            middle, low, high = (np.array(v) for v in (curve.y, ribbon.low, ribbon.high))
            assert (low <= middle + 1e-12).all()
            assert (middle <= high + 1e-12).all()

    def test_volatile_silicones_and_alkanes_have_lines_of_their_own(self, mats: Materials) -> None:
        formula = toner("B,D5,8\nB,Isododecane,4\nB,Squalane,5\nB,Polysorbate 60,2")
        names = set(dry_down(formula, mats, dose_mg_cm2=0.2).table()["series"])
        assert {"Cyclopentasiloxane", "Isododecane"} <= names
        assert "Squalane" not in names

    def test_what_is_rinsed_off_leaves_no_film(self, cream: Formula, mats: Materials) -> None:
        with pytest.raises(BriefError, match="rinsed off"):
            dry_down(cream, mats, Brief(product="shampoo"))
        assert dry_down(cream, mats, Brief(product="shampoo"), dose_mg_cm2=0.1).panels


class TestSwatches:
    def test_the_jar_is_paler_than_the_beaker(self, cream: Formula, mats: Materials) -> None:
        swatches = colour_swatches(cream, mats, "#2060c0")
        beaker, jar = (
            [int(c[i : i + 2], 16) for i in (1, 3, 5)] for c in (swatches.beaker, swatches.jar)
        )
        assert all(j > b for b, j in zip(beaker, jar, strict=True))
        assert jar[2] == max(jar)

    def test_it_is_marked_as_an_impression_with_its_assumptions(
        self, cream: Formula, mats: Materials
    ) -> None:
        words = colour_swatches(cream, mats, "2060c0").html()
        assert "An impression on a screen, not a colour measurement." in words
        assert "Kubelka" in words
        assert "<script" not in words

    def test_a_colour_that_is_none_and_a_clear_product_are_refused(
        self, cream: Formula, mats: Materials
    ) -> None:
        with pytest.raises(ScienceError, match="A screen colour such as"):
            colour_swatches(cream, mats, "blue")
        with pytest.raises(ScienceError, match="oil phase that scatters"):
            colour_swatches(toner("A,Glycerin,5"), mats, "#2060c0")


def every_chart(cream: Formula, mats: Materials) -> list[Chart]:
    flow = TestFlowCurve().pasted(20.0, 15.0, 0.4)
    return [
        titration(cream, mats, brief=Brief(product="hand cream", ph=(4.8, 5.4))),
        working_share(cream, mats),
        required_hlb(cream, mats),
        flow_curve(flow, ["power law", "Herschel-Bulkley"]),
        dry_down(cream, mats),
    ]


def test_every_chart_is_drawn_both_ways_inside_its_picture(cream: Formula, mats: Materials) -> None:
    for chart in every_chart(cream, mats):
        root = ET.fromstring(chart.svg)
        _, _, width, height = (float(x) for x in root.attrib["viewBox"].split())
        for mark in root.iter(f"{SVG}circle"):
            assert 0 <= float(mark.attrib["cx"]) <= width
            assert 0 <= float(mark.attrib["cy"]) <= height
        for line in root.iter(f"{SVG}polyline"):
            ys = [float(p.split(",")[1]) for p in line.attrib["points"].split()]
            assert min(ys) >= 0
            assert max(ys) <= height
        assert "nan" not in chart.svg
        assert len(chart.figure.data) >= 2


def test_a_name_with_markup_stays_a_name(mats: Materials) -> None:
    formula = toner("B,Mineral oil,20\nB,Polysorbate 80,2\nC,Potassium Sorbate,0.3", "<b>x</b>")
    for chart in (
        working_share(formula, mats),
        required_hlb(formula, mats),
        dry_down(formula, mats),
    ):
        assert "<b>x" not in chart.html()
        ET.fromstring(chart.svg)
    assert "<b>x" not in colour_swatches(formula, mats, "#102030").html()

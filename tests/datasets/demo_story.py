"""The invented scenario: a small coastal teaching studio and its three products.

Nothing here is a real recipe or a real measurement. Each trial names its parent, what
changed, and why; the readings come from the plain laws below with seeded noise.
"""

from __future__ import annotations

from dataclasses import dataclass, field

__all__ = ["PRODUCTS", "Product", "Step"]


@dataclass(frozen=True)
class Step:
    """One trial: its parent, the changes made, the note, and what was seen."""

    label: str
    parent: str | None
    day: int
    note: str
    sets: dict[str, str] = field(default_factory=dict)
    swaps: dict[str, str] = field(default_factory=dict)
    adds: tuple[tuple[str, str, str], ...] = ()
    removes: tuple[str, ...] = ()
    seen: str = ""
    split: bool = False
    second_parent: str | None = None


@dataclass(frozen=True)
class Product:
    """A product with its first recipe, the law of its thickness, and its trials."""

    name: str
    recipe: str
    log_viscosity: float
    slopes: dict[str, float]
    ph_offset: float
    steps: tuple[Step, ...]


CREAM = Product(
    name="Harbour hand cream",
    recipe="""phase;material;percent;note
A;Aqua;q.s.;
A;Glycerin;5;
A;Xanthan Gum;0.2;sprinkle into the glycerin first
A;Disodium EDTA;0.1;
B;Caprylic/Capric Triglyceride;9;
B;Butyrospermum Parkii Butter;4;
B;Cetearyl Alcohol;2.5;
B;Glyceryl Stearate;2;
B;Polysorbate 60;1.5;
B;Sorbitan Stearate;1;
C;Sodium Benzoate;0.4;in a little of the water
C;Potassium Sorbate;0.2;
C;Tocopherol;0.2;below 40 °C
D;Citric Acid;0.05;10 % in water, to pH 5""",
    log_viscosity=4.1,
    slopes={
        "Xanthan Gum": 0.9,
        "Cetearyl Alcohol": 0.19,
        "Glyceryl Stearate": 0.09,
        "Butyrospermum Parkii Butter": 0.045,
        "Hydroxyethylcellulose": 0.8,
    },
    ph_offset=0.11,
    steps=(
        Step("HC-01", None, 0, "first draft, after the class recipe", seen="runs off the hand"),
        Step(
            "HC-02", "HC-01", 1, "more fatty alcohol for body",
            sets={"Cetearyl Alcohol": "3.5"}, seen="better, still soft",
        ),
        Step(
            "HC-03", "HC-02", 3, "a richer feel: more shea",
            sets={"Butyrospermum Parkii Butter": "6", "Caprylic/Capric Triglyceride": "7"},
            seen="rich, a little waxy",
        ),
        Step(
            "HC-04", "HC-02", 3, "gum instead of wax: is the feel lighter?",
            sets={"Xanthan Gum": "0.4"}, seen="lighter, slightly stringy",
        ),
        Step(
            "HC-05", "HC-03", 6, "pH was high for the preservative: more acid",
            sets={"Citric Acid": "0.1"}, seen="smooth",
        ),
        Step(
            "HC-06", "HC-05", 8, "fewer ethoxylates: polysorbate down, sorbitan ester up",
            sets={"Polysorbate 60": "0.4", "Sorbitan Stearate": "2.1"},
            seen="water at the bottom next morning: the pair's HLB fell to about 6, far under "
            "what this oil phase asks for",
            split=True,
        ),
        Step(
            "HC-07", "HC-05", 10, "back to the pair that held; a little more wax",
            sets={"Cetearyl Alcohol": "4"}, seen="stands in peaks, spreads well",
        ),
        Step(
            "HC-08", "HC-07", 13, "half of the gum of HC-04 in the base of HC-07",
            sets={"Xanthan Gum": "0.3"}, seen="full, no strings", second_parent="HC-04",
        ),
        Step(
            "HC-09", "HC-08", 16, "more glycerin for the winter version",
            sets={"Glycerin": "7"}, seen="tacky for a minute, then soft",
        ),
        Step(
            "HC-10", "HC-08", 17, "repeat of HC-08 by the second group, same lots",
            seen="as HC-08",
        ),
        Step(
            "HC-11", "HC-10", 21, "a touch less wax, to the middle of the window",
            sets={"Cetearyl Alcohol": "3.8"}, seen="kept: the one we hand out",
        ),
    ),
)  # fmt: skip

CONDITIONER = Product(
    name="Low tide conditioner",
    recipe="""phase;material;percent;note
A;Aqua;q.s.;
A;Glycerin;2;
B;Cetearyl Alcohol;4;
B;Behentrimonium Chloride;1.5;80 % flakes, mind the dust
B;Isopropyl Myristate;1.5;
C;Panthenol;0.5;
C;Sodium Benzoate;0.4;
C;Potassium Sorbate;0.2;
D;Lactic Acid;0.25;80 %, to pH 4.4""",
    log_viscosity=3.6,
    slopes={
        "Cetearyl Alcohol": 0.16,
        "Behentrimonium Chloride": 0.14,
        "Hydroxyethylcellulose": 0.75,
        "Xanthan Gum": -1.5,
        "Isopropyl Myristate": -0.04,
    },
    ph_offset=-0.08,
    steps=(
        Step("RC-01", None, 2, "first draft", seen="pours, combs well"),
        Step(
            "RC-02", "RC-01", 4, "thicker with fatty alcohol",
            sets={"Cetearyl Alcohol": "5"}, seen="drops from the spoon",
        ),
        Step(
            "RC-03", "RC-02", 7, "a gum for body",
            adds=(("A", "Xanthan Gum", "0.3"),),
            seen="strings and grains within the hour: the gum carries a negative charge and "
            "met the quat",
            split=True,
        ),
        Step(
            "RC-04", "RC-02", 9, "a gum without charge instead",
            adds=(("A", "Hydroxyethylcellulose", "0.3"),), seen="smooth, mounds",
        ),
        Step(
            "RC-05", "RC-04", 11, "more quat for long hair",
            sets={"Behentrimonium Chloride": "2"}, seen="soft, a little heavy",
        ),
        Step(
            "RC-06", "RC-04", 11, "lighter ester, less of it",
            sets={"Isopropyl Myristate": "1"}, seen="lighter",
        ),
        Step(
            "RC-07", "RC-05", 14, "pH a little lower",
            sets={"Lactic Acid": "0.3"}, seen="shiny",
        ),
        Step(
            "RC-08", "RC-07", 18, "repeat of RC-07", seen="as RC-07",
        ),
        Step(
            "RC-09", "RC-08", 20, "oat protein for the label story",
            adds=(("C", "Hydrolyzed Oat Protein", "1"),), seen="no difference felt",
        ),
    ),
)  # fmt: skip

SERUM = Product(
    name="Dune gel serum",
    recipe="""phase;material;percent;note
A;Aqua;q.s.;
A;Propanediol;4;
A;Carbomer;0.3;sprinkle, let it swell
A;Disodium EDTA;0.05;
B;Panthenol;1;
B;Niacinamide;2;
B;Phenoxyethanol (and) Ethylhexylglycerin;1;
C;Arginine;0.3;last, to pH 6""",
    log_viscosity=3.95,
    slopes={
        "Carbomer": 2.2,
        "Sodium PCA": -0.55,
        "Sodium Hyaluronate": 1.1,
        "Niacinamide": -0.03,
    },
    ph_offset=0.05,
    steps=(
        Step("GS-01", None, 5, "first draft", seen="clear, soft gel"),
        Step(
            "GS-02", "GS-01", 7, "firmer", sets={"Carbomer": "0.4", "Arginine": "0.4"},
            seen="firm, clear",
        ),
        Step(
            "GS-03", "GS-02", 9, "a salt humectant that holds water well",
            adds=(("B", "Sodium PCA", "3"),),
            seen="turned to water under the spoon: the salt screens the charges of the gel",
            split=True,
        ),
        Step(
            "GS-04", "GS-02", 12, "a humectant without charge instead",
            adds=(("B", "Betaine", "2"),), seen="firm, less tacky",
        ),
        Step(
            "GS-05", "GS-04", 14, "a trace of hyaluronate for slip",
            adds=(("B", "Sodium Hyaluronate", "0.05"),), seen="slips, a little softer on top",
        ),
        Step(
            "GS-06", "GS-05", 15, "less gum to make room for it",
            sets={"Carbomer": "0.35", "Arginine": "0.35"}, seen="pumps well",
        ),
        Step(
            "GS-07", "GS-05", 15, "more niacinamide",
            sets={"Niacinamide": "4"}, seen="the same to the touch",
        ),
        Step("GS-08", "GS-06", 19, "repeat of GS-06", seen="as GS-06"),
        Step(
            "GS-09", "GS-08", 22, "propanediol up, for the dry season",
            sets={"Propanediol": "6"}, seen="kept for the course",
        ),
    ),
)  # fmt: skip

PRODUCTS = (CREAM, CONDITIONER, SERUM)

"""What is said with each correction: how it is done, and what to ask first (common practice)."""

from __future__ import annotations

from collections.abc import Mapping

from labkit.materials import Material

__all__ = ["HOW", "NEEDS", "OTHER_NAMES", "SPLIT", "TROUBLES", "WANTED", "how_to_add"]

_STOCK = "material to strength carrier"
NEEDS: Mapping[str, str] = {
    "too thin": _STOCK,
    "too thick": "water material",
    "pH high": "material strength carrier sample dose",
    "pH low": "material strength carrier sample dose",
    "weak colour": _STOCK,
    "weak scent": f"{_STOCK} ceiling",
    "evaporated": "vessel gross",
    "overpoured": "material by room",
    "forgotten": "material",
    "too little": _STOCK,
    "too much": "material to room",
    "split": "",
    "air": "",
}
TROUBLES = tuple(NEEDS)
"""What a batch can suffer from, as `correct` takes it."""

OTHER_NAMES: Mapping[str, str] = {
    "thin": "too thin",
    "thick": "too thick",
    "ph too high": "pH high",
    "ph too low": "pH low",
    "colour weak": "weak colour",
    "scent weak": "weak scent",
    "smell weak": "weak scent",
    "weak smell": "weak scent",
    "evaporation": "evaporated",
    "water lost": "evaporated",
    "reach": "too little",
    "add to reach": "too little",
    "curdled": "split",
    "separated": "split",
}
WANTED: Mapping[str, str] = {
    "material": "The material to add, as it stands in the formula",
    "to": "The percentage wanted, such as to='0.45 %'",
    "water": "Grams to stir in, such as water='4 g'",
    "sample": "The weight of the titrated sample, such as sample='10 g'",
    "dose": "The stock that brought the sample to the pH, such as dose='0.18 g'",
    "vessel": "The empty vessel, such as vessel='212.4 g'",
    "gross": "Vessel and batch now, such as gross='307.15 g'",
    "by": "Grams too much, such as by='1.2 g'",
}
HOW: Mapping[str, tuple[str, ...]] = {
    "too thin": (
        "First ask why: a carbomer that is not neutralised, a gum that lost to salt, waxes that "
        "set without stirring; or only not yet 24 h old.",
    ),
    "too thick": (
        "Stir the water in slowly, at the temperature of the batch; look again after 24 h.",
        "Everything else falls: restore preservative, chelator and fragrance.",
    ),
    "pH": (
        "Goggles and gloves; drop by drop under slow stirring, at 25 °C.",
        "Write down what was really added, and read the pH again the next day.",
        "What works by its pH is worked out anew: give ph= for the findings.",
    ),
    "weak colour": (
        "Judge the finished, cooled product: the water phase looks darker than the cream.",
        "Weigh a 0.1 to 1 % stock, never milligrams of dye.",
    ),
    "weak scent": (
        "Below 40 °C, stir 5 to 10 min; judge after 24 h.",
        "Count the allergens anew: the ingredient list may change.",
    ),
    "evaporated": (
        "Hot purified water, at the temperature of the batch, before homogenising.",
        "If it is left out, the percentages are those of 'before'.",
    ),
    "overpoured": (
        "Only while each line can still go in as it should: waxes need the heat of the oil phase.",
        "Or take it as it is: 'before' is what the beaker holds.",
    ),
    "forgotten": ("Ask whether it can still go in: heat, pH, and where the emulsion is.",),
    "air": (
        "Stand it warm, stir slowly below the surface, use a vacuum where there is one.",
        "Do not fill by volume before the density is right.",
    ),
}
SPLIT = (
    "Nothing that is stirred in brings a split batch back as it was planned; the cause comes "
    "first.",
    "Look in this order: charges (cationic beside anionic), HLB, temperature of the phases when "
    "they met, order of addition.",
    "No more emulsifier before the cause is named.",
    "Keep a jar and a photo; record the trial as split, and change one thing in the next.",
)
_BY_FUNCTION: Mapping[str, str] = {
    "co-emulsifier": "Waxes and fatty alcohols need the batch at 70 to 75 °C again, and stirring "
    "through the set point.",
    "surfactant": "Last, slowly, without foam.",
    "preservative": "Mix 5 to 10 min; the pH may move: read it again.",
    "fragrance": "Below 40 °C.",
    "pH adjuster": "As a stock, drop by drop, on a small sample first.",
}


def how_to_add(material: Material | None) -> tuple[str, ...]:
    """How a material goes into a batch that is made already; its cautions first."""
    if material is None:
        return ()
    said = list(material.hazards)
    if material.charge_class == "polymer" and "thickener" in " ".join(material.functions):
        said.append(
            "Pre-wet a gum in 5 to 10 parts of glycerin or glycol of the formula (weigh them "
            "in as well), sprinkle, let it swell 30 min."
        )
    said += [words for name, words in _BY_FUNCTION.items() if name in material.functions[:1]]
    if material.heat_limit_c is not None and material.heat_limit_c < 60:
        said.append(f"Not above {material.heat_limit_c:g} °C.")
    return tuple(said)

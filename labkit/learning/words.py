"""Function words: what each word means to the learner before the first trial.

Prior slopes are common practice of the authors, in log10 units of viscosity per unit of the
feature (per decade for ``log``, per percentage point for ``linear``). They are weak: the trials
take over by about the twelfth.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from labkit.formula.names import is_water


@dataclass(frozen=True, slots=True)
class Slope:
    """Prior of one function word: feature kind (``log`` or ``linear``), offset in %, mean, sd."""

    kind: str
    offset: float
    mean: float
    sd: float


SLOPES: dict[str, Slope] = {
    "thickener": Slope("log", 0.08, 1.1, 0.6),
    "polyacid": Slope("log", 0.05, 1.0, 0.8),
    "fatty alcohol": Slope("linear", 0.0, 0.15, 0.10),
    "co-emulsifier": Slope("linear", 0.0, 0.08, 0.08),
    "emulsifier": Slope("linear", 0.0, 0.05, 0.12),
    "cationic": Slope("linear", 0.0, 0.12, 0.12),
    "solid fat": Slope("linear", 0.0, 0.04, 0.05),
    "light emollient": Slope("linear", 0.0, -0.02, 0.03),
    "emollient": Slope("linear", 0.0, 0.0, 0.03),
    "humectant": Slope("linear", 0.0, 0.0, 0.03),
    "active": Slope("linear", 0.0, 0.0, 0.04),
    "electrolyte": Slope("log", 0.1, -0.15, 0.25),
    "buffer salt": Slope("log", 0.1, -0.1, 0.25),
    "preservative salt": Slope("log", 0.1, -0.05, 0.15),
    "preservative": Slope("linear", 0.0, 0.0, 0.10),
    "fragrance": Slope("linear", 0.0, 0.0, 0.10),
    "acid": Slope("log", 0.05, 0.0, 0.3),
    "base": Slope("log", 0.05, 0.0, 0.4),
    "unknown": Slope("log", 0.1, 0.0, 1.0),
}
WATER_WORDS = frozenset({"water", "filler", "q.s."})

# words of the materials list -> words of the learner
MEANING: dict[str, str] = {
    "solvent": "humectant",
    "carrier": "humectant",
    "hydrosol": "humectant",
    "surfactant": "emulsifier",
    "solubiliser": "emulsifier",
    "foam booster": "co-emulsifier",
    "stabiliser": "thickener",
    "suspending agent": "thickener",
    "thickener for surfactants": "thickener",
    "thickener for oils": "solid fat",
    "stabiliser w/o": "solid fat",
    "conditioning agent": "cationic",
    "silicone": "light emollient",
    "silky ester": "light emollient",
    "volatile emollient": "light emollient",
    "gloss": "emollient",
    "occlusive": "solid fat",
    "soap": "emulsifier",
    "extract": "active",
    "antioxidant": "active",
    "colourant": "active",
    "soothing": "active",
    "powder": "active",
    "absorbent": "active",
    "exfoliant": "active",
    "texture": "active",
    "opacifier": "active",
    "slip": "light emollient",
    "chelator": "buffer salt",
    "buffer": "buffer salt",
    "buffer (historic)": "buffer salt",
    "pH adjuster": "base",
    "preservative booster": "preservative",
    "preservative aid": "preservative",
    "booster": "preservative",
    "antimicrobial aid": "preservative",
    "film former": "unknown",
}


def meaning(word: str | None, name: str = "") -> str:
    """The learner's word for a function word; unknown words get the widest prior.

    Examples
    --------
    >>> meaning("silicone"), meaning("something new"), meaning("solvent", "Aqua")
    ('light emollient', 'unknown', 'water')
    """
    given = (word or "").strip()
    folded = given.lower()
    if folded in WATER_WORDS or is_water(name):
        return "water"
    if folded in SLOPES:
        return folded
    return MEANING.get(given) or MEANING.get(folded, "unknown")


def word_of(material: Any) -> str:
    """The learner's word for a material, from its functions, phase, charge and groups."""
    functions: Sequence[str] = tuple(material.functions or ())
    first = functions[0] if functions else ""
    charge, inci = material.charge, (material.inci or "").lower()
    if is_water(inci):
        return "water"
    for test, word in _RULES:
        if test(functions, charge, inci, material):
            return word
    return meaning(first)


def _has(functions: Iterable[str], *words: str) -> bool:
    return any(f.startswith(words) for f in functions)


def _fatty_alcohol(inci: str) -> bool:
    stems = ("cetyl", "cetearyl", "stearyl", "behenyl", "myristyl", "arachidyl")
    return inci.endswith(" alcohol") and inci.startswith(stems)


def _polyacid(functions: Iterable[str], charge: str | None, inci: str) -> bool:
    if not _has(functions, "thickener", "stabiliser") or "starch" in inci:
        return False
    return "carbomer" in inci or "acryl" in inci


# most telling first
_RULES: tuple[tuple[Any, str], ...] = (
    (lambda f, c, i, m: _fatty_alcohol(i), "fatty alcohol"),
    (lambda f, c, i, m: _polyacid(f, c, i), "polyacid"),
    (lambda f, c, i, m: i.startswith(("sodium chloride", "magnesium sul")), "electrolyte"),
    (lambda f, c, i, m: c == "acid" and _has(f, "pH adjuster", "exfoliant", "buffer"), "acid"),
    (lambda f, c, i, m: c == "base", "base"),
    (lambda f, c, i, m: _has(f, "pH adjuster") and "hydroxide" in i, "base"),
    (lambda f, c, i, m: _has(f, "preservative") and c == "small-ion", "preservative salt"),
    (lambda f, c, i, m: _has(f, "preservative") and i.startswith(("sodium ", "potassium ")),
     "preservative salt"),
    (lambda f, c, i, m: c == "small-ion" and _has(f, "buffer", "chelator"), "buffer salt"),
    (lambda f, c, i, m: c == "cationic" and m.charge_class == "surfactant", "cationic"),
    (lambda f, c, i, m: _has(f[:1], "thickener") and m.phase == "oil", "solid fat"),
    (lambda f, c, i, m: "emollient" in f and _solid(i), "solid fat"),
    (lambda f, c, i, m: "emollient" in f and _light(i), "light emollient"),
)  # fmt: skip


def _solid(inci: str) -> bool:
    words = ("butter", "wax", " cera", "cera ", "stearic acid", "hydrogenated", "behenate")
    return any(word in inci for word in words)


def _light(inci: str) -> bool:
    stems = ("isopropyl", "ethylhexyl", "isoamyl", "isononyl", "dicaprylyl", "coco-caprylate")
    more = ("alkyl benzoate", "undecane", "hemisqualane", "isododecane", "dimethicone")
    return inci.startswith(stems) or any(word in inci for word in more)

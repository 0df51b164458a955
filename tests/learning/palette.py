"""Materials of the simulated benches: INCI names, function words, and hidden strengths.

All numbers are invented for the simulation; only their orders of magnitude are common practice.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Simulated:
    """One simulated material: its word, usual range in %, and typical hidden strength."""

    word: str
    low: float
    high: float
    step: float
    strength: float = 0.0
    exponent: float = 1.0


PALETTE: dict[str, Simulated] = {
    "Xanthan Gum": Simulated("thickener", 0.1, 0.8, 0.1, 4.45, 1.9),
    "Hydroxyethylcellulose": Simulated("thickener", 0.1, 1.0, 0.1, 4.05, 2.4),
    "Sclerotium Gum": Simulated("thickener", 0.1, 0.9, 0.1, 4.35, 2.0),
    "Cellulose Gum": Simulated("thickener", 0.1, 1.0, 0.1, 3.9, 2.2),
    "Carbomer": Simulated("polyacid", 0.1, 0.5, 0.05, 5.05, 1.2),
    "Acrylates/C10-30 Alkyl Acrylate Crosspolymer": Simulated(
        "polyacid", 0.1, 0.5, 0.05, 4.95, 1.3
    ),
    "Cetearyl Alcohol": Simulated("fatty alcohol", 0.5, 6.0, 0.5, 1.0),
    "Cetyl Alcohol": Simulated("fatty alcohol", 0.5, 6.0, 0.5, 0.85),
    "Stearyl Alcohol": Simulated("fatty alcohol", 0.5, 5.0, 0.5, 1.05),
    "Glyceryl Stearate": Simulated("co-emulsifier", 0.5, 4.0, 0.5, 0.45),
    "Glyceryl Stearate SE": Simulated("co-emulsifier", 0.5, 4.0, 0.5, 0.55),
    "Cetearyl Glucoside": Simulated("emulsifier", 1.0, 4.0, 0.5, 1.0),
    "Polysorbate 60": Simulated("emulsifier", 0.5, 4.0, 0.5, 0.8),
    "Ceteareth-20": Simulated("emulsifier", 0.5, 3.5, 0.5, 1.1),
    "PEG-100 Stearate": Simulated("emulsifier", 0.5, 3.5, 0.5, 0.95),
    "Behentrimonium Chloride": Simulated("cationic", 0.5, 4.0, 0.5, 1.4),
    "Cetrimonium Chloride": Simulated("cationic", 0.5, 4.0, 0.5, 1.1),
    "Butyrospermum Parkii Butter": Simulated("solid fat", 0.0, 6.0, 1.0, 0.035),
    "Cera Alba": Simulated("solid fat", 0.0, 3.0, 0.5, 0.09),
    "Isopropyl Myristate": Simulated("light emollient", 0.0, 8.0, 1.0, -0.025),
    "C12-15 Alkyl Benzoate": Simulated("light emollient", 0.0, 8.0, 1.0, -0.015),
    "Caprylic/Capric Triglyceride": Simulated("emollient", 0.0, 12.0, 1.0, 0.0),
    "Helianthus Annuus Seed Oil": Simulated("emollient", 0.0, 12.0, 1.0, 0.005),
    "Squalane": Simulated("emollient", 0.0, 8.0, 1.0, -0.005),
    "Glycerin": Simulated("humectant", 1.0, 10.0, 1.0, 0.008),
    "Propanediol": Simulated("humectant", 1.0, 8.0, 1.0, -0.006),
    "Niacinamide": Simulated("active", 0.0, 5.0, 1.0, 0.0),
    "Panthenol": Simulated("active", 0.0, 3.0, 0.5, 0.01),
    "Sodium Chloride": Simulated("electrolyte", 0.0, 1.0, 0.2),
    "Magnesium Sulfate": Simulated("electrolyte", 0.0, 1.0, 0.2),
    "Sodium Citrate": Simulated("buffer salt", 0.0, 0.6, 0.1),
    "Sodium Benzoate": Simulated("preservative salt", 0.2, 0.6, 0.1),
    "Potassium Sorbate": Simulated("preservative salt", 0.1, 0.4, 0.1),
    "Phenoxyethanol": Simulated("preservative", 0.4, 1.0, 0.1, -0.04),
    "Benzyl Alcohol": Simulated("preservative", 0.3, 0.9, 0.1, -0.06),
    "Parfum": Simulated("fragrance", 0.0, 0.8, 0.2, -0.04),
    "Citric Acid": Simulated("acid", 0.0, 0.4, 0.04),
    "Lactic Acid": Simulated("acid", 0.0, 0.6, 0.05),
    "Sodium Hydroxide": Simulated("base", 0.0, 0.3, 0.02),
    "Triethanolamine": Simulated("base", 0.0, 1.0, 0.1),
    "Aqua": Simulated("water", 0.0, 100.0, 0.0),
}

NAMES: tuple[str, ...] = tuple(PALETTE)
FUNCTIONS: dict[str, str] = {name: item.word for name, item in PALETTE.items()}

# pKa values as the acid side of each system sees them (25 C): citric, lactic, benzoic and sorbic
# acids, triethanolamine and a two-step stand-in for a polyacrylic acid; from memory.
SYSTEMS: dict[str, tuple[tuple[float, ...], int]] = {
    "citric": ((3.13, 4.76, 6.40), 0),
    "lactic": ((3.86,), 0),
    "benzoic": ((4.20,), 0),
    "sorbic": ((4.76,), 0),
    "tea": ((7.76,), 1),
    "acrylic": ((5.9,), 0),
    "strong": ((), 0),
}
# (system, mol of it per g, mol of cation charge per g) from molar masses.
CONTENT: dict[str, tuple[str, float, float]] = {
    "Citric Acid": ("citric", 1 / 192.12, 0.0),
    "Sodium Citrate": ("citric", 1 / 294.10, 3 / 294.10),
    "Lactic Acid": ("lactic", 0.9 / 90.08, 0.0),
    "Sodium Benzoate": ("benzoic", 1 / 144.10, 1 / 144.10),
    "Potassium Sorbate": ("sorbic", 1 / 150.22, 1 / 150.22),
    "Triethanolamine": ("tea", 1 / 149.19, 0.0),
    "Carbomer": ("acrylic", 1 / 76.0, 0.0),
    "Acrylates/C10-30 Alkyl Acrylate Crosspolymer": ("acrylic", 1 / 90.0, 0.0),
    "Sodium Hydroxide": ("strong", 0.0, 1 / 40.0),
}
# Ionic strength in mol/kg per 1 % of a fully dissociated salt or quat in the batch.
IONIC: dict[str, float] = {
    "Sodium Chloride": 0.171,
    "Magnesium Sulfate": 0.162,
    "Sodium Citrate": 0.20,
    "Sodium Benzoate": 0.069,
    "Potassium Sorbate": 0.067,
    "Behentrimonium Chloride": 0.006,
    "Cetrimonium Chloride": 0.009,
    "Sodium Hydroxide": 0.12,
    "Citric Acid": 0.02,
    "Lactic Acid": 0.02,
    "Triethanolamine": 0.03,
}

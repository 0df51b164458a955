from __future__ import annotations

import numpy as np
import pytest

from labkit.learning.features import FeatureMap
from labkit.learning.words import MEANING, SLOPES, meaning, word_of
from labkit.materials import Materials
from tests.learning.palette import FUNCTIONS


def test_every_word_of_the_materials_list_has_a_meaning() -> None:
    words = {w for m in Materials.starter().values() for w in m.functions}
    unknown = sorted(w for w in words if meaning(w) == "unknown" and w not in MEANING)
    assert len(unknown) <= 0.1 * len(words), unknown


def test_every_meaning_is_a_word_with_a_prior() -> None:
    assert set(MEANING.values()) <= set(SLOPES)


@pytest.mark.parametrize(("name", "word"), sorted(FUNCTIONS.items()))
def test_materials_of_the_list_are_recognised_by_what_they_do(name: str, word: str) -> None:
    material = Materials.starter().resolve(name)
    assert material is not None
    near = {
        "Glyceryl Stearate SE": ("co-emulsifier", "emulsifier"),  # sold as either
        "Panthenol": ("active", "humectant"),
    }
    assert word_of(material) in near.get(name, (word,))


def feature_map() -> tuple[FeatureMap, np.ndarray]:
    names = ("Aqua", "Xanthan Gum", "Sclerotium Gum", "Cetyl Alcohol", "Polysorbate 60", "Carbomer")
    words = ("water", "thickener", "thickener", "fatty alcohol", "emulsifier", "polyacid")
    base = np.array([94.2, 0.3, 0.0, 3.0, 2.0, 0.5])
    return FeatureMap.build(names, words, base, 5.5), base


def test_the_reference_formula_is_the_origin() -> None:
    form, base = feature_map()
    assert form.rows(base[None], np.zeros((1, 3)), np.array([5.5])) == pytest.approx(0.0, abs=1e-12)


def test_swapping_one_gum_for_another_leaves_the_total_of_the_class() -> None:
    form, base = feature_map()
    swapped = base.copy()
    swapped[[1, 2]] = 0.0, 0.3
    row = form.rows(swapped[None], np.zeros((1, 3)), np.array([5.5]))[0]
    labels = [f.label for f in form.features]
    assert row[labels.index("all thickeners")] == pytest.approx(0.0, abs=1e-12)
    assert row[labels.index("Sclerotium Gum, its share")] > 0.5


def test_a_gel_network_needs_emulsifier_to_carry_the_fatty_alcohol() -> None:
    form, base = feature_map()
    at = [f.label for f in form.features].index("gel network")
    rows = []
    for fatty, carrier in ((3.0, 2.0), (3.0, 0.3), (6.0, 0.3), (6.0, 3.0)):
        x = base.copy()
        x[[3, 4]] = fatty, carrier
        rows.append(form.rows(x[None], np.zeros((1, 3)), np.array([5.5]))[0, at])
    assert rows[1] < rows[0] < rows[3]
    assert rows[1] == pytest.approx(rows[2])


def test_doubt_about_ph_matters_on_the_cliff_and_not_above_it() -> None:
    form, base = feature_map()
    low = form.ph_doubt(base[None], np.array([4.8]), 0.2)[0]
    high = form.ph_doubt(base[None], np.array([7.0]), 0.2)[0]
    assert low > 100 * high
    assert form.ph_doubt(base[None] * [1, 1, 1, 1, 1, 0], np.array([4.8]), 0.2)[0] == 0.0


def test_ingredients_of_one_function_share_half_the_variance() -> None:
    names, words = ("Aqua", "A", "B"), ("water", "emollient", "emollient")
    form = FeatureMap.build(names, words, np.array([80.0, 10, 10]), 5.5)
    c = form.prior().covariance
    assert c[0, 1] == pytest.approx(0.5 * c[0, 0])

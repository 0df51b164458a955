"""Arithmetic of exposure as the SCCS Notes of Guidance set it out.

It shows the number, its inputs and the reference line of 100. A qualified safety assessor
decides.
"""

from __future__ import annotations

import numpy.typing as npt

from labkit.errors import ScienceError
from labkit.science.bounds import Numbers, given, plain
from labkit.tables import rows

REFERENCE_LINE = 100.0  # 10 between species times 10 between people, SCCS Notes of Guidance


def application_dose(product_type: str) -> float:
    """Product on the skin after one application, from the exposure table.

    Parameters
    ----------
    product_type : str
        As in ``datasets/exposure.csv``: ``"Body lotion"``, ``"Face cream"``, ``"Hand cream"`` …

    Returns
    -------
    float
        [mg/cm2]; the dose to start `labkit.science.evaporation.dry_down` from.

    Raises
    ------
    ScienceError
        A product type without amount, skin area or number of applications in the table.

    Notes
    -----
    amount per day / (skin area x applications per day), SCCS Notes of Guidance, 12th revision.

    Examples
    --------
    >>> round(application_dose("body lotion"), 2), round(application_dose("hand cream"), 2)
    (0.22, 1.26)
    """
    wanted = product_type.strip().casefold()
    facts = {
        row["property"]: float(row["value"])
        for row in rows("exposure")
        if (row["product_type"] or "").casefold() == wanted and row["value"] is not None
    }
    needed = ("amount", "skin_area", "applications")
    if any(facts.get(key, 0.0) <= 0.0 for key in needed):
        raise ScienceError(
            where=product_type,
            found="no amount on an area of skin in the exposure table",
            allowed="A product type with amount, skin area and applications in the table",
            cause="It is rinsed off the mouth, sprayed or used by the week, or spelt otherwise",
            do="Give the dose in mg/cm2, from weighing what is applied",
        )
    return facts["amount"] * 1e3 / (facts["skin_area"] * facts["applications"])


def product_exposure(amount_mg_kg_day: npt.ArrayLike, retention: npt.ArrayLike) -> Numbers:
    """Product that stays on the skin in a day.

    Parameters
    ----------
    amount_mg_kg_day : float or array-like, shape S
        Applied [mg/kg body weight/day].
    retention : float or array-like, shape S
        1 for a leave-on, 0.01 for a rinse-off (SCCS) [-].

    Returns
    -------
    float or ndarray, shape S
        [mg/kg body weight/day]

    Raises
    ------
    ScienceError
        A negative amount, or a retention outside 0-1.

    Notes
    -----
    amount x retention, SCCS Notes of Guidance, 12th revision (SCCS/1647/22), table 3A.

    Examples
    --------
    >>> round(product_exposure(57.4, 0.1), 2)
    5.74
    """
    amount = given(amount_mg_kg_day, "Amount applied", "mg/kg/day", 0.0)
    return plain(amount * given(retention, "Retention factor", "", 0.0, 1.0))


def systemic_dose(
    product_mg_kg_day: npt.ArrayLike,
    concentration_percent: npt.ArrayLike,
    absorption_percent: npt.ArrayLike = 50.0,
) -> Numbers:
    """Systemic exposure dose from an absorbed percentage.

    Parameters
    ----------
    product_mg_kg_day : float or array-like, shape S
        From `product_exposure` [mg/kg/day].
    concentration_percent : float or array-like, shape S
        Of the ingredient in the product [%].
    absorption_percent : float or array-like, shape S
        Through the skin; 50 when nothing is known (SCCS default) [%].

    Returns
    -------
    float or ndarray, shape S
        [mg/kg/day]

    Raises
    ------
    ScienceError
        A percentage outside 0-100, or a negative amount.

    Notes
    -----
    SED = E x C/100 x DA/100, SCCS Notes of Guidance.

    Examples
    --------
    >>> round(systemic_dose(123.2, 0.5, 50.0), 3)
    0.308
    """
    product = given(product_mg_kg_day, "Product on the skin", "mg/kg/day", 0.0)
    share = given(concentration_percent, "Concentration", "%", 0.0, 100.0) / 100.0
    return plain(product * share * _absorbed(absorption_percent))


def systemic_dose_by_area(
    absorbed_ug_cm2: npt.ArrayLike,
    area_cm2: npt.ArrayLike,
    applications_per_day: npt.ArrayLike,
    body_weight_kg: npt.ArrayLike = 60.0,
) -> Numbers:
    """Systemic exposure dose from an amount absorbed per area.

    Parameters
    ----------
    absorbed_ug_cm2 : float or array-like, shape S
        Measured on skin [µg/cm2].
    area_cm2 : float or array-like, shape S
        Skin treated [cm2].
    applications_per_day : float or array-like, shape S
        [1/day]
    body_weight_kg : float or array-like, shape S
        60 for an adult (SCCS) [kg].

    Returns
    -------
    float or ndarray, shape S
        [mg/kg/day]

    Raises
    ------
    ScienceError
        A number that cannot be.

    Notes
    -----
    SED = DA x area x F / (1000 x body weight), SCCS Notes of Guidance.

    Examples
    --------
    >>> round(systemic_dose_by_area(0.2, 15670, 2.28, 60), 4)
    0.1191
    """
    absorbed = given(absorbed_ug_cm2, "Absorbed amount", "µg/cm2", 0.0)
    area = given(area_cm2, "Skin area", "cm2", above=0.0)
    often = given(applications_per_day, "Applications", "per day", 0.0)
    weight = given(body_weight_kg, "Body weight", "kg", above=0.0, high=500.0)
    return plain(absorbed * area * often / (1000.0 * weight))


def margin(
    point_of_departure_mg_kg_day: npt.ArrayLike,
    systemic_dose_mg_kg_day: npt.ArrayLike,
    oral_bioavailability: npt.ArrayLike = 0.5,
) -> Numbers:
    """Margin between the dose without effect in a study and the dose of the user.

    Parameters
    ----------
    point_of_departure_mg_kg_day : float or array-like, shape S
        No-effect or benchmark dose, by mouth [mg/kg/day].
    systemic_dose_mg_kg_day : float or array-like, shape S
        From `systemic_dose` [mg/kg/day].
    oral_bioavailability : float or array-like, shape S
        0.5 when nothing is known (SCCS default); 1 for a dose that is systemic already [-].

    Returns
    -------
    float or ndarray, shape S
        MoS; `REFERENCE_LINE` is 100 [-].

    Raises
    ------
    ScienceError
        A dose that is not positive, or a bioavailability outside 0-1.

    Notes
    -----
    MoS = PoD x bioavailability / SED, SCCS Notes of Guidance. A number to hand to a safety
    assessor, no verdict.

    Examples
    --------
    >>> round(margin(100.0, 0.308, 0.5), 1)
    162.3
    """
    pod = given(point_of_departure_mg_kg_day, "Point of departure", "mg/kg/day", above=0.0)
    dose = given(systemic_dose_mg_kg_day, "Systemic exposure dose", "mg/kg/day", above=0.0)
    return plain(pod * given(oral_bioavailability, "Oral bioavailability", "", 0.0, 1.0) / dose)


def concentration_at_margin(
    systemic_point_mg_kg_day: npt.ArrayLike,
    product_mg_kg_day: npt.ArrayLike,
    absorption_percent: npt.ArrayLike = 50.0,
    margin_wanted: npt.ArrayLike = REFERENCE_LINE,
) -> Numbers:
    """Concentration at which the margin falls to a given value.

    Parameters
    ----------
    systemic_point_mg_kg_day : float or array-like, shape S
        Point of departure times bioavailability [mg/kg/day].
    product_mg_kg_day, absorption_percent : float or array-like, shape S
        As in `systemic_dose`.
    margin_wanted : float or array-like, shape S
        [-]

    Returns
    -------
    float or ndarray, shape S
        [%]; above 100 means that no concentration reaches it.

    Raises
    ------
    ScienceError
        A number that cannot be, or nothing absorbed.

    Notes
    -----
    `systemic_dose` and `margin` solved for the concentration.

    Examples
    --------
    >>> round(concentration_at_margin(50.0, 123.2, 50.0), 4)
    0.8117
    """
    pod = given(systemic_point_mg_kg_day, "Systemic point of departure", "mg/kg/day", above=0.0)
    product = given(product_mg_kg_day, "Product on the skin", "mg/kg/day", above=0.0)
    wanted = given(margin_wanted, "Margin", "", above=0.0)
    absorbed = given(absorption_percent, "Absorption through the skin", "%", above=0.0, high=100.0)
    return plain(100.0 * pod / (wanted * product * absorbed / 100.0))


def _absorbed(percent: npt.ArrayLike) -> Numbers:
    share = given(
        percent, "Absorption through the skin", "%", 0.0, 100.0, cause="More than all was typed"
    )
    return plain(share / 100.0)

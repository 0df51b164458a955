"""Exercises of the third lesson: pH, and how much of a preservative works."""

from __future__ import annotations

from labkit.science import batch, preservation
from labkit.teach.questions import NumberQuestion, Slip
from labkit.teach.variants import Draw

__all__ = ["as_acid", "dose_from_a_sample", "fall_of_the_share", "working_share"]

ACIDS = {"benzoic acid": 4.20, "sorbic acid": 4.76}
"""pKa at 25 °C, to the two places a bench uses: benzoic acid from the MINTEQ database, sorbic
acid from an encyclopaedia (`datasets/acid_base_constants.csv`)."""
BENZOIC, BENZOATE = 122.12, 144.11
"""Molar masses, g/mol: C7H6O2 and C7H5NaO2 from the IUPAC standard atomic weights
(C 12.011, H 1.008, O 15.999, Na 22.990)."""


def working_share(draw: Draw) -> NumberQuestion:
    """Percentage of a weak acid that is un-ionised at a pH."""
    name = draw.of(tuple(ACIDS))
    other = next(x for x in ACIDS if x != name)
    ph = draw.of((4.5, 4.9, 5.0, 5.2, 5.5))
    answer = 100 * float(preservation.un_ionised_fraction(ph, ACIDS[name]))
    wrong = 100 * float(preservation.un_ionised_fraction(ph, ACIDS[other]))
    return NumberQuestion(
        key="working",
        text=f"What percentage of {name} (pKa {ACIDS[name]:.2f}) is un-ionised, the form that "
        f"works, at pH {ph}?",
        unit="%",
        answer=answer,
        absolute=0.15,
        relative=0.01,
        way=f"100 / (1 + 10^({ph} - {ACIDS[name]:.2f})) = {answer:.1f} %",
        slips=(
            Slip(
                name="wrong side",
                value=100 - answer,
                reason="That is the ionised part, the one that does not work: the exponent is "
                "pH minus pKa, not pKa minus pH.",
            ),
            Slip(
                name="wrong pKa",
                value=wrong,
                reason=f"That is the share of {other}. Look at the pKa again.",
            ),
            Slip(
                name="ratio for share",
                value=100 * 10 ** (ACIDS[name] - ph),
                reason="That is acid over salt. The share is acid over both together: "
                "1 / (1 + 10^(pH - pKa)).",
            ),
        ),
    )


def fall_of_the_share(draw: Draw) -> NumberQuestion:
    """By what factor the working part falls when the pH rises."""
    low, high = draw.of(((4.8, 5.8), (5.0, 6.0), (4.6, 5.4), (5.0, 5.6)))
    pka = ACIDS["benzoic acid"]
    first = float(preservation.un_ionised_fraction(low, pka))
    last = float(preservation.un_ionised_fraction(high, pka))
    return NumberQuestion(
        key="fall",
        text=f"A lotion with benzoic acid (pKa {pka:.2f}) drifts from pH {low} to pH {high}. How "
        "many times smaller is the un-ionised part now?",
        unit="",
        answer=first / last,
        relative=0.02,
        way=f"(1 + 10^({high} - {pka:.2f})) / (1 + 10^({low} - {pka:.2f})) = {first / last:.2f}",
        slips=(
            Slip(
                name="turned round",
                value=last / first,
                reason="Turned round: that says how large the new part is beside the old.",
            ),
            Slip(
                name="power of ten alone",
                value=10 ** (high - low),
                reason="Ten to the difference holds far above the pKa only. Near the pKa the "
                "share falls less: work out both shares.",
            ),
            Slip(
                name="difference",
                value=100 * (first - last),
                reason="That is the difference in percentage points. The question asks how many "
                "times.",
            ),
        ),
    )


def as_acid(draw: Draw) -> NumberQuestion:
    """Percentage of a salt that equals a limit written as acid."""
    limit = draw.of((0.3, 0.4, 0.5))
    answer = limit / float(batch.on_basis(1.0, BENZOIC / BENZOATE))
    return NumberQuestion(
        key="basis",
        text=f"A ceiling says {limit} % as benzoic acid ({BENZOIC} g/mol). How much sodium "
        f"benzoate ({BENZOATE:.2f} g/mol) is that?",
        unit="%",
        answer=answer,
        absolute=0.004,
        way=f"{limit} x {BENZOATE:.2f} / {BENZOIC} = {answer:.3f} %",
        slips=(
            Slip(
                name="wrong basis",
                value=limit,
                reason="The ceiling counts the acid. The salt weighs more for the same acid.",
            ),
            Slip(
                name="turned round",
                value=limit * BENZOIC / BENZOATE,
                reason="Turned round: the salt is heavier than the acid, so the figure goes up.",
            ),
        ),
    )


def dose_from_a_sample(draw: Draw) -> NumberQuestion:
    """Acid for the rest of a batch from the titration of a sample."""
    made, sample, dose = draw.of((150, 200, 250)), draw.of((10, 20)), draw.step(0.12, 0.36, 0.04)
    left = made - sample
    first, whole = (float(x) for x in batch.dose_for_batch(sample, dose, left))
    return NumberQuestion(
        key="dose",
        text=f"You made {made} g and took {sample} g of it to a beaker; {dose:g} g of 10 % lactic "
        "acid stock brought that sample to the wanted pH. How many grams of stock does the rest "
        "of the batch need in all (you throw the sample away)?",
        unit="g",
        answer=whole,
        relative=0.01,
        way=f"{dose:g} / {sample} x {left} = {whole:.2f} g; add three quarters first, "
        f"{first:.2f} g, mix, wait, read",
        slips=(
            Slip(
                name="sample not taken off",
                value=dose / sample * made,
                reason="The sample is not in the batch any more: dose what is left.",
            ),
            Slip(
                name="first part only",
                value=first,
                reason="That is the three quarters you add first. The question asks for all.",
            ),
            Slip(
                name="pure acid",
                value=whole / 10,
                reason="That is the pure acid in it. You weigh the stock.",
            ),
        ),
    )

"""Exercises of the first lesson: percentages, grams, phases, stocks."""

from __future__ import annotations

from labkit.science import batch, weighing
from labkit.teach.questions import NumberQuestion, Slip
from labkit.teach.variants import Draw

__all__ = ["grams_of_a_line", "share_of_a_phase", "stock_for_a_pinch", "water_to_the_rest"]


def grams_of_a_line(draw: Draw) -> NumberQuestion:
    """Grams of one line in a batch."""
    percent, mass = draw.step(1.5, 9.5, 0.5), draw.of((150, 250, 400, 750))
    answer = float(weighing.grams(percent, mass))
    return NumberQuestion(
        key="grams",
        text=f"A lotion has {percent:g} % glycerin. How many grams go into {mass} g of it?",
        unit="g",
        answer=answer,
        way=f"{mass} g x {percent:g} / 100 = {answer:g} g",
        slips=(
            Slip(
                name="grams for percent",
                value=percent,
                reason="That is the percentage read as grams. It would be right for 100 g only.",
            ),
            Slip(
                name="turned round",
                value=100 * percent / mass,
                reason="Divided the wrong way round: a larger batch needs more, not less.",
            ),
        ),
    )


def water_to_the_rest(draw: Draw) -> NumberQuestion:
    """Share of the q.s. line."""
    shares = (draw.step(2, 8, 0.5), draw.step(8, 20, 1), draw.step(3, 6, 0.5), 0.9)
    names = ("glycerin", "oil", "emulsifier", "preservative")
    rest = 100 - sum(shares)
    listed = ", ".join(f"{name} {share:g} %" for name, share in zip(names, shares, strict=True))
    return NumberQuestion(
        key="rest",
        text=f"A lotion has {listed}; water is the q.s. line. What percentage is water?",
        unit="%",
        answer=rest,
        absolute=0.05,
        relative=0.0,
        way=f"100 - ({' + '.join(f'{s:g}' for s in shares)}) = {rest:g} %",
        slips=(
            Slip(
                name="the sum",
                value=sum(shares),
                reason="That is what the other lines add up to. Water takes the rest to 100.",
            ),
            Slip(
                name="a line forgotten",
                value=rest + shares[3],
                reason="One line was left out, the small one. Small lines count to the total too.",
            ),
            Slip(
                name="a line forgotten",
                value=rest + shares[0],
                reason="One line was left out: glycerin dissolves in the water, "
                "but it is a line of its own.",
            ),
        ),
    )


def share_of_a_phase(draw: Draw) -> NumberQuestion:
    """Share of the batch of a line that was given as a share of its phase."""
    phase, share = draw.of((15, 20, 25, 30)), draw.of((10, 20, 40))
    answer = phase * share / 100
    return NumberQuestion(
        key="phase",
        text=f"The oil phase is {phase} % of a cream, and {share} % of the oil phase is shea "
        "butter. What percentage of the cream is shea butter?",
        unit="%",
        answer=answer,
        way=f"{phase} x {share} / 100 = {answer:g} %",
        slips=(
            Slip(
                name="wrong basis",
                value=share,
                reason="That is its share of the oil phase. A formula counts in percent of "
                "the whole finished batch.",
            ),
            Slip(
                name="divided",
                value=100 * share / phase,
                reason="Divided in place of multiplied: a part of a part is smaller than both.",
            ),
        ),
    )


def stock_for_a_pinch(draw: Draw) -> NumberQuestion:
    """Grams of a stock solution that carry a small percentage."""
    percent, stock = draw.of((0.02, 0.04, 0.05, 0.08)), draw.of((2, 4, 5))
    mass = draw.of((100, 200, 300))
    answer = float(batch.to_reach(mass, 0.0, percent, stock)) * (stock - percent) / stock
    neat = mass * percent / 100
    return NumberQuestion(
        key="stock",
        text=f"{mass} g of finished gel shall hold {percent:g} % of a chelator, too little for a "
        f"0.01 g balance. You have a {stock} % stock of it. How many grams of stock go in "
        "(the water line gives way)?",
        unit="g",
        answer=answer,
        relative=0.01,
        way=f"{mass} g x {percent:g} / {stock} = {answer:g} g",
        slips=(
            Slip(
                name="neat grams",
                value=neat,
                reason=f"That is the pure chelator. The stock is only {stock} % of it, "
                "so more stock is needed.",
            ),
            Slip(
                name="wrong way",
                value=neat * stock / 100,
                reason="Multiplied by the strength. A weaker stock needs more grams, "
                "so divide by it.",
            ),
        ),
    )

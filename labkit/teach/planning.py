"""Exercises of the sixth lesson: effects, noise, and reading a history."""

from __future__ import annotations

import math

from labkit.formula import Formula
from labkit.teach.questions import NameQuestion, NumberQuestion, Slip
from labkit.teach.variants import Draw

__all__ = ["effect_of_a_line", "one_change", "repeat_spread", "times_to_repeat"]


def effect_of_a_line(draw: Draw) -> NumberQuestion:
    """pH change for one percent of a line."""
    low, high = draw.of(((0.2, 0.6), (0.1, 0.4), (0.3, 0.8)))
    before, fall = draw.step(5.4, 6.0, 0.1), draw.of((0.4, 0.6, 0.9))
    after = round(before - fall, 2)
    answer = (after - before) / (high - low)
    return NumberQuestion(
        key="effect",
        text=f"With {low:g} % lactic acid stock the pH is {before:g}, with {high:g} % it is "
        f"{after:g}, all else equal. By how much does the pH change for each percent more?",
        unit="",
        answer=answer,
        relative=0.01,
        way=f"({after:g} - {before:g}) / ({high:g} - {low:g}) = {answer:.2f} per %",
        slips=(
            Slip(
                name="sign",
                value=-answer,
                reason="The size is right. More acid, lower pH: the effect is below zero.",
            ),
            Slip(
                name="not per percent",
                value=after - before,
                reason="That is the whole change. Divide it by the change of the line.",
            ),
            Slip(
                name="turned round",
                value=(high - low) / (after - before),
                reason="Turned round: percent for each pH unit.",
            ),
        ),
    )


def repeat_spread(draw: Draw) -> NumberQuestion:
    """Standard deviation of three readings."""
    middle, step = draw.step(5.0, 5.6, 0.05), draw.of((0.03, 0.04, 0.05, 0.06))
    readings = (round(middle - step, 2), round(middle, 2), round(middle + 2 * step, 2))
    mean = sum(readings) / 3
    squares = sum((x - mean) ** 2 for x in readings)
    return NumberQuestion(
        key="spread",
        text=f"Three readings of one jar: pH {readings[0]}, {readings[1]}, {readings[2]}. What is "
        "their standard deviation?",
        unit="",
        answer=math.sqrt(squares / 2),
        absolute=0.002,
        relative=0.02,
        way=f"mean {mean:.3f}; square root of {squares:.5f} / (3 - 1) = "
        f"{math.sqrt(squares / 2):.3f}",
        slips=(
            Slip(
                name="range",
                value=readings[2] - readings[0],
                reason="That is the range, highest minus lowest.",
            ),
            Slip(
                name="divided by n",
                value=math.sqrt(squares / 3),
                reason="Divided by 3. One reading is used up for the mean: divide by 3 - 1.",
            ),
            Slip(
                name="variance",
                value=squares / 2,
                reason="That is the variance. Take the square root.",
            ),
        ),
    )


def times_to_repeat(draw: Draw) -> NumberQuestion:
    """Readings needed to bring a mean's error to a size."""
    spread, wanted = draw.of(((0.06, 0.03), (0.09, 0.03), (0.08, 0.04), (0.12, 0.04), (0.1, 0.05)))
    answer = (spread / wanted) ** 2
    return NumberQuestion(
        key="repeats",
        text=f"One pH reading is good to {spread:g} (standard deviation). How many readings must "
        f"be averaged until the mean is good to {wanted:g}?",
        unit="",
        answer=answer,
        absolute=0.05,
        way=f"({spread:g} / {wanted:g})² = {answer:.0f}",
        slips=(
            Slip(
                name="no square",
                value=spread / wanted,
                reason="The error falls with the square root of the number: square that ratio.",
            ),
            Slip(
                name="square root",
                value=math.sqrt(spread / wanted),
                reason="The square root went the wrong way: to halve the error takes four times "
                "the readings.",
            ),
        ),
    )


def one_change(draw: Draw) -> NameQuestion:
    """Which of three trials answers a question about one line."""
    base = Formula.parse(
        "phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,4\nB,Sunflower oil,10\n"
        "B,Cetearyl alcohol,3\nC,Xanthan gum,0.3",
        name="Trial 1",
    )
    line, to = draw.of((("Xanthan gum", "0.5 %"), ("Glycerin", "6 %"), ("Cetearyl alcohol", "4 %")))
    other = next(x for x in ("Glycerin", "Cetearyl alcohol") if x != line)
    single = base.move(line, to)
    double = single.move(other, by="+1 %")
    elsewhere = base.move(other, by="+1 %")
    by_name = {"P": single, "Q": double, "R": elsewhere}
    order = draw.of((("P", "Q", "R"), ("Q", "R", "P"), ("R", "P", "Q")))
    shown = {name: by_name[which] for name, which in zip("ABC", order, strict=True)}
    listed = ". ".join(f"{name}: {base.compare(made)}" for name, made in shown.items())
    right = next(name for name, made in shown.items() if made is single)
    return NameQuestion(
        key="question",
        text=f"Trial 1 is too thin; you ask what more {line.lower()} does. {listed}. "
        "Which trial answers that question?",
        choices=("A", "B", "C"),
        answer=frozenset({right}),
        way=f"{base.compare(single)}: one line moved, the q.s. line gave way, nothing else.",
        reasons={
            name: "Two lines moved at once: whatever happens, you cannot say which did it."
            if made is double
            else "That moves another line."
            for name, made in shown.items()
            if made is not single
        },
    )

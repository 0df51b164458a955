"""A specification from repeat batches: mean, spread, and limits proposed from them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import fmean, stdev
from typing import Any

from labkit.bench import Bench, Trial
from labkit.errors import MeasurementError
from labkit.formula import Brief
from labkit.learning.control import prediction_limits
from labkit.paperwork.blocks import Block, Bullets, Heading, Table, Words
from labkit.paperwork.page import Document
from labkit.paperwork.subject import subject_of

__all__ = ["Spread", "limits_table", "specification", "spread_of"]

FEWEST = 3
"""Batches from which a limit is proposed; two show a difference, not a spread."""
ENOUGH = 10
"""Batches from which proposed limits stop being wide for want of batches (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """One quantity over several batches, measured in one way.

    ``batches`` holds label and mean of each batch's replicates; ``low`` and ``high`` are the
    proposed limits, None with too few batches.
    """

    quantity: str
    unit: str
    how: str
    batches: tuple[tuple[str, float], ...]
    mean: float
    sd: float | None
    low: float | None
    high: float | None


def spread_of(bench: Bench, trials: Sequence[Trial | str]) -> tuple[Spread, ...]:
    """Mean and spread of every measured number over repeat batches.

    Parameters
    ----------
    bench : Bench
    trials : sequence of Trial or label
        Batches of one formula, at least two.

    Returns
    -------
    tuple of Spread
        Readings under different conditions are kept apart.

    Raises
    ------
    MeasurementError
        Fewer than two batches, or batches of different formulas.

    Notes
    -----
    Replicates are averaged first: the spread is that between batches. Limits are those in
    which the next single batch is expected, mean ± t s sqrt(1 + 1/n) at 99.73 %
    (`labkit.learning.control.prediction_limits`).
    """
    found = [bench.trial(one) for one in trials]
    _check_repeats(found)
    values: dict[tuple[str, str, str], dict[str, list[float]]] = {}
    for trial in found:
        for row in bench.readings(trial=trial).to_dict("records"):
            if row["value"] != row["value"] or row["unit"] in ("word", "text", "L*a*b*"):
                continue
            key = (str(row["quantity"]), str(row["unit"] or ""), str(row["conditions"] or ""))
            values.setdefault(key, {}).setdefault(trial.label, []).append(float(row["value"]))
    return tuple(
        _spread(quantity, unit, how, {label: fmean(v) for label, v in by_batch.items()})
        for (quantity, unit, how), by_batch in values.items()
    )


def _spread(quantity: str, unit: str, how: str, batches: dict[str, float]) -> Spread:
    values = list(batches.values())
    low = high = None
    if len(values) >= FEWEST:
        limits = prediction_limits(values)
        low, high = limits.lower, limits.upper
        low = max(low, 0.0) if min(values) >= 0 else low
    return Spread(
        quantity=quantity,
        unit="" if unit == "pH" else unit,
        how=how,
        batches=tuple(batches.items()),
        mean=fmean(values),
        sd=stdev(values) if len(values) > 1 else None,
        low=low,
        high=high,
    )


def _check_repeats(found: Sequence[Trial]) -> None:
    prints = {trial.formula.fingerprint for trial in found}
    if len(found) < 2 or len({trial.id for trial in found}) < len(found):
        raise MeasurementError(
            where="Specification",
            found=f"{len({t.id for t in found})} batch",
            allowed="At least two different batches of one formula; limits from three on",
            cause="One batch has no spread, and one named twice is still one",
            do="Make and measure it again, record it as a trial, and name all of them",
        )
    if len(prints) > 1:
        raise MeasurementError(
            where="Specification",
            found="batches of different formulas: " + ", ".join(t.label for t in found),
            allowed="Repeats: the same materials at the same percentages",
            cause="A change between the trials would count as spread",
            do="Name only the trials that repeat one formula",
        )


def limits_table(spread: Sequence[Spread]) -> Table:
    """Mean, spread and proposed limits of each quantity."""
    return Table(
        head=("Quantity", "How", "Batches", "Mean", "SD", "Proposed limits"),
        rows=[
            (
                f"{s.quantity}{f', {_unit(s)}' if s.unit else ''}",
                s.how,
                str(len(s.batches)),
                _number(s.mean, s),
                "–" if s.sd is None else _number(s.sd, s),
                f"too few batches ({len(s.batches)}; from {FEWEST} on)"
                if s.low is None or s.high is None
                else f"{_number(s.low, s)} to {_number(s.high, s)}",
            )
            for s in spread
        ],
        numeric=frozenset({2, 3, 4}),
    )


def _unit(s: Spread) -> str:
    return s.unit.replace("*", "·")


def _number(value: float, s: Spread) -> str:
    """Two decimals for a pH, else three digits."""
    return f"{value:.2f}" if s.quantity == "pH" else f"{float(f'{value:.3g}'):.10g}"


def specification(
    bench: Bench,
    trials: Sequence[Trial | str],
    *,
    brief: Brief | None = None,
    paper: str | None = None,
) -> Document:
    """A specification proposed from repeat batches.

    Parameters
    ----------
    bench : Bench
    trials : sequence of Trial or label
        Batches of one formula.
    brief : Brief, optional
        Its windows are set beside what was measured.
    paper : str, optional
        ``"A4"`` or ``"Letter"``.

    Returns
    -------
    Document

    Raises
    ------
    MeasurementError
        Fewer than two batches, or batches of different formulas.
    """
    spread = spread_of(bench, trials)
    found = [bench.trial(one) for one in trials]
    subject = subject_of(found[-1], brief)
    labels = ", ".join(trial.label for trial in found)
    return Document(
        kind="Specification",
        title=found[-1].name,
        under=f"proposed from {len(found)} batches: {labels}",
        blocks=tuple(_blocks(spread, subject.brief, len(found))),
        foot="Proposed from measurements; whoever releases the product sets the limits.",
        paper=paper,
        table=_csv(spread),
    )


def _blocks(spread: Sequence[Spread], brief: Brief, batches: int) -> Iterator[Block]:
    if not spread:
        yield Words(text="No numbers were measured of these batches.", tone="caution")
        return
    yield limits_table(spread)
    yield Words(
        text="Replicates are averaged, so the spread is that between batches. The limits are "
        "where the next batch is expected 99.73 times in 100 if nothing changes: mean ± t s "
        "√(1 + 1/n).",
        tone="muted",
    )
    if batches < ENOUGH:
        yield Words(
            text=f"{batches} batches: the limits are wide because the batches are few. Propose "
            "them again after ten.",
            tone="caution",
        )
    wanted = _wanted(spread, brief)
    if wanted:
        yield Heading(text="Beside the windows of the brief")
        yield Bullets(items=wanted)
    yield Heading(text="Batch by batch")
    yield _by_batch(spread)
    yield Heading(text="Still to be written by hand")
    yield Bullets(
        items=(
            "Appearance, colour and smell against a retained sample",
            "Microbiological limits, from a laboratory",
            "Fill, with its tolerance",
        ),
        ticks=True,
    )


def _by_batch(spread: Sequence[Spread]) -> Table:
    labels = list(dict.fromkeys(label for s in spread for label, _ in s.batches))
    means = [dict(s.batches) for s in spread]
    return Table(
        head=("Batch", *(f"{s.quantity}, {_unit(s)}".removesuffix(", ") for s in spread)),
        rows=[
            (
                label,
                *(
                    _number(m[label], s) if label in m else "–"
                    for m, s in zip(means, spread, strict=True)
                ),
            )
            for label in labels
        ],
        numeric=frozenset(range(1, len(spread) + 1)),
        stack_from=4,
    )


def _wanted(spread: Sequence[Spread], brief: Brief) -> list[str]:
    windows: dict[str, tuple[float, float]] = {}
    if brief.ph:
        windows["pH"] = brief.ph
    if brief.viscosity:
        thin, thick = brief.viscosity
        windows["viscosity"] = (thin.to("mPa*s"), thick.to("mPa*s"))
    told = []
    for s in spread:
        if s.quantity not in windows:
            continue
        low, high = windows[s.quantity]
        window = f"{_number(low, s)} to {_number(high, s)} {_unit(s)}".strip()
        words = f"{s.quantity} ({s.how}): window {window}"
        if s.low is None or s.high is None:
            told.append(f"{words}; too few batches to say whether the process holds it.")
        elif s.low >= low and s.high <= high:
            told.append(f"{words} holds the proposed limits.")
        else:
            told.append(
                f"{words} is narrower than what the process does: expect batches outside it."
            )
    return told


def _csv(spread: Sequence[Spread]) -> Table:
    head = ("quantity", "unit", "how", "batches", "mean", "sd", "low", "high")
    rows: list[list[Any]] = [
        [
            s.quantity,
            s.unit,
            s.how,
            str(len(s.batches)),
            *map(_plain, (s.mean, s.sd, s.low, s.high)),
        ]
        for s in spread
    ]
    return Table(head=head, rows=rows, numeric=frozenset({3, 4, 5, 6, 7}))


def _plain(value: float | None) -> str:
    return "" if value is None else f"{value:.6g}"

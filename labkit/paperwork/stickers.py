"""Stickers for jars and beakers, a sheet of them from an ordinary printer, to cut."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from labkit.bench import Trial
from labkit.errors import BriefError
from labkit.materials import Materials
from labkit.paperwork.blocks import Cell, Row, Table
from labkit.paperwork.page import Document
from labkit.paperwork.weigh_sheet import cautions_of

__all__ = ["stickers"]

ACROSS = 3
DOWN = 7
SHORT = 6
"""Signs of the record's name on a sticker; enough to find the trial at one bench."""
MOST_CAUTIONS = 2
SAMPLE = "trial sample, not for sale"
GRID = """
.lk-paper table{table-layout:fixed}
.lk-paper thead{display:none}
.lk-paper td{height:2.4in;border:1px dashed var(--lk-line);padding:.5rem .6rem;font-size:.8rem;
line-height:1.25;overflow:hidden}
.lk-paper td::first-line{font-size:1.35rem;font-weight:700}
@media print{.lk-paper header,.lk-paper footer{display:none}.lk-paper .lk-table{margin:0}
.lk-paper td{height:36mm;box-sizing:border-box;padding:2mm 2.5mm;font-size:8.5pt}
.lk-paper td::first-line{font-size:15pt}}
@page{margin:10mm}
"""


def stickers(
    trials: Trial | Sequence[Trial],
    *,
    conditions: Sequence[str] = ("",),
    day: date | None = None,
    mats: Materials | None = None,
    copies: int = 1,
    skip: int = 0,
    paper: str = "A4",
) -> Document:
    """Stickers for the jars and beakers of trials.

    Parameters
    ----------
    trials : Trial or sequence of Trial
    conditions : sequence of str
        Where the jars stand, such as ``("25 °C", "40 °C", "retained")``: one sticker each.
    day : date, optional
        Of making; the day the trial was recorded if left out.
    mats : Materials, optional
        For the cautions; the starter set if left out.
    copies : int
        Of each sticker.
    skip : int
        Places at the start of the sheet that are used up already.
    paper : str
        ``"A4"`` or ``"Letter"``.

    Returns
    -------
    Document
        Three across, seven down.

    Raises
    ------
    BriefError
        No copies, or a negative number of used places.
    """
    if copies < 1 or skip < 0:
        raise BriefError(
            where="Stickers",
            found=f"{copies} copies, {skip} places used up",
            allowed="At least one copy, and 0 or more used places",
            cause="A number was left out or carries a sign",
            do="Write copies=1",
        )
    chosen = [trials] if isinstance(trials, Trial) else list(trials)
    known = Materials.starter() if mats is None else mats
    told = [
        _words(trial, condition, day, known)
        for trial in chosen
        for condition in conditions
        for _ in range(copies)
    ]
    cells: list[Cell | str] = ["" for _ in range(skip)]
    cells += told
    cells += ["" for _ in range(-len(cells) % ACROSS)]
    rows: list[Row] = [cells[i : i + ACROSS] for i in range(0, len(cells), ACROSS)]
    return Document(
        kind="Stickers",
        title=", ".join(dict.fromkeys(t.label for t in chosen)),
        under=f"{len(told)} stickers; print at 100 %, cut along the dashes",
        blocks=(Table(head=("", "", ""), rows=rows, stack_from=9),),
        paper=paper,
        css=GRID,
    )


def _words(trial: Trial, condition: str, day: date | None, mats: Materials) -> str:
    found = [mats.resolve(x.key or x.material) for x in trial.formula.lines]
    cautions = cautions_of(found)
    lines = [
        trial.label,
        trial.name,
        f"made {day.isoformat() if day is not None else trial.created[:10]} · {trial.id[:SHORT]}",
        *([f"kept at {condition}"] if condition else []),
        *cautions[:MOST_CAUTIONS],
        *(["further cautions: weigh sheet"] if len(cautions) > MOST_CAUTIONS else []),
        SAMPLE,
    ]
    return "\n".join(lines)

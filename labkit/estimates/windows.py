"""pH windows, use levels and heat: each material against what it can take."""

from __future__ import annotations

from decimal import Decimal

from labkit.estimates.catalogue import finding
from labkit.estimates.contents import Contents
from labkit.estimates.finding import Finding
from labkit.estimates.making import Making
from labkit.estimates.state import PH_HIGH, PH_LOW, Atom, Board, Candidate, State, Test
from labkit.formula.brief import Brief
from labkit.formula.grid import STEP
from labkit.formula.moves import Move
from labkit.formula.names import is_water
from labkit.materials import Material

__all__ = ["window_candidates"]

LEAST = 0.02
"""Below this share [% of the batch] a material's own window is not asked."""
NEAR = 0.5
"""So far outside a pH window it is good to know; further, it is to be checked."""
WATERLESS = ("anhydrous", "powder")
_ADJUSTS = frozenset({"pH adjuster", "buffer", "fragrance", "colourant"})
_FREE_TO_FILL = frozenset({"solvent", "carrier", "hydrosol"})
_OILY = frozenset({"emollient", "volatile emollient", "exfoliant", "powder", "silicone"})
_FEW_DOSES = frozenset({"pH adjuster", "buffer", "fragrance", "colourant", "pearliser"})


def window_candidates(
    contents: Contents, brief: Brief, form: str, making: Making, board: Board
) -> list[Candidate]:
    """What may lie outside a window: pH, use level, temperature."""
    found: list[Candidate] = []
    if form not in WATERLESS:
        found += _ph_windows(contents, board)
        found += _brief_window(contents, brief)
    for i, material in enumerate(contents.materials):
        if material is not None:
            found += _use_range(i, material, contents, form, board)
            found += _heat(i, material, contents, making, board)
    return found


def _ph_windows(contents: Contents, board: Board) -> list[Candidate]:
    found = []
    for i, material in enumerate(contents.materials):
        if material is None or material.ph_low is None or material.ph_high is None:
            continue
        acid_preservative = "acid-preservative" in material.groups
        if acid_preservative or _ADJUSTS & set(material.functions) or "aha" in material.groups:
            continue
        ends = (material.ph_low, material.ph_high)
        found += [
            _ph_window(i, material, ends, contents, board, wide, above)
            for wide in (True, False)
            for above in (True, False)
        ]
    return found


def _ph_window(
    i: int,
    material: Material,
    ends: tuple[float, float],
    contents: Contents,
    board: Board,
    wide: bool,
    above: bool,
) -> Candidate:
    low, high = ends
    there = Test((Atom(board.line(i), LEAST),))
    end, sign, column = (high, 1, PH_LOW) if above else (low, -1, PH_HIGH)
    if wide:
        held = there & Test((Atom(column, end + sign * NEAR, sign),))
    else:
        far = Atom(column, end + sign * (NEAR + 1e-9), -sign)
        held = there & Test((Atom(column, end, sign), far))

    def tell(state: State, sure: bool) -> Finding:
        side = "below" if float(state.ph) < low else "above"
        reason = material.ph_reason or "it lasts or works in this window"
        reference = material.source("ph_low") or material.source("ph_window")
        return finding(
            "PH01",
            contents,
            (i,),
            f"{_ph_words(state)} is {side} the window of {contents.formula.lines[i].material}, "
            f"{low:g} to {high:g}.",
            f"{reason[:1].upper()}{reason[1:]}.",
            "Bring the pH into the window, or choose a material that stands this pH.",
            severity="check" if wide else "fyi",
            source=reference.words if reference is not None else None,
            low=low,
            high=high,
        )

    return Candidate(
        code="PH01",
        severity="check" if wide else "fyi",
        certain=held,
        possible=held,
        tell=tell,
    )


def _ph_words(state: State) -> str:
    if state.measured:
        return f"pH {float(state.ph):.2f}"
    ends = f"{float(state.ph_low):.1f} to {float(state.ph_high):.1f}"
    return f"The forecast pH {float(state.ph):.1f} ({ends})"


def _brief_window(contents: Contents, brief: Brief) -> list[Candidate]:
    if brief.ph is None:
        return []
    low, high = brief.ph

    outside = (Test((Atom(PH_HIGH, low, -1),)), Test((Atom(PH_LOW, high),)))

    def tell(state: State, sure: bool) -> Finding:
        side = "below" if float(state.ph) < low else "above"
        adjust = "a base, drop by drop" if side == "below" else "lactic or citric acid, dilute"
        return finding(
            "PH02",
            contents,
            (),
            f"{_ph_words(state)} is {side} the brief, {low:g} to {high:g}.",
            "The brief asks for this window.",
            f"Adjust a 10 g sample first with {adjust}; then the batch, and write it as a line.",
        )

    return [
        Candidate(code="PH02", severity="check", certain=held, possible=held, tell=tell)
        for held in outside
    ]


def _use_range(
    i: int, material: Material, contents: Contents, form: str, board: Board
) -> list[Candidate]:
    jobs = set(material.functions)
    if jobs & _FREE_TO_FILL or is_water(material.inci) or i == contents.formula.qs:
        return []
    if jobs & _OILY and form in ("anhydrous", "scrub", "powder", "w/o emulsion"):
        return []
    column = board.line(i)
    found = []
    if material.use_high:
        top = material.use_high
        found.append(_range_candidate(i, material, contents, column, top, True))
    any_dose = material.no_minimum or jobs & _FEW_DOSES or "preservative" in jobs
    if material.use_low and not any_dose:
        found.append(_range_candidate(i, material, contents, column, material.use_low, False))
    return found


def _range_candidate(
    i: int, material: Material, contents: Contents, column: int, bound: float, above: bool
) -> Candidate:
    name = contents.formula.lines[i].material

    if above:
        decide = Test((Atom(column, bound * 1.001),))
    else:
        decide = Test((Atom(column, bound * 0.999, -1), Atom(column, 0.0)))

    def tell(state: State, sure: bool) -> Finding:
        reference = material.source("use_high") or material.source("use_level")
        amount = float(state.percent[i])
        return finding(
            "USE01" if above else "USE02",
            contents,
            (i,),
            f"{name} at {amount:.4g} %, usually {'at most' if above else 'from'} {bound:g} %.",
            "Usual use level of the material as supplied; the supplier's own sheet wins.",
            "Lower it, or write down why this trial needs more."
            if above
            else "It may do little at this level: raise it, or leave it out.",
            move=_to(contents, i, bound),
            source=reference.words if reference is not None else None,
            bound=bound,
        )

    code = "USE01" if above else "USE02"
    return Candidate(
        code=code,
        severity="check" if above else "fyi",
        certain=decide,
        possible=decide,
        tell=tell,
    )


def _to(contents: Contents, i: int, percent: float) -> Move | None:
    formula = contents.formula
    line = formula.lines[i]
    if formula.qs is None or i == formula.qs or line.locked:
        return None
    target = Decimal(repr(percent)).quantize(STEP)
    low, high = line.bounds
    if not low <= target <= high:
        return None
    return Move(kind="set", line=i, material=line.material, percent=target)


def _heat(
    i: int, material: Material, contents: Contents, making: Making, board: Board
) -> list[Candidate]:
    hot = making.temperature_c(i)
    limit = material.heat_limit_c
    if hot is None or limit is None or limit >= hot or limit >= 100:
        return []
    if not (material.heat_sensitive or material.volatile or limit < hot - 5):
        return []
    column = board.line(i)

    decide = Test((Atom(column, 0.0),))

    def tell(state: State, sure: bool) -> Finding:
        line = contents.formula.lines[i]
        lost = "boils off" if material.volatile else "suffers"
        reference = material.source("heat_limit_c")
        cool = making.cool_phase
        return finding(
            "HEAT01",
            contents,
            (i,),
            f"{line.material} stands in phase {line.phase}, which is heated to about {hot:g} °C.",
            f"It {lost} above {limit:g} °C.",
            f"Add it below {limit:g} °C, in the cool-down.",
            move=None
            if cool is None
            else Move(kind="place", line=i, material=line.material, phase=cool),
            source=reference.words if reference is not None else None,
            limit=limit,
            hot=hot,
        )

    return [Candidate(code="HEAT01", severity="check", certain=decide, possible=decide, tell=tell)]

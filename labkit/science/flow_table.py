"""A flow curve as it is pasted from a viscometer or a sheet, and the models through it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from labkit.errors import QuantityError, ScienceError
from labkit.quantities import decimal, parse
from labkit.science.bounds import given
from labkit.science.rheology import FlowFit, fit

RATE = re.compile(r"(shear\s*)?rate|γ|gamma|s-1|s\^-1|s⁻¹|1/s", re.IGNORECASE)
STRESS = re.compile(r"stress|τ|tau", re.IGNORECASE)
VISCOSITY = re.compile(r"visc|η|\beta\b", re.IGNORECASE)
UNIT = re.compile(r"[\[(]([^\])]+)[\])]\s*$|\bin\s+(\S+)\s*$")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FlowTable:
    """Readings of a flow curve.

    Attributes
    ----------
    shear_rate : ndarray, shape (n,)
        [1/s]
    viscosity_pa_s : ndarray, shape (n,)
        [Pa*s]; stress over rate where the stress was read.
    read_as : str
        What the columns were taken for, in words.
    """

    shear_rate: npt.NDArray[np.float64]
    viscosity_pa_s: npt.NDArray[np.float64]
    read_as: str

    def fit(self, model: str = "Herschel-Bulkley") -> FlowFit:
        """A flow model through the readings, see `labkit.science.rheology.fit`."""
        return fit(model, self.shear_rate, viscosity_pa_s=self.viscosity_pa_s)


def flow_table(text: str) -> FlowTable:
    """Read a pasted table of shear rate and stress or viscosity.

    Parameters
    ----------
    text : str
        One reading a line, columns parted by tab, semicolon, comma or blanks; headings with
        units, such as ``"shear rate (1/s); viscosity (mPa*s)"``. Further columns are left
        alone. Decimal commas are read where the columns are parted otherwise.

    Returns
    -------
    FlowTable

    Raises
    ------
    ScienceError
        No headings, no column of shear rates, neither or both of stress and viscosity, a gap.
    QuantityError
        A number or a unit that cannot be read.

    Notes
    -----
    viscosity = stress / shear rate.

    Examples
    --------
    >>> table = flow_table('''shear rate (1/s)\\tviscosity (mPa*s)
    ... 1\\t12000
    ... 10\\t2300''')
    >>> table.viscosity_pa_s.round(3).tolist(), table.read_as
    ([12.0, 2.3], 'shear rate in 1/s, viscosity in mPa*s')
    """
    lines = [line for line in text.splitlines() if line.strip()]
    head, *body = lines or [""]
    mark = next((m for m in ("\t", ";", "|") if m in head), None)
    names = _cells(head, mark or ("," if "," in head else None))
    mark = mark or ("," if "," in head else None)
    rate, other, is_stress = _columns(names)
    units = [_unit(names[i], standard) for i, standard in ((rate, "1/s"), (other, "Pa*s"))]
    rows = [_row(line, mark, (rate, other), number) for number, line in enumerate(body, start=2)]
    if not rows:
        raise _refusal("headings and no reading", "Readings below the headings")
    x, y = np.array(rows, dtype=float).T
    x = given(x, "Shear rate", "1/s", above=0.0)
    if units[0] not in {"1/s", "s-1", "s^-1", "s⁻¹"}:
        raise _refusal(f"shear rates in {units[0]}", "Shear rates in 1/s, not revolutions")
    value = y * _factor(units[1], "Pa" if is_stress else "Pa*s")
    kind = "stress" if is_stress else "viscosity"
    return FlowTable(
        shear_rate=x,
        viscosity_pa_s=np.asarray(value / x if is_stress else value),
        read_as=f"shear rate in 1/s, {kind} in {units[1]}",
    )


def _cells(line: str, mark: str | None) -> list[str]:
    return [cell.strip() for cell in (line.split(mark) if mark else re.split(r"\s{2,}", line))]


def _columns(names: Sequence[str]) -> tuple[int, int, bool]:
    stress = [i for i, n in enumerate(names) if STRESS.search(n)]
    viscous = [i for i, n in enumerate(names) if VISCOSITY.search(n)]
    taken = {*stress, *viscous}
    rate = [i for i, n in enumerate(names) if i not in taken and RATE.search(n)]
    if len(rate) != 1 or len(stress) + len(viscous) == 0 or len(stress) > 1 or len(viscous) > 1:
        raise _refusal(
            f"columns {', '.join(repr(n) for n in names if n) or 'without headings'}",
            "A heading with 'shear rate (1/s)' and one with 'viscosity (mPa*s)' or 'stress (Pa)'",
        )
    return rate[0], (viscous or stress)[0], not viscous


def _unit(name: str, standard: str) -> str:
    found = UNIT.search(name)
    if found is None and standard == "1/s":
        return standard
    if found is None:
        raise QuantityError(
            where=name,
            found="no unit",
            allowed=f"A unit in the heading, such as ({standard})",
            cause="Left out, or written in another row",
            do="Write it in brackets behind the name",
        )
    return str(found[1] or found[2]).strip()


def _factor(unit: str, standard: str) -> float:
    return parse(f"1 {unit}", where="Heading of the flow curve").to(standard)


def _row(line: str, mark: str | None, wanted: tuple[int, int], number: int) -> list[float]:
    cells = _cells(line, mark) if mark else line.split()
    try:
        return [float(decimal(cells[i], where=f"Flow curve, row {number}")) for i in wanted]
    except IndexError as fault:
        raise _refusal(f"row {number}: {line.strip()!r}", "A number under each heading") from fault


def _refusal(found: str, allowed: str) -> ScienceError:
    return ScienceError(
        where="Flow curve",
        found=found,
        allowed=allowed,
        cause="The table was pasted without its headings, or a cell is empty",
        do="Copy the table again with its headings, or fill the gap",
    )

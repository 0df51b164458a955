"""Why three humectants? Which materials serve which function, and when on the skin."""

from __future__ import annotations

from dataclasses import dataclass

from labkit.formula import Formula
from labkit.formula.names import is_water
from labkit.materials import Material, Materials

__all__ = ["Part", "Role", "roles"]

SLIP, DRY_DOWN, LASTING = "slip", "dry-down", "lasting"
"""While it is spread; as it sets, in the first minutes; what stays for hours."""
_BY_SPREADING = {"fast": SLIP, "medium": DRY_DOWN, "slow": LASTING}
_BY_FEEL = {"light": SLIP, "medium": DRY_DOWN, "rich": LASTING, "film": LASTING}
_HUMECTANT_FEEL = {"tacky": LASTING, "not-tacky": DRY_DOWN}
_STAYS = frozenset({"film former", "emollient, occlusive", "occlusive"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One material in a role: how much, when it is felt, and what says so."""

    line: int
    material: str
    percent: float
    when: str | None
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Role:
    """One function, and the materials that serve it, the largest first."""

    function: str
    parts: tuple[Part, ...]

    @property
    def percent(self) -> float:
        """Sum of the lines [% w/w]."""
        return sum(p.percent for p in self.parts)

    @property
    def words(self) -> str:
        """The role in a sentence.

        The same moment twice means that one of the two can be left out as a trial.
        """
        named = [
            f"{p.material} {p.percent:.3g} % ({p.when or 'when: not known'})" for p in self.parts
        ]
        text = f"{self.function}: {', '.join(named)}."
        moments = [p.when for p in self.parts if p.when is not None]
        twice = sorted({m for m in moments if moments.count(m) > 1})
        if twice:
            many = " and ".join(twice)
            text += f" More than one for {many}: a trial without the smallest would tell."
        return text


def roles(formula: Formula, mats: Materials) -> tuple[Role, ...]:
    """Which materials serve which function and when.

    Parameters
    ----------
    formula : Formula
    mats : Materials
        Their functions, spreading, feel and volatility decide; what is not known stays so.

    Returns
    -------
    tuple of Role
        Functions served by most lines first; water as such is left out.

    Notes
    -----
    Volatile and fast-spreading materials are felt while spreading, medium ones as the film
    sets, slow-spreading, rich and film-forming ones last (common practice).

    Examples
    --------
    >>> mats = Materials.starter()
    >>> gel = Formula.parse('''phase,material,percent
    ... A,Aqua,q.s.
    ... A,Glycerin,4
    ... A,Propanediol,3
    ... A,Sodium Hyaluronate,0.1''')
    >>> [(p.material, p.when) for p in roles(gel, mats)[0].parts]
    [('Glycerin', 'lasting'), ('Propanediol', 'dry-down'), ('Sodium Hyaluronate', 'lasting')]
    """
    found: dict[str, list[Part]] = {}
    for i, line in enumerate(formula.lines):
        material = mats.resolve(line.key or line.material)
        if material is None or is_water(material.inci):
            continue
        when, because = _moment(material)
        for function in material.functions:
            found.setdefault(function, []).append(
                Part(
                    line=i,
                    material=line.material,
                    percent=float(line.percent),
                    when=when,
                    because=because,
                )
            )
    made = [
        Role(function=name, parts=tuple(sorted(parts, key=lambda p: -p.percent)))
        for name, parts in found.items()
    ]
    return tuple(sorted(made, key=lambda r: (-len(r.parts), -r.percent, r.function)))


def _moment(material: Material) -> tuple[str | None, str]:
    jobs = set(material.functions)
    if material.volatile:
        return SLIP, "evaporates"
    if jobs & _STAYS or material.feel == "film" or material.charge_class == "polymer":
        return LASTING, "leaves a film"
    if "humectant" in jobs and material.feel in _HUMECTANT_FEEL:
        return _HUMECTANT_FEEL[material.feel], f"{material.feel.replace('-', ' ')} on the skin"
    if material.spreading in _BY_SPREADING:
        return _BY_SPREADING[material.spreading], f"spreads {material.spreading}"
    if material.feel in _BY_FEEL:
        return _BY_FEEL[material.feel], f"{material.feel} feel"
    return None, "no feel or spreading recorded"

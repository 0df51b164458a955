"""How each trouble of a batch is worked out: additions, steps, or that it cannot be saved."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Any

from labkit.errors import BriefError, FormulaError, ScienceError
from labkit.formula import Formula
from labkit.formula.grid import show
from labkit.formula.weighed import from_grams
from labkit.materials import Material, Materials
from labkit.plan.correcting_words import HOW, SPLIT, WANTED, how_to_add
from labkit.plan.correction import FOUR, Addition, line_of
from labkit.quantities import decimal
from labkit.quantities import parse as parse_quantity
from labkit.science import batch as balance_of_mass
from labkit.science.acidbase import scale_bench_titration
from labkit.science.restoring import to_bring_up, to_dilute

__all__ = ["CASES", "Answer", "Beaker"]

WORTH = Decimal(2)
"""A batch is brought up to twice its size at most, unless room= says otherwise; our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Beaker:
    """What is in the beaker, and what was said about the trouble."""

    formula: Formula
    mass_g: Decimal
    step_g: Decimal
    mats: Materials
    how: Mapping[str, Any]

    def word(self, name: str) -> Any:
        """What the trouble cannot be worked out without."""
        if self.how.get(name) is None:
            raise missing(name, self.formula.name)
        return self.how[name]

    def mass(self, name: str, default: Decimal | None = None) -> Decimal:
        given = self.how.get(name)
        if given is None and default is not None:
            return default
        return parse_quantity(self.word(name), "mass", where=f"{self.formula.name}, {name}").exact(
            "g"
        )

    def share(self, name: str, default: str | None = None) -> Decimal:
        given = self.how.get(name, default)
        if given is None:
            raise missing(name, self.formula.name)
        text = str(given).strip().removesuffix("%").strip()
        return decimal(text, where=f"{self.formula.name}, {name}", lowest=0)

    def line(self, name: str = "material") -> int:
        asked = str(self.word(name))
        at = line_of(self.formula, self.formula.lines, asked, self.mats)
        return self.formula.find(asked) if at is None else at

    def line_or_new(self) -> int | None:
        asked = str(self.word("material"))
        return line_of(self.formula, self.formula.lines, asked, self.mats)

    def grams(self) -> list[Fraction]:
        """What the beaker holds of every line, by the formula [g]."""
        mass = Fraction(self.mass_g)
        return [Fraction(x.percent) * mass / 100 for x in self.formula.lines]

    def round(self, grams: float | Decimal) -> Decimal:
        """Grams as the balance shows them; below its reach four decimals, for a stock."""
        exact = grams if isinstance(grams, Decimal) else Decimal(repr(grams))
        step = self.step_g if exact >= 20 * self.step_g else FOUR
        return (exact / step).quantize(Decimal(1), rounding=ROUND_HALF_UP) * step

    def material(self, name: str) -> Material | None:
        return self.mats.resolve(name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a case comes to; ``before`` and ``mass_g`` where they are not those of the beaker."""

    additions: tuple[Addition, ...] = ()
    steps: tuple[str, ...] = ()
    before: Formula | None = None
    mass_g: Decimal | None = None
    why: str = ""
    possible: bool = True


def _reach(beaker: Beaker, first: tuple[str, ...] = ()) -> Answer:
    at, target = beaker.line_or_new(), beaker.share("to")
    present = Decimal(0) if at is None else beaker.formula.lines[at].percent
    material = str(beaker.word("material")) if at is None else beaker.formula.lines[at].material
    strength = beaker.share("strength", "100")
    if target < present:
        return _cannot_lower(material, present, target)
    grams = balance_of_mass.to_reach(
        float(beaker.mass_g), float(present), float(target), float(strength)
    )
    one = Addition(
        material=material,
        grams=beaker.round(float(grams)),
        strength=strength,
        carrier=str(beaker.how.get("carrier", "Aqua")),
    )
    return Answer(additions=(one,), steps=(*first, *how_to_add(beaker.material(material))))


def _cannot_lower(material: str, present: Decimal, target: Decimal) -> Answer:
    return Answer(
        possible=False,
        why=f"{material} stands at {show(present)} % and {show(target)} % is wanted: adding a "
        "material cannot lower its own percentage.",
        steps=("Ask for 'too much' to see the dilution that would bring it down, or remake it.",),
    )


def _thin(beaker: Beaker) -> Answer:
    if beaker.how.get("material") is None:
        thick = [
            x.material
            for x in beaker.formula.lines
            if (m := beaker.material(x.key or x.material)) and "thickener" in " ".join(m.functions)
        ]
        raise missing("material", beaker.formula.name, " or ".join(thick) or "a thickener")
    return _reach(beaker, HOW["too thin"])


def _thick(beaker: Beaker) -> Answer:
    grams = beaker.mass("water")
    name = str(beaker.how.get("material") or "Aqua")
    return Answer(additions=(Addition(material=name, grams=grams),), steps=HOW["too thick"])


def _acidity(beaker: Beaker) -> Answer:
    dose, sample = beaker.mass("dose"), beaker.mass("sample")
    strength = beaker.share("strength", "100")
    material = str(beaker.word("material"))
    told = scale_bench_titration(float(dose), float(sample), float(beaker.mass_g))
    one = Addition(
        material=material,
        grams=beaker.round(told.total_g),
        strength=strength,
        carrier=str(beaker.how.get("carrier", "Aqua")),
    )
    cautions = tuple(getattr(beaker.material(material), "hazards", ()))
    return Answer(additions=(one,), steps=(*cautions, told.words, *HOW["pH"]))


def _colour(beaker: Beaker) -> Answer:
    return _reach(beaker, HOW["weak colour"])


def _scent(beaker: Beaker) -> Answer:
    target, limit = beaker.share("to"), beaker.how.get("ceiling")
    if limit is None:
        first: tuple[str, ...] = (
            "The supplier's limit was not given (ceiling=…): read it on the certificate first.",
        )
    elif target > beaker.share("ceiling"):
        return Answer(
            possible=False,
            why=f"{show(target)} % lies above the supplier's limit of "
            f"{show(beaker.share('ceiling'))} %.",
            steps=("Raise it to that limit at most, or choose another scent.",),
        )
    else:
        first = ()
    return _reach(beaker, (*first, *HOW["weak scent"]))


def _evaporated(beaker: Beaker) -> Answer:
    lost = balance_of_mass.water_lost(
        float(beaker.mass("vessel")), float(beaker.mass_g), float(beaker.mass("gross"))
    )
    water = beaker.round(lost)
    at = line_of(beaker.formula, beaker.formula.lines, "Aqua", beaker.mats)
    if at is None or beaker.formula.lines[at].percent * beaker.mass_g / 100 < water:
        raise FormulaError(
            where=f"{beaker.formula.name}, evaporated",
            found=f"{water} g lost",
            allowed="No more than the water of the formula",
            cause="The formula has less water than that: something else is missing",
            do="Weigh again; look for what was left in another vessel",
        )
    grams = beaker.grams()
    grams[at] -= Fraction(water)
    return Answer(
        additions=(Addition(material=beaker.formula.lines[at].material, grams=water),),
        steps=HOW["evaporated"],
        before=from_grams(beaker.formula, grams),
        mass_g=beaker.mass_g - water,
    )


def _overpoured(beaker: Beaker) -> Answer:
    at, extra = beaker.line(), beaker.mass("by")
    planned = beaker.grams()
    weighed = list(planned)
    weighed[at] += Fraction(extra)
    before, mass = from_grams(beaker.formula, weighed), beaker.mass_g + extra
    name = beaker.formula.lines[at].material
    adds = to_bring_up([float(x) for x in planned], [float(x) for x in weighed])
    return _brought_up(beaker, before, mass, adds, f"{name} is over by {extra:f} g")


def _much(beaker: Beaker) -> Answer:
    at, target = beaker.line(), beaker.share("to")
    line = beaker.formula.lines[at]
    to_dilute(float(beaker.mass_g), float(line.percent), float(target))
    wanted = beaker.formula.move(at, f"{target} %", give="all")
    size = Fraction(line.percent) * Fraction(beaker.mass_g) / Fraction(target)
    planned = [Fraction(x.percent) * size / 100 for x in wanted.lines]
    now = beaker.grams()
    adds = [max(0.0, float(a - b)) for a, b in zip(planned, now, strict=True)]
    words = f"{line.material} at {show(line.percent)} % where {show(target)} % is wanted"
    return _brought_up(beaker, beaker.formula, beaker.mass_g, adds, words)


def _brought_up(beaker: Beaker, before: Formula, mass: Decimal, adds: Any, words: str) -> Answer:
    additions = tuple(
        Addition(material=x.material, grams=beaker.round(float(g)))
        for x, g in zip(before.lines, adds, strict=True)
        if beaker.round(float(g)) > 0
    )
    whole = mass + sum((x.grams for x in additions), Decimal(0))
    told = beaker.how.get("room") is not None
    room = beaker.mass("room", WORTH * beaker.mass_g)
    if whole > room:
        return Answer(
            possible=False,
            before=before,
            mass_g=mass,
            why=f"{words}: bringing the rest up makes {whole.normalize():f} g, more than the "
            f"{room.normalize():f} g that {'the vessel takes' if told else 'are worth it'}.",
            steps=("Take it as it is, as a trial of its own, or remake the batch.",),
        )
    return Answer(
        additions=additions,
        steps=(f"{words}: the rest is brought up.", *HOW["overpoured"]),
        before=before,
        mass_g=mass,
    )


def _forgotten(beaker: Beaker) -> Answer:
    at = beaker.line()
    line = beaker.formula.lines[at]
    if line.percent >= 100:
        raise ScienceError(
            where=f"{beaker.formula.name}, forgotten",
            found=f"{line.material} is all of the formula",
            allowed="A line beside others",
            cause="A formula of one line",
            do="Weigh it",
        )
    grams = beaker.grams()
    grams[at] = Fraction(0)
    share = line.percent / (100 - line.percent)
    amount = beaker.round(beaker.mass_g * share)
    material = beaker.material(line.key or line.material)
    return Answer(
        additions=(Addition(material=line.material, grams=amount),),
        steps=(*HOW["forgotten"], *how_to_add(material)),
        before=from_grams(beaker.formula, grams),
    )


def _split(beaker: Beaker) -> Answer:
    return Answer(possible=False, why=SPLIT[0], steps=SPLIT[1:])


def _air(beaker: Beaker) -> Answer:
    return Answer(steps=HOW["air"])


CASES: Mapping[str, Callable[[Beaker], Answer]] = {
    "too thin": _thin,
    "too thick": _thick,
    "pH high": _acidity,
    "pH low": _acidity,
    "weak colour": _colour,
    "weak scent": _scent,
    "evaporated": _evaporated,
    "overpoured": _overpoured,
    "forgotten": _forgotten,
    "too little": _reach,
    "too much": _much,
    "split": _split,
    "air": _air,
}


def missing(name: str, where: str, example: str = "") -> BriefError:
    return BriefError(
        where=f"{where}, correction",
        found=f"no {name}=",
        allowed=f"{name}= {example}".strip() if example else WANTED.get(name, f"{name}=…"),
        cause="The amount cannot be worked out without it",
        do=f"Add {name}=",
    )

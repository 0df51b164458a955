"""The brief: what the product is for, fixed before a formula is written."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields, replace
from datetime import date
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from labkit.formula.brief_terms import check_cost, check_mass, months, plain, refusal
from labkit.formula.names import fold
from labkit.formula.product_types import (
    ProductType,
    product_type,
    product_types,
    similar_types,
    type_in,
)
from labkit.quantities import Quantity, decimal
from labkit.quantities import parse as parse_quantity

__all__ = ["FORMS", "MARKETS", "Brief"]

FORMS = (
    "o/w emulsion",
    "w/o emulsion",
    "gel",
    "lotion",
    "surfactant",
    "anhydrous",
    "hydrosol",
    "scrub",
    "powder",
    "soap",
)
"""What the product is made as."""

MARKETS = {"EU": "European Union and Northern Ireland", "GB": "Great Britain", "US": "USA"}
"""Where it may be sold: the markets whose limits labkit knows."""

_OTHER_MARKETS = {
    "uk": "GB for Great Britain; Northern Ireland follows EU law: name EU as well",
    "united kingdom": "GB for Great Britain; Northern Ireland follows EU law: name EU as well",
    "northern ireland": "EU (Northern Ireland follows EU law)",
    "usa": "US",
    "europe": "EU",
}
_FLAGS = ("leave_on", "sprayed", "wet_hands", "under_3", "nappy", "eye_area", "sunlit")

Window = tuple[Quantity, Quantity]


@dataclass(frozen=True, slots=True, kw_only=True)
class Brief:
    """What the product must be; limits, thresholds and windows follow from it.

    Parameters
    ----------
    product : str
        What it is, such as ``"winter hand cream"``. When it is a product type, or ends with
        the name of one, that is set too.
    product_type : str, optional
        One of the names in the table of product types, such as ``"body lotion"``.
    leave_on : bool, optional
        Stays on (True) or is rinsed off (False); follows from the product type where known.
    form : str, optional
        One of :data:`FORMS`.
    sprayed, under_3, nappy, eye_area, sunlit : bool
        Sprayed; meant for children under three; for the nappy area; near the eyes; on skin
        that sees the sun (taken as True for what stays on, unless said otherwise).
    wet_hands : bool, optional
        Used with wet hands or in the shower; a scrub is, unless said otherwise.
    market : tuple of str
        Of ``EU``, ``GB``, ``US``.
    ph : (low, high), optional
        Window for the finished product at 25 °C.
    viscosity : (low, high), optional
        Window with units, such as ``("20 Pa*s", "35 Pa*s")``.
    conditions : mapping of str to str
        How thickness is measured: temperature, spindle, speed, method, days after making.
    windows : mapping of str to (low, high)
        Windows for other readings, with units: yield stress, spread, flow time …
    cost : str, optional
        Ceiling such as ``"6.50 EUR/kg"`` or ``"1.20 EUR/unit"``.
    must_have, must_not : tuple of str
        Materials or exclusions: nut, wheat, soya, wool, bee, vegan, silicone-free …
    pack, fill : str, optional
        Such as ``"jar"`` and ``"50 g"``.
    durability : str or int, optional
        ``"18 months"``; kept as a number of months.
    batch, balance : str
        Batch size and what the balance reads to.
    claims : tuple of str
        What the label shall say.
    as_of : date, optional
        Day on which the law is read; the day of the check where it is not given.

    Raises
    ------
    BriefError
        The brief contradicts itself or names something unknown.
    QuantityError
        A window without a usable unit.

    Examples
    --------
    >>> brief = Brief(product="hand cream", ph=(4.8, 5.6), viscosity=("20 Pa*s", "35 Pa*s"))
    >>> brief.product_type, brief.leave_on, brief.market
    ('hand cream', True, ('EU',))
    >>> brief.viscosity[0].to("mPa*s")
    20000.0
    """

    product: str
    product_type: str | None = None
    leave_on: bool | None = None
    form: str | None = None
    sprayed: bool = False
    wet_hands: bool | None = None
    under_3: bool = False
    nappy: bool = False
    eye_area: bool = False
    sunlit: bool | None = None
    market: tuple[str, ...] = ("EU",)
    ph: tuple[float, float] | None = None
    viscosity: Window | None = None
    conditions: Mapping[str, str] = field(default_factory=dict, hash=False)
    windows: Mapping[str, Window] = field(default_factory=dict, hash=False)
    cost: str | None = None
    must_have: tuple[str, ...] = ()
    must_not: tuple[str, ...] = ()
    pack: str | None = None
    fill: str | None = None
    durability: int | None = None
    batch: str = "100 g"
    balance: str = "0.01 g"
    claims: tuple[str, ...] = ()
    as_of: date | None = None

    def __post_init__(self) -> None:
        put = object.__setattr__
        put(self, "product", self.product.strip() if isinstance(self.product, str) else "")
        if not self.product:
            raise refusal("Brief", "no product", "A few words, such as 'hand cream'", "Name it")
        for name in _FLAGS:
            self._check_flag(name)
        put(self, "product_type", self._type_name())
        put(self, "leave_on", self._leave_on())
        put(self, "form", self._form())
        put(self, "market", self._markets())
        put(self, "ph", self._ph())
        put(self, "viscosity", self._window("viscosity", self.viscosity, "viscosity"))
        others = {k: self._window(k, v, None) for k, v in dict(self.windows).items()}
        put(self, "windows", MappingProxyType(others))
        put(self, "conditions", MappingProxyType({k: str(v) for k, v in self.conditions.items()}))
        for name in ("must_have", "must_not", "claims"):
            put(self, name, self._words(name))
        self._check_wishes()
        put(self, "durability", months(self.durability, self.where))
        check_cost(self.cost, self.where)
        for name in ("batch", "balance", "fill"):
            check_mass(name, getattr(self, name), self.where)

    def __reduce__(self) -> tuple[Any, ...]:
        return (Brief.from_dict, (self.as_dict(),))

    @property
    def where(self) -> str:
        """The brief as it is named in a message."""
        return f"Brief '{self.product}'"

    @property
    def kind(self) -> ProductType:
        """The product type with its use and its place on the body."""
        found = product_type(self.product_type) if self.product_type else None
        if found is not None:
            return found
        use = {True: "leave-on", False: "rinse-off", None: ""}[self.leave_on]
        return ProductType(name=use or "any", use=use, areas=frozenset(), kinds=frozenset())

    @property
    def used_wet(self) -> bool:
        """Whether water comes to the product in use."""
        return self.form == "scrub" if self.wet_hands is None else self.wet_hands

    @property
    def on_sunlit_skin(self) -> bool:
        """Whether what it leaves on the skin can meet the sun."""
        return self.leave_on is not False if self.sunlit is None else self.sunlit

    def with_(self, **changes: Any) -> Brief:
        """Another brief that differs in the named points.

        A new product or product type also sets leave-on or rinse-off anew, unless that
        is given as well.
        """
        known = {f.name for f in fields(self)}
        for name in changes:
            if name not in known:
                raise refusal(
                    self.where,
                    f"no point called '{name}'",
                    ", ".join(sorted(known)),
                    "Use one of these names",
                )
        if {"product", "product_type"} & set(changes):
            changes.setdefault("leave_on", None)
            changes.setdefault("product_type", None)
        return replace(self, **changes)

    def as_dict(self) -> dict[str, Any]:
        """The brief as plain values, for a file or a record; what is not set is left out."""
        record: dict[str, Any] = {}
        for item in fields(self):
            value = getattr(self, item.name)
            unset = value is False and item.name not in ("leave_on", "wet_hands", "sunlit")
            if not (unset or value is None or value == () or value == {}):
                record[item.name] = plain(value)
        return record

    @classmethod
    def from_dict(cls, record: Mapping[str, Any]) -> Brief:
        """The brief that :meth:`as_dict` wrote."""
        values = dict(record)
        known = {f.name for f in fields(cls)}
        strange = sorted(set(values) - known)
        if strange:
            raise refusal(
                "Brief",
                f"points that are not known: {', '.join(strange)}",
                ", ".join(sorted(known)),
                "Open it with the labkit it was written by, or take these points out",
            )
        if "as_of" in values:
            values["as_of"] = date.fromisoformat(values["as_of"])
        for name in ("market", "must_have", "must_not", "claims"):
            if name in values:
                values[name] = tuple(values[name])
        return cls(**values)

    def _check_flag(self, name: str) -> None:
        value = getattr(self, name)
        if value is not None and not isinstance(value, bool):
            raise refusal(
                self.where,
                f"{name.replace('_', ' ')} is {value!r}",
                "True or False",
                "Answer yes (True) or no (False)",
            )

    def _type_name(self) -> str | None:
        if self.product_type is None:
            found = product_type(self.product) or self._named_at_the_end()
            return found.name if found else None
        found = product_type(self.product_type)
        if found is None:
            near = similar_types(self.product_type) or sorted(product_types())
            raise refusal(
                self.where,
                f"the product type '{self.product_type}' is not known",
                "A name of the table of product types, such as " + ", ".join(near[:4]),
                "Use one of these, or leave it out and say leave_on=True or False",
            )
        return found.name

    def _named_at_the_end(self) -> ProductType | None:
        """A type that the product's last words name, unless it is said to be used otherwise."""
        found = type_in(self.product)
        said = {None: None, True: "leave-on", False: "rinse-off"}[self.leave_on]
        return None if found is None or said not in (None, found.use) else found

    def _leave_on(self) -> bool | None:
        found = product_type(self.product_type) if self.product_type else None
        if found is None or found.use == "oral":
            return self.leave_on
        stays = found.use == "leave-on"
        if self.leave_on is not None and self.leave_on != stays:
            raise refusal(
                self.where,
                f"leave_on={self.leave_on}, but a {found.name} "
                f"{'stays on' if stays else 'is rinsed off'}",
                "One of the two: it decides limits and allergen thresholds",
                "Leave out leave_on, or name another product type",
                cause="The switch was left from another product",
            )
        return stays

    def _form(self) -> str | None:
        if self.form is None or fold(self.form) in FORMS:
            return self.form and fold(self.form)
        raise refusal(
            self.where,
            f"the form '{self.form}' is not known",
            ", ".join(FORMS),
            "Use one of these, or leave it out: it is then read from the formula",
        )

    def _markets(self) -> tuple[str, ...]:
        market: Any = self.market
        given = (market,) if isinstance(market, str) else tuple(market)
        for name in given:
            if name not in MARKETS:
                wanted = _OTHER_MARKETS.get(fold(str(name)), ", ".join(MARKETS))
                raise refusal(
                    self.where,
                    f"the market '{name}' is not known",
                    "; ".join(f"{k} ({v})" for k, v in MARKETS.items()),
                    f"Write {wanted}",
                )
        if not given:
            raise refusal(
                self.where,
                "no market",
                "At least one of " + ", ".join(MARKETS),
                "Name the market whose limits shall be read",
            )
        return tuple(dict.fromkeys(given))

    def _ph(self) -> tuple[float, float] | None:
        if self.ph is None:
            return None
        low, high = self._pair("ph", self.ph)
        ends = [
            float(x.exact("pH")) if isinstance(x, Quantity) else float(self._number(x))
            for x in (low, high)
        ]
        if not 0 <= ends[0] < ends[1] <= 14:
            raise refusal(
                self.where,
                f"a pH window of {ends[0]:g} to {ends[1]:g}",
                "Two values between 0 and 14, the lower one first",
                "Type the window again, for example ph=(4.8, 5.6)",
                cause="The two are the same or the wrong way round, or a decimal sign is missing",
            )
        return ends[0], ends[1]

    def _number(self, value: Any) -> Decimal:
        return decimal(value, where=f"{self.where}, pH window", what="a pH")

    def _window(self, name: str, value: Any, kind: str | None) -> Window | None:
        if value is None:
            return None
        pair = self._pair(name, value)
        low, high = (parse_quantity(x, kind, where=f"{self.where}, {name}") for x in pair)
        if low.kind != high.kind or low.exact(low.unit) >= high.exact(low.unit):
            raise refusal(
                self.where,
                f"a {name} window of {low} to {high}",
                "Two values of one kind, the lower one first",
                f"Type the window again, for example {name}=('20 Pa*s', '35 Pa*s')",
                cause="The two are the same, the wrong way round, or in different kinds of unit",
            )
        return low, high

    def _pair(self, name: str, value: Any) -> tuple[Any, Any]:
        if isinstance(value, str) or not isinstance(value, Iterable) or len(tuple(value)) != 2:
            raise refusal(
                self.where,
                f"the {name} window is {value!r}",
                "Two values: the lowest and the highest that will do",
                "Write both, for example (4.8, 5.6)",
                cause="One value was given in place of a window",
            )
        low, high = value
        return low, high

    def _words(self, name: str) -> tuple[str, ...]:
        value = getattr(self, name)
        words = (value,) if isinstance(value, str) else tuple(value)
        return tuple(dict.fromkeys(str(w).strip() for w in words if str(w).strip()))

    def _check_wishes(self) -> None:
        both = {fold(x) for x in self.must_have} & {fold(x) for x in self.must_not}
        if both:
            raise refusal(
                self.where,
                f"'{min(both)}' is wanted and excluded",
                "A material or exclusion in one of the two lists",
                "Take it out of must_have or of must_not",
                cause="Two wishes were written at different times",
            )

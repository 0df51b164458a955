"""A finding: what could go wrong, in which lines, why, what to do, and where it stands."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from html import escape
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal, overload

from labkit.formula import Formula, Move

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["LEVELS", "SEVERITIES", "Finding", "Findings", "Severity"]

Severity = Literal["stop", "check", "fyi"]
SEVERITIES: tuple[Severity, ...] = ("stop", "check", "fyi")
"""Stop: harm, law, or it will fail. Check: may fail, look before you weigh. Fyi: good to know."""
LEVELS: Mapping[Severity, int] = MappingProxyType({"fyi": 1, "check": 2, "stop": 3})


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One fact about a formula that someone should know before weighing it.

    Attributes
    ----------
    code : str
        Short name of the rule, such as ``"INC01"``.
    severity : "stop", "check" or "fyi"
    what : str
        What would be seen or said.
    lines : tuple of int
        Positions of the lines concerned.
    names : tuple of str
        Their materials, as written.
    why : str
        The mechanism, the law or the number behind it.
    do : str
        What to do, and who decides where it hurts.
    move : Move or None
        A change of the formula that answers the finding, where there is one.
    source : str
        Where the rule stands, with ``from memory`` or ``common practice`` said as such.
    facts : mapping
        The numbers behind the words.
    """

    code: str
    severity: Severity
    what: str
    lines: tuple[int, ...] = ()
    names: tuple[str, ...] = ()
    why: str = ""
    do: str = ""
    move: Move | None = None
    source: str = ""
    facts: Mapping[str, Any] = field(default_factory=dict, hash=False, compare=False)

    def apply(self, formula: Formula) -> Formula:
        """The formula after the finding's move; the same formula where it offers none."""
        return formula if self.move is None else formula.apply(self.move)

    def as_dict(self) -> dict[str, Any]:
        """The finding as plain values."""
        record: dict[str, Any] = {
            "code": self.code,
            "severity": self.severity,
            "what": self.what,
            "lines": list(self.lines),
            "names": list(self.names),
            "why": self.why,
            "do": self.do,
            "source": self.source,
        }
        if self.move is not None:
            record["move"] = self.move.as_dict()
        return record

    def as_record(self, reason: str = "") -> dict[str, Any]:
        """What is kept with a trial when someone accepts the finding with a reason.

        Parameters
        ----------
        reason : str
            Why it stands, in the words of who decided.
        """
        return {
            "finding": self.code,
            "severity": self.severity,
            "what": self.what,
            "materials": list(self.names),
            "source": self.source,
            "reason": reason.strip(),
        }

    def __str__(self) -> str:
        return f"{self.severity.upper()} {self.code}: {self.what} {self.do}"


class Findings(Sequence[Finding]):
    """Findings in order: stops first, then checks, then what is good to know.

    Examples
    --------
    >>> some = Findings([Finding(code="A", severity="fyi", what="a"),
    ...                  Finding(code="B", severity="stop", what="b")])
    >>> [f.code for f in some], len(some.stops)
    (['B', 'A'], 1)
    """

    def __init__(self, findings: Iterable[Finding] = ()) -> None:
        self._all = tuple(sorted(findings, key=lambda f: (-LEVELS[f.severity], f.code)))

    @overload
    def __getitem__(self, index: int) -> Finding: ...
    @overload
    def __getitem__(self, index: slice) -> Findings: ...
    def __getitem__(self, index: int | slice) -> Finding | Findings:
        return Findings(self._all[index]) if isinstance(index, slice) else self._all[index]

    def __len__(self) -> int:
        return len(self._all)

    def __iter__(self) -> Iterator[Finding]:
        return iter(self._all)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Findings) and self._all == other._all

    def __hash__(self) -> int:
        return hash(self._all)

    def of(self, test: str | Callable[[Finding], bool]) -> Findings:
        """Those of a severity or a code, or those that a function picks."""
        if callable(test):
            return Findings(f for f in self._all if test(f))
        return Findings(f for f in self._all if test in (f.severity, f.code))

    @property
    def stops(self) -> Findings:
        """Harm, law, or it will fail."""
        return self.of("stop")

    @property
    def checks(self) -> Findings:
        """May fail: look before you weigh."""
        return self.of("check")

    @property
    def fyi(self) -> Findings:
        """Good to know."""
        return self.of("fyi")

    @property
    def codes(self) -> tuple[str, ...]:
        """The codes, in order."""
        return tuple(f.code for f in self._all)

    def table(self) -> pd.DataFrame:
        """Columns severity, code, what, lines, why, do, source."""
        import pandas as pd

        head = ["severity", "code", "what", "lines", "why", "do", "source"]
        rows = [
            (f.severity, f.code, f.what, ", ".join(f.names), f.why, f.do, f.source)
            for f in self._all
        ]
        return pd.DataFrame(rows, columns=head)

    def __str__(self) -> str:
        if not self._all:
            return "Nothing found by the rules that were asked."
        return "\n".join(str(f) for f in self._all)

    def __repr__(self) -> str:
        counts = (f"{len(self.of(s))} {s}" for s in SEVERITIES)
        return f"<Findings: {', '.join(counts)}>"

    def _repr_html_(self) -> str:
        if not self._all:
            return f"<p>{escape(str(self))}</p>"
        rows = "".join(
            f"<tr><td>{f.severity}</td><td>{escape(f.what)}</td><td>{escape(f.why)}</td>"
            f"<td>{escape(f.do)}</td><td>{escape(f.source)}</td></tr>"
            for f in self._all
        )
        head = "".join(f"<th>{h}</th>" for h in ("", "what", "why", "what to do", "source"))
        return f"<table><tr>{head}</tr>{rows}</table>"

"""One change to a formula, as an object that can be stored, undone, sent and replayed.

The mixing sheet, undo, the fixes that findings offer, the planner and the test
vectors shared with JavaScript all speak in these moves.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, Literal

from labkit.errors import MoveError
from labkit.formula.grid import percent_of, show, units_of
from labkit.formula.lines import Line
from labkit.formula.names import fold, is_water, slug
from labkit.formula.rebalance import reach, share_out

__all__ = ["Give", "Move", "Ref", "apply_move", "find_line", "givers_of", "reachable"]

Kind = Literal["set", "swap", "add", "remove", "place", "lock", "bound", "qs", "note"]
Ref = int | str | tuple[str, str]
"""A line: its position, its material, or (phase, material)."""
Give = str | tuple[Ref, ...]
"""Which lines give way: ``"qs"``, ``"phase"``, ``"all"``, or chosen lines."""
Lines = tuple[Line, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """A change to one line.

    ``kind`` is one of *set* (take a share), *swap* (another material in its place),
    *add*, *remove*, *place* (another phase or position), *lock*, *bound*, *qs* (this
    line takes the rest from now on) and *note*. ``line`` is the position of the
    line, ``material`` what stands there, so that a move is never applied to a line
    that it was not made for.
    """

    kind: Kind
    line: int | None = None
    material: str = ""
    phase: str | None = None
    percent: Decimal | None = None
    give: Give = "qs"
    position: int | None = None
    to: str = ""
    key: str | None = None
    low: Decimal | None = None
    high: Decimal | None = None
    locked: bool = False

    def as_dict(self) -> dict[str, Any]:
        """The move as plain values; only what differs from the default is written."""
        record: dict[str, Any] = {"kind": self.kind}
        for name in self.__slots__[1:]:
            value = getattr(self, name)
            if value is None or value is False or value == "" or (name, value) == ("give", "qs"):
                continue
            record[name] = str(value) if isinstance(value, Decimal) else value
        if isinstance(self.give, tuple):
            record["give"] = [list(r) if isinstance(r, tuple) else r for r in self.give]
        return record

    @classmethod
    def from_dict(cls, record: dict[str, Any]) -> Move:
        """The move that :meth:`as_dict` wrote."""
        fields = dict(record)
        for name in ("percent", "low", "high"):
            if fields.get(name) is not None:
                fields[name] = Decimal(str(fields[name]))
        if isinstance(fields.get("give"), list):
            fields["give"] = tuple(tuple(r) if isinstance(r, list) else r for r in fields["give"])
        return cls(**fields)

    @property
    def words(self) -> str:
        """The move as a step is named in a list: "Glycerin to 4.00 %"."""
        name = self.material
        return {
            "set": lambda: f"{name} to {show(self.percent or 0)} %",
            "swap": lambda: f"{name} replaced by {self.to}",
            "add": lambda: f"{name} added, {show(self.percent or 0)} %",
            "remove": lambda: f"{name} removed",
            "place": lambda: f"{name} moved to phase {self.phase}",
            "lock": lambda: f"{name} {'locked' if self.locked else 'unlocked'}",
            "bound": lambda: f"{name} bounded {_bound(self.low)} to {_bound(self.high)} %",
            "qs": lambda: f"{name} takes the rest",
            "note": lambda: f"note on {name}",
        }[self.kind]()


def _bound(value: Decimal | None) -> str:
    return "–" if value is None else show(value)


def find_line(lines: Lines, ref: Ref, name: str = "The formula") -> int:
    """The position of the line that a name, a (phase, name) pair or a number means.

    Raises
    ------
    MoveError
        No such line, or more than one.
    """
    if isinstance(ref, int) and not isinstance(ref, bool):
        if -len(lines) <= ref < len(lines):
            return ref % len(lines)
        raise _no_line(lines, f"line {ref + 1}", name)
    phase, material = ref if isinstance(ref, tuple) else (None, str(ref))
    inside = [i for i, x in enumerate(lines) if phase is None or fold(x.phase) == fold(phase)]
    tests = (
        lambda x: fold(x.material) == fold(material),
        lambda x: x.key is not None and x.key == slug(material),
        lambda x: slug(x.material) == slug(material) != "",
        lambda x: is_water(x.material) and is_water(material),
    )
    for test in tests:
        hits = [i for i in inside if test(lines[i])]
        if len(hits) == 1:
            return hits[0]
        if hits:
            raise _ambiguous(lines, hits, material, name)
    raise _no_line(lines, f"'{material}'" + (f" in phase {phase}" if phase else ""), name)


def _no_line(lines: Lines, what: str, name: str) -> MoveError:
    return MoveError(
        where=name,
        found=f"no line for {what}",
        allowed="Lines: " + "; ".join(f"{x.phase} {x.material}" for x in lines[:12]),
        cause="Another spelling, or the material is not in this formula",
        do="Use the name as it stands in the formula, or add the material first",
    )


def _ambiguous(lines: Lines, hits: list[int], material: str, name: str) -> MoveError:
    shown = [f"line {i + 1} (phase {lines[i].phase}, {show(lines[i].percent)} %)" for i in hits]
    return MoveError(
        where=name,
        found=f"'{material}' stands on {len(hits)} lines: " + " and ".join(shown),
        allowed="One line at a time",
        cause="The same material is added in more than one place",
        do=f'Say which: ("{lines[hits[0]].phase}", "{lines[hits[0]].material}") '
        "or the line's position",
        lines=hits,
    )


def givers_of(lines: Lines, line: int, give: Give, qs: int | None) -> tuple[int, ...]:
    """Positions of the unlocked lines that give way when ``line`` moves.

    Raises
    ------
    MoveError
        No line is left that could give way.
    """
    where = lines[line].where
    if give == "qs":
        chosen = _qs_giver(lines, line, qs)
    elif give == "phase":
        chosen = [i for i, x in enumerate(lines) if x.phase == lines[line].phase]
    elif give == "all":
        chosen = list(range(len(lines)))
    elif isinstance(give, str):
        raise MoveError(
            where=where,
            found=f"give='{give}'",
            allowed="'qs', 'phase', 'all', or a list of lines",
            cause="A single line was named without brackets",
            do=f"Write give=['{give}'] to let that line give way",
        )
    else:
        chosen = [find_line(lines, ref) for ref in give]
    free = tuple(i for i in dict.fromkeys(chosen) if i != line and not lines[i].locked)
    if not free:
        raise MoveError(
            where=where,
            found="no line is left that can give way",
            allowed="At least one other unlocked line",
            cause="The lines chosen to give way are locked, or there are none",
            do="Unlock one of them, or choose others to give way",
        )
    return free


def _qs_giver(lines: Lines, line: int, qs: int | None) -> list[int]:
    if qs is not None and qs != line:
        return [qs]
    takes_rest = qs == line
    raise MoveError(
        where=lines[line].where,
        found="this is the q.s. line, it takes the rest" if takes_rest else "no q.s. line is named",
        allowed="Another line that moves, or other lines that give way",
        cause="The q.s. line follows the others and has no amount of its own"
        if takes_rest
        else "The formula was written without a line that takes the rest",
        do="Choose give='all', give='phase' or a list of lines",
    )


def reachable(lines: Lines, line: int, give: Give, qs: int | None) -> tuple[Decimal, Decimal]:
    """Lowest and highest share, in %, that a line can take with these lines giving way."""
    low, high = _bounds(lines)
    lowest, highest = reach(_units(lines), low, high, line, givers_of(lines, line, give, qs))
    return percent_of(lowest), percent_of(highest)


def _units(lines: Lines) -> list[int]:
    return [units_of(x.percent) for x in lines]


def _bounds(lines: Lines) -> tuple[list[int], list[int]]:
    pairs = [x.bounds for x in lines]
    return [units_of(p[0]) for p in pairs], [units_of(p[1]) for p in pairs]


def rank_of(lines: Lines) -> list[int]:
    """The order in which lines take a unit left by rounding: material, phase, position."""
    order = sorted(range(len(lines)), key=lambda i: (lines[i].identity, lines[i].phase, i))
    rank = [0] * len(lines)
    for place, i in enumerate(order):
        rank[i] = place
    return rank


def set_share(lines: Lines, line: int, percent: Decimal, give: Give, qs: int | None) -> Lines:
    """The lines with one of them at ``percent`` and the givers moved to keep 100.

    Raises
    ------
    MoveError
        The line is locked, or the share cannot be reached; the range is named.
    """
    target = lines[line]
    if target.locked:
        raise MoveError(
            where=target.where,
            found="the line is locked",
            allowed=f"It stays at {show(target.percent)} %",
            cause="It was locked to keep its share",
            do="Unlock it, or move another line",
        )
    units, givers = _units(lines), givers_of(lines, line, give, qs)
    low, high = _bounds(lines)
    lowest, highest = reach(units, low, high, line, givers)
    wanted = units_of(percent)
    if not lowest <= wanted <= highest:
        raise _out_of_reach(lines, line, percent, (percent_of(lowest), percent_of(highest)), givers)
    rest = sum(units[i] for i in givers) + units[line] - wanted
    rank = rank_of(lines) if len(givers) > 1 else [0] * len(lines)
    shared = share_out(
        [units[i] for i in givers],
        [low[i] for i in givers],
        [high[i] for i in givers],
        rest,
        [rank[i] for i in givers],
    )
    changed = list(lines)
    for i, amount in zip((line, *givers), (wanted, *shared), strict=True):
        if amount != units[i]:
            changed[i] = replace(lines[i], percent=percent_of(amount))
    return tuple(changed)


def _out_of_reach(
    lines: Lines,
    line: int,
    percent: Decimal,
    span: tuple[Decimal, Decimal],
    givers: tuple[int, ...],
) -> MoveError:
    names = ", ".join(lines[i].material for i in givers[:3]) + (" …" if len(givers) > 3 else "")
    target = lines[line]
    own_low, own_high = target.bounds
    if not own_low <= percent <= own_high:
        cause = f"The line itself is bounded to {show(own_low)}–{show(own_high)} %"
    else:
        cause = f"The lines that give way ({names}) have no more room"
    return MoveError(
        where=target.where,
        found=f"{show(percent)} % cannot be reached",
        allowed=f"It can reach {show(span[0])} to {show(span[1])} %",
        cause=cause,
        do="Stay inside that range, let more lines give way, or unlock a line",
        low=span[0],
        high=span[1],
        wanted=percent,
    )


def apply_move(lines: Lines, qs: int | None, move: Move) -> tuple[Lines, int | None]:
    """The lines and the q.s. position after a move.

    Raises
    ------
    MoveError
        The move cannot be made; nothing has changed.
    """
    if move.kind == "add":
        return _add(lines, qs, move)
    line = _locate(lines, move)
    if move.kind == "set":
        return set_share(lines, line, move.percent or Decimal(0), move.give, qs), qs
    if move.kind == "remove":
        return _remove(lines, qs, line, move.give)
    if move.kind == "place":
        return _place(lines, qs, line, move)
    if move.kind == "qs":
        return _unlocked(lines, line), line
    changed = list(lines)
    changed[line] = _edited(lines[line], move, is_qs=line == qs)
    return tuple(changed), qs


def _edited(line: Line, move: Move, *, is_qs: bool) -> Line:
    if move.kind == "swap":
        return replace(line, material=move.to, key=move.key)
    if move.kind == "lock":
        if is_qs and move.locked:
            raise MoveError(
                where=line.where,
                found="the q.s. line cannot be locked",
                allowed="Any other line",
                cause="It takes the rest, so that the total stays 100",
                do="Let another line take the rest first",
            )
        return replace(line, locked=move.locked)
    if move.kind == "bound":
        return replace(line, low=move.low, high=move.high)
    return replace(line, note=move.to)


def _unlocked(lines: Lines, line: int) -> Lines:
    return (*lines[:line], replace(lines[line], locked=False), *lines[line + 1 :])


def _locate(lines: Lines, move: Move) -> int:
    if move.line is not None and 0 <= move.line < len(lines):
        there = lines[move.line]
        if not move.material or fold(there.material) == fold(move.material):
            return move.line
    if move.phase is not None and move.kind != "place":
        return find_line(lines, (move.phase, move.material))
    return find_line(lines, move.material)


def _add(lines: Lines, qs: int | None, move: Move) -> tuple[Lines, int | None]:
    phase = move.phase or lines[-1].phase
    same = [i for i, x in enumerate(lines) if x.phase == phase]
    place = move.position if move.position is not None else (same[-1] + 1 if same else len(lines))
    place = min(max(place, 0), len(lines))
    fresh = Line(phase=phase, material=move.material, percent=Decimal(0), key=move.key)
    grown = (*lines[:place], fresh, *lines[place:])
    moved = qs + 1 if qs is not None and qs >= place else qs
    if move.percent:
        give = move.give
        if isinstance(give, tuple):
            give = tuple(_shifted(r, place) for r in give)
        grown = set_share(grown, place, move.percent, give, moved)
    bounded = replace(grown[place], low=move.low, high=move.high)
    return (*grown[:place], bounded, *grown[place + 1 :]), moved


def _shifted(ref: Ref, place: int) -> Ref:
    return ref + 1 if isinstance(ref, int) and ref >= place else ref


def _remove(lines: Lines, qs: int | None, line: int, give: Give) -> tuple[Lines, int | None]:
    if line == qs:
        raise MoveError(
            where=lines[line].where,
            found="the q.s. line cannot be removed",
            allowed="Any other line",
            cause="It takes the rest, so that the total stays 100",
            do="Let another line take the rest first",
        )
    free = replace(lines[line], low=None, high=None)
    lines = (*lines[:line], free, *lines[line + 1 :])
    if free.percent:
        lines = set_share(lines, line, Decimal(0), give, qs)
    left = lines[:line] + lines[line + 1 :]
    return left, qs - 1 if qs is not None and qs > line else qs


def _place(lines: Lines, qs: int | None, line: int, move: Move) -> tuple[Lines, int | None]:
    moving = replace(lines[line], phase=move.phase or lines[line].phase)
    rest = list(lines[:line] + lines[line + 1 :])
    same = [i for i, x in enumerate(rest) if x.phase == moving.phase]
    place = move.position if move.position is not None else (same[-1] + 1 if same else len(rest))
    place = min(max(place, 0), len(rest))
    order = list(range(len(lines)))
    order.remove(line)
    order.insert(place, line)
    rest.insert(place, moving)
    return tuple(rest), None if qs is None else order.index(qs)

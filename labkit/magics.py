"""Cell magics: a formula as a plain table in a cell, a trial with its note in a cell.

%bench my-bench            the bench in use, also as the variable ``bench``
%%formula cream            the table below becomes the formula ``cream``
%%trial cream              records ``cream``; the text below is its note
%%trial cream from HC-07 as HC-08
"""

from __future__ import annotations

import re
from typing import Any

from labkit.bench import Bench, Trial
from labkit.errors import FormulaError, LabkitError, RecordError
from labkit.formula import Formula
from labkit.formula.names import fold
from labkit.materials import Materials
from labkit.reading import read_recipe

__all__ = ["register"]

HEADING = re.compile(r"\s*(phase|material|ingredient|inci)\b", re.IGNORECASE)
TRIAL = re.compile(r"(?P<formula>\w+)(?:\s+from\s+(?P<parent>\S+))?(?:\s+as\s+(?P<label>\S+))?\s*")


def register(shell: Any) -> None:
    """Make the magics and the completion of material names known to a running shell."""
    if getattr(shell, "labkit_registered", False):
        return
    shell.labkit_registered = True
    magics = _Magics(shell)
    shell.register_magic_function(magics.formula, "cell", "formula")
    shell.register_magic_function(magics.trial, "cell", "trial")
    shell.register_magic_function(magics.bench, "line", "bench")
    completer = getattr(shell, "Completer", None)
    if completer is not None and hasattr(completer, "custom_matchers"):
        completer.custom_matchers.append(_material_matcher())


class _Magics:
    def __init__(self, shell: Any) -> None:
        self.shell = shell
        self.last: dict[str, Trial] = {}

    def bench(self, line: str) -> Bench:
        """Open a bench and keep it as the variable ``bench``: %bench FOLDER or FILE."""
        opened = Bench.open(line.strip() or ".")
        self.shell.user_ns["bench"] = opened
        return opened

    def formula(self, line: str, cell: str) -> Formula | None:
        """Read the table in the cell as a formula: %%formula NAME [title of the recipe]."""
        name, _, title = line.strip().partition(" ")
        if not name.isidentifier():
            raise FormulaError(
                where="%%formula",
                found=f"'{name}' as the name" if name else "no name",
                allowed="A name for the variable: letters, digits and _",
                cause="The name was left out, or holds blanks or signs",
                do="Write, for example, %%formula cream Hand cream",
            )
        called = title.strip() or name.replace("_", " ").capitalize()
        made = _read(cell, called)
        self.shell.user_ns[name] = made
        return made

    def trial(self, line: str, cell: str) -> Trial:
        """Record a trial: %%trial NAME [from PARENT] [as LABEL]; the cell is its note."""
        match = TRIAL.fullmatch(line.strip())
        given = self.shell.user_ns.get(match["formula"]) if match else None
        if match is None or not isinstance(given, Formula):
            raise RecordError(
                where="%%trial",
                found=f"'{line.strip()}'" if line.strip() else "no formula",
                allowed="%%trial FORMULA, with 'from PARENT' and 'as LABEL' where wanted",
                cause="The formula's variable is misspelt or holds something else",
                do="Name a variable that holds a formula, such as %%trial cream",
            )
        bench = self._bench()
        parent = match["parent"] or self.last.get(match["formula"])
        mats = self.shell.user_ns.get("mats")
        recorded = bench.record(
            given,
            parent=parent,
            note=cell.strip(),
            label=match["label"],
            mats=mats if isinstance(mats, Materials) else Materials.starter(),
        )
        self.last[match["formula"]] = recorded
        return recorded

    def _bench(self) -> Bench:
        bench = self.shell.user_ns.get("bench")
        if isinstance(bench, Bench):
            return bench
        raise RecordError(
            where="%%trial",
            found="no bench is open",
            allowed="A bench in the variable 'bench'",
            cause="It was not opened in this notebook yet",
            do="Write %bench my-bench, or bench = lk.Bench.open('my-bench')",
        )


def _read(cell: str, name: str) -> Formula:
    first = next((row for row in cell.splitlines() if row.strip()), "")
    if HEADING.match(first.lstrip("| ")):
        return Formula.parse(cell, name=name)
    return read_recipe(cell).formula(name=name)


def _material_matcher() -> Any:
    from IPython.core.completer import SimpleCompletion, context_matcher

    @context_matcher()  # type: ignore[untyped-decorator, unused-ignore]
    def labkit_materials(context: Any) -> dict[str, Any]:
        """Names of materials, inside a %%formula cell."""
        if not context.full_text.lstrip().startswith("%%formula"):
            return {"completions": []}
        start = re.split(r"[,;|\t]", context.line_with_cursor[: context.cursor_position])[-1]
        return {
            "completions": [SimpleCompletion(text=name) for name in matching_names(start)],
            "matched_fragment": start.lstrip(),
            "suppress": True,
        }

    return labkit_materials


def matching_names(start: str, most: int = 20) -> list[str]:
    """Material names that go on from what was typed; INCI first.

    Examples
    --------
    >>> matching_names("cetearyl a")[0]
    'Cetearyl Alcohol'
    """
    typed = fold(start)
    if len(typed) < 2:
        return []
    try:
        found = Materials.starter().find(start.strip(), most)
    except LabkitError:
        return []
    names = [name for m in found for name in (m.inci, m.name)]
    return [n for n in dict.fromkeys(names) if fold(n).startswith(typed)][:most]

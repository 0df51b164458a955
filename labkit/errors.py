"""What labkit says when it cannot do what was asked.

    LabkitError
    ├── FormulaError        a recipe that cannot be a formula
    │   └── MoveError       a change of one line that cannot be made
    ├── MaterialError       a material that is unknown, ambiguous or ill described
    ├── BriefError          a product brief that contradicts itself
    ├── ReadingError        a file or a pasted recipe that cannot be read
    ├── QuantityError       a number without a usable unit
    ├── MeasurementError    a reading that cannot be recorded as it stands
    ├── ScienceError        a calculation asked outside what its equation can carry
    ├── RecordError         a record of the history that is not what it must be
    │   └── StoreError      the bench file (or server) cannot be read or written
    ├── ShareError          a shared history that cannot be opened, merged or written
    └── DataFileError       a dataset of the toolkit is missing or damaged

Every refusal is told in five parts, in the words of the bench: where it is,
what was found, what is allowed, the likely cause, and what to do next.
"""

from __future__ import annotations

from typing import Any


class LabkitError(ValueError):
    """A refusal in five parts.

    Parameters
    ----------
    where : str
        The formula, phase, trial, line or file concerned.
    found : str
        What was found there, with its unit.
    allowed : str
        What would be accepted.
    cause : str
        The likely cause.
    do : str
        The next step.
    **facts
        The numbers and names behind the words, kept as attributes of ``facts``.

    Examples
    --------
    >>> raise LabkitError(where="Trial 3", found="pH 55", allowed="A pH lies between 0 and 14",
    ...     cause="A decimal point may be missing", do="Type 5.5 if that was meant")
    Traceback (most recent call last):
    ...
    labkit.errors.LabkitError: Trial 3: pH 55. A pH lies between 0 and 14. \
A decimal point may be missing. Type 5.5 if that was meant.
    """

    def __init__(
        self, *, where: str, found: str, allowed: str, cause: str, do: str, **facts: Any
    ) -> None:
        self.where, self.found, self.allowed = where, found, allowed
        self.cause, self.do, self.facts = cause, do, facts
        super().__init__(" ".join(_sentence(part) for part in self._parts()))

    def _parts(self) -> list[str]:
        head = f"{self.where}: {self.found}" if self.where else self.found
        return [part for part in (head, self.allowed, self.cause, self.do) if part]

    def __reduce__(self) -> tuple[Any, ...]:
        words = {
            "where": self.where,
            "found": self.found,
            "allowed": self.allowed,
            "cause": self.cause,
            "do": self.do,
        }
        return (_rebuild, (type(self), words | self.facts))

    def _render_traceback_(self) -> list[str]:
        """IPython's hook: a bench chemist sees the words, not the stack."""
        return [str(self)]


def _rebuild(kind: type[LabkitError], words: dict[str, Any]) -> LabkitError:
    return kind(**words)


def _sentence(part: str) -> str:
    part = part.strip()
    return part if part.endswith((".", "?", "!")) else part + "."


class FormulaError(LabkitError):
    """A recipe that cannot be a formula."""


class MoveError(FormulaError):
    """A change of one line that cannot be made."""


class MaterialError(LabkitError):
    """A material that is unknown, ambiguous or ill described."""


class BriefError(LabkitError):
    """A product brief that contradicts itself."""


class ReadingError(LabkitError):
    """A file or a pasted recipe that cannot be read."""


class QuantityError(LabkitError):
    """A number without a usable unit."""


class MeasurementError(LabkitError):
    """A reading that cannot be recorded as it stands."""


class ScienceError(LabkitError):
    """A calculation asked outside what its equation can carry."""


class RecordError(LabkitError):
    """A record of the history that is not what it must be."""


class StoreError(RecordError):
    """The bench file (or server) cannot be read or written."""


class ShareError(LabkitError):
    """A shared history that cannot be opened, merged or written."""


class DataFileError(LabkitError):
    """A dataset of the toolkit is missing or damaged."""

"""The dataset loader: every shipped table is read here, once, as text.

A table is a UTF-8 CSV file in ``datasets/`` (``labkit/datasets`` in an installed
copy). A blank cell is ``None``: unknown is not zero.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path, PurePosixPath
from types import MappingProxyType

from labkit.errors import DataFileError

Row = Mapping[str, str | None]

_PACKAGED = Path(__file__).parent / "datasets"
_REPOSITORY = Path(__file__).parent.parent / "datasets"
_REPAIR = "Install labkit again, or take the file from the repository"


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Where a number comes from.

    Attributes
    ----------
    id : str
        The short name that rows carry in ``source_id``.
    citation : str
        Title, publisher and year in full; ``common practice`` or ``from memory``
        where nothing printed stands behind the number.
    licence : str or None
        Terms of the source, as far as known.
    url : str or None
        Public address or DOI.
    note : str or None
        What to keep in mind when using it.
    """

    id: str
    citation: str
    licence: str | None = None
    url: str | None = None
    note: str | None = None


def path(name: str) -> Path:
    """Where the table ``name`` lies on disk.

    Parameters
    ----------
    name : str
        File name without ``.csv``, with its folder for demo tables: ``"demo/prices"``.

    Returns
    -------
    pathlib.Path
        The file inside the installed package, else inside the repository.

    Raises
    ------
    DataFileError
        No such table, or a name that points outside the folder.

    Examples
    --------
    >>> path("sources").name
    'sources.csv'
    """
    parts = PurePosixPath(name)
    if not name or parts.is_absolute() or ".." in parts.parts or "\\" in name:
        raise DataFileError(
            where=f"Dataset {name!r}",
            found="a name that is no plain table name",
            allowed="A table is named by its file, such as 'materials' or 'demo/prices'",
            cause="A path was given in place of a name",
            do="Use the file name without .csv",
        )
    file = _folder() / f"{name}.csv"
    if not file.is_file():
        raise DataFileError(
            where=f"Dataset {name!r}",
            found="no such file",
            allowed=f"{name}.csv among the tables that come with labkit",
            cause="The installation is incomplete, or the name is misspelt",
            do=_REPAIR,
        )
    return file


def shipped(name: str) -> Path:
    """A folder that comes with labkit: ``datasets``, ``notebooks`` or ``shared``.

    Parameters
    ----------
    name : str
        Name of the folder.

    Returns
    -------
    pathlib.Path
        Inside the installed package, else inside the repository.

    Raises
    ------
    DataFileError
        The folder is missing.

    Examples
    --------
    >>> shipped("datasets").name
    'datasets'
    """
    for folder in (_PACKAGED.parent / name, _REPOSITORY.parent / name):
        if folder.is_dir():
            return folder
    raise DataFileError(
        where=f"Folder {name!r}",
        found="no such folder",
        allowed="datasets, notebooks and shared come with labkit",
        cause="The installation is incomplete",
        do=_REPAIR,
    )


@cache
def rows(name: str) -> tuple[Row, ...]:
    """All rows of the table ``name``, read once and kept.

    Parameters
    ----------
    name : str
        As in `path`.

    Returns
    -------
    tuple of mappings
        Column name to text; a blank cell is ``None``. Read-only.

    Raises
    ------
    DataFileError
        The table is missing or damaged.

    Examples
    --------
    >>> rows("materials")[0]["inci"]
    'Aqua'
    """
    return tuple(_read(path(name), f"Dataset {name!r}"))


@cache
def sources() -> Mapping[str, Source]:
    """Every source by its id: ``sources.csv`` and all files of ``sources.d/``.

    Returns
    -------
    mapping of str to Source
        Read-only.

    Raises
    ------
    DataFileError
        Two different entries under one id, or an entry without id or citation.
    """
    found: dict[str, Source] = {}
    names = ["sources", *sorted(f"sources.d/{p.stem}" for p in _folder().glob("sources.d/*.csv"))]
    for name in names:
        for row in rows(name):
            source = _source(row, name)
            if found.setdefault(source.id, source) != source:
                raise DataFileError(
                    where=f"Dataset {name!r}",
                    found=f"the source id {source.id!r} a second time, with other words",
                    allowed="One citation per source id",
                    cause="Two tables describe one source differently",
                    do="Give one of them another id, or the same words",
                )
    return MappingProxyType(found)


def _source(row: Row, name: str) -> Source:
    key, citation = row.get("source_id"), row.get("citation")
    if key is None or citation is None:
        raise DataFileError(
            where=f"Dataset {name!r}",
            found=f"a source without {'id' if key is None else 'citation'}: {dict(row)}",
            allowed="source_id and citation are both filled",
            cause="A cell was left blank, or a column is named otherwise",
            do="Fill the columns source_id and citation",
        )
    return Source(
        id=key,
        citation=citation,
        licence=row.get("licence"),
        url=row.get("url"),
        note=row.get("note"),
    )


def _folder() -> Path:
    return _PACKAGED if _PACKAGED.is_dir() else _REPOSITORY


def _read(file: Path, where: str) -> Iterator[Row]:
    try:
        with file.open(encoding="utf-8-sig", newline="") as stream:
            lines = csv.reader(stream, strict=True)
            head = next(lines, [])
            _check_head(head, where)
            for number, cells in enumerate(lines, start=2):
                if len(cells) != len(head):
                    raise _damaged(where, f"{len(cells)} cells in row {number}", len(head))
                values = [cell or None for cell in map(str.strip, cells)]
                yield MappingProxyType(dict(zip(head, values, strict=True)))
    except (UnicodeDecodeError, csv.Error) as error:
        raise _damaged(where, f"text that cannot be read ({error})", None) from error


def _check_head(head: list[str], where: str) -> None:
    if not head or "" in head or len(set(head)) != len(head):
        raise _damaged(where, f"the column names {head}", None)


def _damaged(where: str, found: str, width: int | None) -> DataFileError:
    cells = f", {width} cells in each row" if width else ""
    return DataFileError(
        where=where,
        found=found,
        allowed=f"UTF-8 comma-separated text with one row of different column names{cells}",
        cause="The file was edited or cut short",
        do=_REPAIR,
    )

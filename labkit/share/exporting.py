"""A bench, or some of its trials, as one file for a stranger."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any

import orjson

from labkit.bench.history import History
from labkit.errors import ShareError
from labkit.reading.cells import plain_file_name
from labkit.share.crate import crate_json
from labkit.share.gathering import LEFT_OUT, gather
from labkit.share.opening import SharedHistory, opened
from labkit.share.package import MEDIA, Package, kept_back, openings_text
from labkit.share.tabular import datapackage_json, readings_csv, requirements_txt
from labkit.share.zips import MAX_BYTES, MAX_ENTRIES, write_zip

__all__ = ["Preview", "export", "preview"]

ENDING = ".eln"
_ENDINGS = {kind: ending for ending, kind in MEDIA.items() if ending}
README = """{name}
{line}

A trial history of a formulation bench, written by labkit.
Open report.html in a browser to read it: it needs nothing else and loads nothing.

HOW TO CHECK IT, WITHOUT LABKIT

Each file in records/ is named by the SHA-256 of its own bytes. In this folder, type

    sha256sum -c SHA256SUMS

(on a Mac: shasum -a 256 -c SHA256SUMS). Every line should say OK. The list could have
been written anew together with the files; the names of the records cannot: each record
names the ones it was built on by the same number, so a change anywhere shows in every
later one. The check number of the whole is

    {digest}

and comes out again with

    (cd records && ls | cut -c1-64 | LC_ALL=C sort | sha256sum)

Compare it with the number you were told another way (on paper, by mail): only that shows
that nothing newer was left out, or everything written anew.

WITH LABKIT

    labkit verify {file}
    labkit recalculate {file}
    labkit merge {file} --bench my-bench

WHAT WAS KEPT BACK

{kept}

WHAT IS IN IT

records/          the history: one file a record, canonical JSON (RFC 8785)
photos/, files/   named by the SHA-256 of their content
readings.csv      every reading; datapackage.json says what the columns are. Text that a
                  spreadsheet could run has an apostrophe before it
openings.json     what opens the private fields that were shared
history.json      name, check number, what was kept back
requirements.txt  versions of the software, to recalculate in the same ones

That a history holds says nothing about the product. Local law, supplier documents, a
challenge test and a qualified safety assessor decide.
"""


@dataclass(frozen=True, kw_only=True, repr=False)
class Preview:
    """Exactly what a stranger will see: ``html`` is the report, ``text`` the words of it all."""

    html: str
    text: str
    left_out: Mapping[str, int]
    files: tuple[str, ...]

    def __str__(self) -> str:
        return self.text

    def __repr__(self) -> str:
        return self.text

    def _repr_html_(self) -> str:
        kept = escape(kept_back(dict(self.left_out)) or "nothing")
        return (
            f"<p><b>What a stranger will see</b> ({len(self.files)} files). Kept back: {kept}.</p>"
            f'<iframe sandbox srcdoc="{escape(self.html)}" '
            'style="width:100%;height:32em;border:1px solid #8888"></iframe>'
        )


def export(
    bench: History,
    path: str | os.PathLike[str],
    leave_out: str | Iterable[str] = LEFT_OUT,
    trials: Sequence[Any] | None = None,
    *,
    title: str | None = None,
    licence: str | None = None,
    publisher: str = "A small formulation bench",
) -> Path:
    """Write a history as one file that a stranger can check, read and recalculate.

    Parameters
    ----------
    bench : Bench
        What is shared.
    path : path
        Where to: a file (``.eln``), or a folder that exists. The same history gives the
        same bytes.
    leave_out : iterable of str
        What stays behind: supplier, price, lot, recipe (lines made private), other private
        fields, person (names), files (recipe files as they came), photos. All but photos
        unless said otherwise; ``leave_out=()`` opens everything.
    trials : sequence, optional
        Only these trials, with whatever they were built on and whatever was said of them.
    title, publisher : str
        What it is, and who hands it over.
    licence : str, optional
        Such as ``CC-BY-4.0``; without one all rights stay with you.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    ShareError
        Nothing to share, an unknown word, or a place that cannot be written to.
    """
    target = Path(path).expanduser()
    if target.is_dir():
        target = target / plain_file_name(title or "history", ENDING)
    if target.suffix != ENDING:
        raise ShareError(
            where=target.name,
            found=f"the ending '{target.suffix}'",
            allowed=ENDING,
            cause="The ending tells other programs what kind of file it is",
            do=f"Call it '{target.stem or 'history'}{ENDING}'; nothing was written",
        )
    package = gather(bench, leave_out, trials, title or target.stem)
    words = {"title": title or target.stem, "licence": licence, "publisher": publisher}
    with opened(package) as history:
        everything = dict(_files(history, package, words))
    listed = "".join(
        f"{hashlib.sha256(raw).hexdigest()}  {name}\n" for name, raw in sorted(everything.items())
    )
    everything["SHA256SUMS"] = listed.encode()
    _check_size(target.name, everything)
    return write_zip(target, plain_file_name(target.stem, ""), sorted(everything.items()))


def _check_size(name: str, files: Mapping[str, bytes]) -> None:
    size = sum(map(len, files.values()))
    if len(files) > MAX_ENTRIES or size > MAX_BYTES:
        raise ShareError(
            where=name,
            found=f"{len(files)} files, {size / 1e6:.0f} MB",
            allowed=f"At most {MAX_ENTRIES} files and {MAX_BYTES // 1_000_000} MB in one file",
            cause="A history of many years, or many large photos",
            do="Share some of the trials, leave the photos out, or write a folder with "
            "lk.share.write_folder; nothing was written",
        )


def _files(
    history: SharedHistory, package: Package, words: Mapping[str, Any]
) -> Iterator[tuple[str, bytes]]:
    """Every file of the history but the list of sums, by its path."""
    kept = {
        f"{'photos' if kind.startswith('image/') else 'files'}/{sha}{_ENDINGS.get(kind, '')}": raw
        for sha, (kind, raw) in package.files.items()
    }
    told = {
        "README.txt": _readme(package),
        "history.json": orjson.dumps(package.about, option=orjson.OPT_INDENT_2) + b"\n",
        "openings.json": openings_text(package.openings),
        "readings.csv": readings_csv(history),
        "datapackage.json": datapackage_json(package.name),
        "requirements.txt": requirements_txt(),
        "report.html": history.report.encode(),
    }
    beside = told | kept
    sums = {name: (len(raw), hashlib.sha256(raw).hexdigest()) for name, raw in beside.items()}
    records = {record.id: record for record in history.store.records(list(package.records))}
    yield from beside.items()
    yield from ((f"records/{name}.json", raw) for name, raw in package.records.items())
    yield "ro-crate-metadata.json", crate_json(package, records, sums, **words)


def _readme(package: Package) -> bytes:
    kept = kept_back(package.left_out) or "Nothing that was recorded as private."
    if package.partial:
        kept += "\nThis is a selection: other trials of that bench were not shared."
    stem = plain_file_name(package.name, ENDING)
    return README.format(
        name=package.name,
        line="=" * min(len(package.name), 78),
        digest=package.about["digest"],
        file=stem,
        kept=kept,
    ).encode()


def preview(
    bench: History,
    leave_out: str | Iterable[str] = LEFT_OUT,
    trials: Sequence[Any] | None = None,
    *,
    title: str = "history",
) -> Preview:
    """Exactly what a stranger will see of an export, before anything is written.

    Parameters
    ----------
    bench, leave_out, trials, title
        As for :func:`export`.

    Returns
    -------
    Preview
        The report as in the file, and as text every word that would be handed over.
    """
    package = gather(bench, leave_out, trials, title)
    words = {"title": title, "licence": None, "publisher": "A small formulation bench"}
    with opened(package) as history:
        names = [name for name, _ in _files(history, package, words)]
        return Preview(
            html=history.report,
            text="\n".join(_spoken(history)),
            left_out=package.left_out,
            files=(*sorted(names), "SHA256SUMS"),
        )


def _spoken(history: SharedHistory) -> Iterator[str]:
    """Every word of every record, by record, in the order in which they were made."""
    yield str(history)
    for name in sorted(history.package.persons.values()):
        yield f"person: {name}"
    for record in sorted(history.records(), key=lambda one: (one.created, one.id)):
        yield f"\n{record.kind} {record.created[:10]} {record.id[:12]}"
        yield from _leaves(record.body, "")


def _leaves(value: Any, place: str) -> Iterator[str]:
    if isinstance(value, Mapping):
        for key, item in value.items():
            if key not in {"schema", "workspace", "created"}:
                yield from _leaves(item, f"{place}/{key}")
    elif isinstance(value, list):
        for i, item in enumerate(value):
            yield from _leaves(item, f"{place}/{i}")
    elif place.startswith("/private/"):
        yield f"  {place.removeprefix('/private/')}: closed"
    else:
        yield f"  {place.lstrip('/')}: {value}"

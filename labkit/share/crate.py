"""The description that other programs read: RO-Crate 1.1 with the Process Run Crate profile.

Each record is a file with its SHA-256; each trial an action that made its record from a
formula; each reading a property value. Unit codes are those of UN/CEFACT
Recommendation 20 (from memory, except P1, Q30 and C65); a unit without one is given in
words.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from importlib import metadata
from typing import Any

import orjson

from labkit.bench.conditions import conditions_text
from labkit.bench.records import Record
from labkit.share.package import Package

__all__ = ["CONTEXT", "PROFILE", "crate_json"]

CONTEXT = "https://w3id.org/ro/crate/1.1/context"
PROFILE = "https://w3id.org/ro/wfrun/process/0.5"
_SHA256 = "https://w3id.org/ro/terms/workflow-run#sha256"
_LICENCES = {
    "CC0-1.0": "https://creativecommons.org/publicdomain/zero/1.0/",
    "CC-BY-4.0": "https://creativecommons.org/licenses/by/4.0/",
    "CC-BY-SA-4.0": "https://creativecommons.org/licenses/by-sa/4.0/",
}
_UNITS = {
    "%": "P1",
    "pH": "Q30",
    "Pa*s": "C65",
    "mPa*s": "C24",
    "g": "GRM",
    "kg": "KGM",
    "°C": "CEL",
    "min": "MIN",
    "s": "SEC",
    "h": "HUR",
    "mm": "MMT",
    "g/mL": "GJ",
}
_FORMATS = {
    "txt": "text/plain",
    "csv": "text/csv",
    "html": "text/html",
    "json": "application/json",
    "jpg": "image/jpeg",
    "png": "image/png",
    "webp": "image/webp",
}
_NAMES = {
    "README.txt": "What this is and how to check it",
    "history.json": "Name, check number, and what was kept back",
    "openings.json": "What opens the private fields that were shared",
    "readings.csv": "Every reading, one row a replicate",
    "datapackage.json": "Description of readings.csv (Frictionless data package)",
    "requirements.txt": "Versions of the software with which it was exported",
    "report.html": "The story of the trials, to be read in a browser",
}

Entity = dict[str, Any]


def crate_json(
    package: Package,
    records: Mapping[str, Record],
    files: Mapping[str, tuple[int, str]],
    *,
    title: str,
    licence: str | None,
    publisher: str,
) -> bytes:
    """The content of ``ro-crate-metadata.json``.

    Parameters
    ----------
    package : Package
        What is handed over.
    records : mapping
        Its records, read.
    files : mapping of str to (int, str)
        Size and SHA-256 of every other file in it.
    title, licence, publisher : str
        Of the history; a licence is a name such as CC-BY-4.0, an address, or None.
    """
    builder = _Builder(package, records)
    graph = [_descriptor(), *builder.root(files, title, licence, publisher)]
    graph += [_file(path, size, sha) for path, (size, sha) in files.items()]
    graph += [entity for name in sorted(records) for entity in builder.of_record(records[name])]
    graph += builder.shared.values()
    told = {"@context": [CONTEXT, {"sha256": _SHA256}], "@graph": graph}
    return orjson.dumps(told, option=orjson.OPT_INDENT_2) + b"\n"


def _descriptor() -> Entity:
    return {
        "@id": "ro-crate-metadata.json",
        "@type": "CreativeWork",
        "conformsTo": {"@id": "https://w3id.org/ro/crate/1.1"},
        "about": {"@id": "./"},
    }


def _file(path: str, size: int, sha: str) -> Entity:
    ending = path.rsplit(".", 1)[-1]
    return {
        "@id": path,
        "@type": "File",
        "name": _NAMES.get(path, path.rsplit("/", 1)[-1]),
        "encodingFormat": _FORMATS.get(ending, "application/octet-stream"),
        "contentSize": str(size),
        "sha256": sha,
    }


class _Builder:
    """The entities of one history; those that several refer to are kept in ``shared``."""

    def __init__(self, package: Package, records: Mapping[str, Record]) -> None:
        self.package, self.records = package, records
        self.shared: dict[str, Entity] = {}
        self.readings: dict[str, list[Record]] = {}
        for record in records.values():
            if record.kind == "measurement":
                for name in record.about:
                    self.readings.setdefault(name, []).append(record)

    def root(
        self,
        files: Mapping[str, tuple[int, str]],
        title: str,
        licence: str | None,
        publisher: str,
    ) -> list[Entity]:
        """The history itself, with the profile, its licence and its publisher."""
        days = sorted(r.created for r in self.records.values() if r.created)
        trials = [f"#make-{n}" for n in sorted(self.records) if self._is_trial(n)]
        parts = [*files, *(f"records/{name}.json" for name in sorted(self.records))]
        root: Entity = {
            "@id": "./",
            "@type": "Dataset",
            "name": title,
            "description": f"Trial history of a formulation bench: {len(trials)} trials, "
            f"{len(self.records)} records, each named by the SHA-256 of its bytes.",
            "datePublished": days[-1][:10] if days else "1980-01-01",
            "conformsTo": {"@id": PROFILE},
            "publisher": {"@id": "#publisher"},
            "author": {"@id": "#publisher"},
            "hasPart": [{"@id": path} for path in parts],
        }
        root |= _some("mentions", trials)
        profile: Entity = {
            "@id": PROFILE,
            "@type": "CreativeWork",
            "name": "Process Run Crate",
            "version": "0.5",
        }
        self._publisher(publisher)
        said = self._licence(licence)
        return [root | {"license": {"@id": said["@id"]}}, profile, said]

    def _is_trial(self, name: str) -> bool:
        return self.records[name].kind == "trial" and self.records[name].known

    def _publisher(self, name: str) -> None:
        self.shared["#publisher"] = {
            "@id": "#publisher",
            "@type": "Organization",
            "name": name,
            "url": f"urn:uuid:{self.package.about['workspace']}",
            "contactPoint": {"@id": "#contact"},
        }
        self.shared["#contact"] = {
            "@id": "#contact",
            "@type": "ContactPoint",
            "name": f"Whoever at {name} handed this history over",
            "contactType": "author",
        }

    def _licence(self, licence: str | None) -> Entity:
        if licence is None:
            return {
                "@id": "#licence",
                "@type": "CreativeWork",
                "name": "No licence stated",
                "description": "All rights stay with the author; ask before using it.",
            }
        return {
            "@id": _LICENCES.get(licence, licence if "://" in licence else "#licence"),
            "@type": "CreativeWork",
            "name": licence,
            "description": f"Terms of use: {licence}.",
        }

    def of_record(self, record: Record) -> Iterator[Entity]:
        """The file of a record, and for a trial what was done."""
        path = f"records/{record.id}.json"
        yield {
            "@id": path,
            "@type": "File",
            "name": f"{record.kind}: {record.summary()}"[:100] if record.known else "record",
            "encodingFormat": "application/json",
            "contentSize": str(len(record.raw)),
            "sha256": record.id,
        }
        if not self._is_trial(record.id):
            return
        body = record.body
        readings = self.readings.get(record.id, ())
        values = [entity for one in readings for entity in _values(one)]
        objects = [f"#formula-{record.id}", *(f"records/{p}.json" for p in body.get("parents", ()))]
        results = [path, *(v["@id"] for v in values)]
        yield {
            "@id": f"#make-{record.id}",
            "@type": "CreateAction",
            "name": f"Trial {body['label']}",
            "description": str(body.get("note", "")) or f"Trial {body['label']} was recorded",
            "agent": {"@id": self._person(str(body["author"]))},
            "instrument": {"@id": self._software(body.get("software", {}))},
            "endTime": f"{record.created[:19]}+00:00",
            "actionStatus": "http://schema.org/CompletedActionStatus",
            **_some("object", objects),
            **_some("result", results),
        }
        yield from _formula(record)
        yield from values

    def _person(self, author: str) -> str:
        name = f"#person-{author}"
        told = self.package.persons.get(author) or "A person whose name was not shared"
        self.shared.setdefault(name, {"@id": name, "@type": "Person", "name": told})
        return name

    def _software(self, software: Mapping[str, Any]) -> str:
        version = str(software.get("labkit") or metadata.version("labkit"))
        name = f"https://pypi.org/project/labkit/{version}/"
        self.shared.setdefault(
            name,
            {
                "@id": name,
                "@type": "SoftwareApplication",
                "name": "labkit",
                "version": version,
                "url": {"@id": "https://pypi.org/project/labkit/"},
            },
        )
        return name


def _formula(record: Record) -> Iterator[Entity]:
    formula = record.body.get("formula", {})
    lines = [line for line in formula.get("lines", ()) if isinstance(line, dict)]
    supplies = [f"#line-{record.id}-{i}" for i in range(len(lines))]
    steps = [
        (str(phase.get("title") or phase.get("key", "")), str(step))
        for phase in formula.get("phases", ())
        for step in phase.get("steps", ())
    ]
    ways = [f"#step-{record.id}-{i}" for i in range(len(steps))]
    parents = [f"#formula-{p}" for p in record.body.get("parents", ())]
    yield {
        "@id": f"#formula-{record.id}",
        "@type": ["CreativeWork", "HowTo"],
        "name": str(formula.get("name") or "A recipe that was not shared"),
        **_some("supply", supplies),
        **_some("step", ways),
        **_some("isBasedOn", parents),
    }
    for place, line in zip(supplies, lines, strict=True):
        hidden = "material" not in line
        yield {
            "@id": place,
            "@type": "HowToSupply",
            "name": "a line that was not shared" if hidden else str(line["material"]),
            **({} if hidden else {"requiredQuantity": {"@id": f"{place}-share"}}),
        }
        if not hidden:
            yield {
                "@id": f"{place}-share",
                "@type": "QuantitativeValue",
                "value": str(line.get("percent", "")),
                "unitCode": "P1",
                "unitText": "% w/w of the finished batch",
            }
    for i, (place, (title, step)) in enumerate(zip(ways, steps, strict=True)):
        yield {"@id": place, "@type": "HowToStep", "position": i + 1, "name": title, "text": step}


def _values(record: Record) -> Iterator[Entity]:
    body = record.body
    told = conditions_text(body.get("conditions", {}))
    for i, one in enumerate(body.get("replicates", [body])):
        value = one.get("value", one.get("word"))
        if value is None:
            continue
        unit = str(one.get("unit", body.get("unit", "")))
        entity: Entity = {
            "@id": f"#reading-{record.id}-{i}",
            "@type": "PropertyValue",
            "name": str(body["quantity"]),
            "value": str(value),
            "unitText": unit or "word",
            "description": str(one.get("text", body.get("text", ""))) or f"{value} {unit}".strip(),
            "isBasedOn": {"@id": f"records/{record.id}.json"},
        }
        if unit in _UNITS:
            entity["unitCode"] = _UNITS[unit]
        if told:
            entity["measurementTechnique"] = told
        yield entity


def _some(name: str, ids: list[str]) -> Entity:
    """One reference as a single value, several as a list, none not at all."""
    found = [{"@id": one} for one in ids]
    if not found:
        return {}
    return {name: found[0] if len(found) == 1 else found}

"""The description for other programs, point by point.

What roc-validator 0.13.0 asks for (RO-Crate 1.1, Process Run Crate 0.5; required and
recommended) is checked here without it; ``tests/share/validate_crate.py`` runs the
validator itself in an environment of its own.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import labkit as lk
from labkit.bench import Bench
from tests.share.altering import entries

CONTEXT = Path(__file__).parents[1] / "reference" / "ro_crate_1_1_context.jsonld"
PROFILE = "https://w3id.org/ro/wfrun/process/0.5"


@pytest.fixture(scope="module")
def graph(published: Path) -> dict[str, dict[str, Any]]:
    told = json.loads(entries(published)["ro-crate-metadata.json"])
    assert told["@context"] == [
        "https://w3id.org/ro/crate/1.1/context",
        {"sha256": "https://w3id.org/ro/terms/workflow-run#sha256"},
    ]
    found = {entity["@id"]: entity for entity in told["@graph"]}
    assert len(found) == len(told["@graph"])
    return found


def of_type(graph: dict[str, dict[str, Any]], kind: str) -> list[dict[str, Any]]:
    return [e for e in graph.values() if kind in (e["@type"], *e["@type"]) or e["@type"] == kind]


def references(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        yield value["@id"]
    elif isinstance(value, list):
        for one in value:
            yield from references(one)


def test_the_head_is_as_the_specification_wants_it(graph: dict[str, dict[str, Any]]) -> None:
    head = graph["ro-crate-metadata.json"]
    assert head["conformsTo"] == {"@id": "https://w3id.org/ro/crate/1.1"}
    root = graph[head["about"]["@id"]]
    assert root["@type"] == "Dataset"
    assert root["conformsTo"] == {"@id": PROFILE}
    assert re.fullmatch(r"\d{4}-\d\d-\d\d", root["datePublished"])
    assert {"name", "description", "license", "publisher", "hasPart", "mentions"} <= set(root)
    assert graph[PROFILE]["version"] == "0.5"
    publisher = graph[root["publisher"]["@id"]]
    assert {"name", "url", "contactPoint"} <= set(publisher)
    assert graph[publisher["contactPoint"]["@id"]]["name"]
    assert {"name", "description"} <= set(graph[root["license"]["@id"]])


def test_every_word_is_a_term_of_the_context(graph: dict[str, dict[str, Any]]) -> None:
    terms = set(json.loads(CONTEXT.read_text(encoding="utf-8"))["@context"]) | {"sha256"}
    used = {key for entity in graph.values() for key in entity if not key.startswith("@")}
    types = {
        t
        for e in graph.values()
        for t in (e["@type"] if isinstance(e["@type"], list) else [e["@type"]])
    }
    assert used - terms == set()
    assert types - terms == set()


def test_every_reference_is_there_and_no_list_has_one_element(
    graph: dict[str, dict[str, Any]],
) -> None:
    for entity in graph.values():
        for key, value in entity.items():
            assert not (isinstance(value, list) and len(value) == 1), (entity["@id"], key)
            for name in references(value):
                known = name in graph or name.startswith(("https://w3id.org", "https://pypi.org"))
                assert known, (entity["@id"], key, name)


def test_every_file_is_described_as_it_is(
    graph: dict[str, dict[str, Any]], published: Path
) -> None:
    files = entries(published)
    described = {e["@id"]: e for e in of_type(graph, "File")}
    assert set(files) - set(described) == {"ro-crate-metadata.json", "SHA256SUMS"}
    for name, entity in described.items():
        assert entity["sha256"] == hashlib.sha256(files[name]).hexdigest()
        assert entity["contentSize"] == str(len(files[name]))
        assert entity["encodingFormat"]
    parts = {part["@id"] for part in graph["./"]["hasPart"]}
    assert parts == set(described)


def test_each_trial_is_an_action_of_the_profile(graph: dict[str, dict[str, Any]]) -> None:
    actions = of_type(graph, "CreateAction")
    assert len(actions) == 3
    assert {m["@id"] for m in graph["./"]["mentions"]} == {a["@id"] for a in actions}
    for action in actions:
        assert action["actionStatus"] == "http://schema.org/CompletedActionStatus"
        assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\+00:00", action["endTime"])
        assert graph[action["agent"]["@id"]]["@type"] == "Person"
        assert graph[action["agent"]["@id"]]["name"] == "A person whose name was not shared"
        software = graph[action["instrument"]["@id"]]
        assert software["@type"] == "SoftwareApplication"
        assert software["version"]
        assert software["@id"].startswith("https://")
        formula = next(references(action["object"]))
        assert graph[formula]["@type"] == ["CreativeWork", "HowTo"]
        assert len(graph[formula]["supply"]) == 5
        assert f"records/{action['@id'].removeprefix('#make-')}.json" in references(
            action["result"]
        )
        assert action["description"]


def test_readings_carry_unit_codes_and_conditions(graph: dict[str, dict[str, Any]]) -> None:
    read = [e for e in of_type(graph, "PropertyValue") if e["name"] == "pH"]
    assert {(e["value"], e["unitCode"]) for e in read} >= {("4.01", "Q30"), ("4.10", "Q30")}
    assert read[0]["measurementTechnique"] == "25 °C, neat"


def test_a_licence_is_named(bench: Bench, tmp_path: Path) -> None:
    path = lk.share.export(bench, tmp_path / "x.eln", licence="CC-BY-4.0")
    told = json.loads(entries(path)["ro-crate-metadata.json"])
    root = next(e for e in told["@graph"] if e["@id"] == "./")
    assert root["license"] == {"@id": "https://creativecommons.org/licenses/by/4.0/"}

"""Validate an exported history with roc-validator, offline, in an environment of its own.

    python -m venv roc && roc/bin/pip install roc-validator==0.13.0
    roc/bin/python tests/share/validate_crate.py FILE.eln …

The validator pulls packages that the project does not want, so it is not one of its
dependencies. The one context that it needs is in tests/reference (CC0, as the file says).
Both profiles, required and recommended; exit 1 when something is found.
"""

from __future__ import annotations

import io
import sys
import tempfile
import zipfile
from pathlib import Path

CONTEXT = Path(__file__).parents[1] / "reference" / "ro_crate_1_1_context.jsonld"
ADDRESSES = ("https://w3id.org/ro/crate/1.1/context", "http://w3id.org/ro/crate/1.1/context")
PROFILES = ("ro-crate-1.1", "process-run-crate-0.5")


def seed(cache: Path) -> None:
    """Put the context into the validator's cache, as if it had been fetched."""
    import requests
    import urllib3
    from rocrate_validator.utils.http import HttpRequester

    HttpRequester.initialize_cache(cache_path=str(cache), cache_max_age=-1)
    session = HttpRequester().session
    for address in ADDRESSES:
        response = requests.Response()
        response.status_code, response.url = 200, address
        response._content = CONTEXT.read_bytes()
        response.headers["Content-Type"] = "application/ld+json"
        response.request = requests.Request("GET", address).prepare()
        response.raw = urllib3.HTTPResponse(
            body=io.BytesIO(), headers=response.headers, status=200, request_url=address
        )
        response.raw._request_url = address
        session.cache.save_response(response)


def issues(crate: Path, profile: str, cache: Path) -> list[str]:
    """What one profile finds, required and recommended."""
    from rocrate_validator import services
    from rocrate_validator.models import Severity, ValidationSettings

    settings = ValidationSettings(
        rocrate_uri=str(crate),
        profile_identifier=profile,
        requirement_severity=Severity.RECOMMENDED,
        abort_on_first=False,
        offline=True,
        cache_path=cache,
    )
    found = services.validate(settings)
    return [f"{i.severity.name} {i.check.identifier}: {i.message}" for i in found.get_issues()]


def main(files: list[str]) -> int:
    """Validate each file; 1 when something was found."""
    bad = 0
    with tempfile.TemporaryDirectory() as folder:
        cache = Path(folder) / "cache"
        seed(cache)
        for number, file in enumerate(files):
            with zipfile.ZipFile(file) as packed:
                packed.extractall(Path(folder) / str(number))
            crate = next((Path(folder) / str(number)).iterdir())
            for profile in PROFILES:
                found = issues(crate, profile, cache)
                bad += len(found)
                print(f"{Path(file).name} {profile}: {len(found)} issues")
                print("".join(f"  {line}\n" for line in found[:20]), end="")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

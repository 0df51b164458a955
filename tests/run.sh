#!/bin/sh
# Everything from nothing: an environment (unless one is active), then all the tests.
set -eu
cd "$(dirname "$0")/.."
if [ -z "${VIRTUAL_ENV:-}" ]; then
  [ -x .venv/bin/python ] || python3 -m venv .venv
  VIRTUAL_ENV="$PWD/.venv"
  export VIRTUAL_ENV
fi
PATH="$VIRTUAL_ENV/bin:$PATH"
export PATH
python -m pip install -q --disable-pip-version-check -e '.[dev]'

ruff check .
ruff format --check .
mypy
python -m pytest -q -n 2 --dist loadscope -m "not browser and not slow" tests labkit
python -m pytest -q -m "browser or slow" tests
python -m pytest -q --nbval-lax --nbval-current-env --nbval-cell-timeout=120 \
  --nbval-sanitize-with tests/notebooks/sanitize.cfg -n 2 --dist loadscope notebooks

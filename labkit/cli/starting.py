"""``labkit start`` makes a bench folder and does the main job once; ``labkit lab`` opens it."""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

from labkit.bench import Bench
from labkit.bench.demo import demo_recipe, record_demo
from labkit.estimates import Forecaster
from labkit.materials import Materials
from labkit.reading import read_recipe
from labkit.tables import shipped

__all__ = ["add_commands"]

NODELAY = "labkit.widgets.nodelay.NoDelayWebsocketConnection"
START = "00-start-here.ipynb"


def add_commands(commands: Any) -> None:
    """``start`` and ``lab``."""
    start = commands.add_parser(
        "start", help="make a bench folder, do the main job once, open JupyterLab"
    )
    start.add_argument("folder", nargs="?", default="my-bench", type=Path)
    start.add_argument("--no-lab", action="store_true", help="stop before JupyterLab")
    start.set_defaults(run=run_start)
    lab = commands.add_parser(
        "lab",
        help="open JupyterLab on a bench folder, without delay",
        description="Opens JupyterLab with a websocket that sends small answers at once. On "
        "another Jupyter server, in an environment with labkit, the same is switched on by "
        f"--ServerApp.kernel_websocket_connection_class={NODELAY}",
    )
    lab.add_argument("folder", nargs="?", default=".", type=Path)
    lab.add_argument("--no-browser", action="store_true", help="print the address only")
    lab.add_argument("options", nargs="*", help="passed on to JupyterLab, after --")
    lab.set_defaults(run=run_lab)


def run_start(asked: argparse.Namespace) -> int:
    """Make the folder, do the main job in it, open it."""
    folder: Path = asked.folder.expanduser().absolute()
    folder.mkdir(parents=True, exist_ok=True)
    said = [*_copy_notebooks(folder), *_main_job(folder)]
    print("\n".join(said), flush=True)
    if asked.no_lab:
        print(f"\nOpen it with: labkit lab {asked.folder}")
        return 0
    return _open_lab(folder, [], browser=True)


def run_lab(asked: argparse.Namespace) -> int:
    """JupyterLab in a folder."""
    return _open_lab(asked.folder.expanduser().absolute(), asked.options, not asked.no_browser)


def _copy_notebooks(folder: Path) -> list[str]:
    source = shipped("notebooks")
    fresh = 0
    for path in sorted(source.rglob("*.ipynb")):
        target = folder / "notebooks" / path.relative_to(source)
        if ".ipynb_checkpoints" in path.parts or target.exists():
            continue
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, target)
        fresh += 1
    own = folder / "notebooks"
    return [f"Notebooks   {fresh} new in {own}; those already there were left as they are"]


def _main_job(folder: Path) -> list[str]:
    mats = Materials.starter()
    found = folder / demo_recipe().name
    if not found.exists():
        shutil.copyfile(demo_recipe(), found)
    report = read_recipe(found)
    formula = report.formula()
    said = [
        f"Recipe      {found.name}: {len(formula.lines)} lines read, total {formula.total:f} %",
        f"Your bench  {folder / 'bench.db'} (yours, the demonstration stays out of it)",
    ]
    with Bench.open(folder) as own:
        said.append(f"            {len(own.trials())} trials so far")
    demo_file = folder / "demo-bench.db"
    done = demo_file.exists()
    with Bench.open(demo_file) as bench:
        if not done:
            record_demo(bench, mats, forecast=Forecaster(mats))
        said += _story(bench, demo_file, done)
    return said


def _story(bench: Bench, file: Path, done: bool) -> list[str]:
    trials = bench.trials()
    how = "was there already" if done else "recorded just now"
    said = [f"Demo bench  {file}: {len(trials)} trials of three products, {how}"]
    said += ["", "Hand cream, trial by trial (viscosity at 25 °C, mean of the readings):"]
    readings = bench.readings("viscosity")
    for trial in trials[trials["name"] == "Harbour hand cream"].itertuples():
        mine = readings[(readings["trial"] == trial.id) & (readings["temperature_c"] == 25)]
        thick = "separated" if mine.empty else f"{mine['value'].mean() / 1000:.1f} Pa*s"
        said.append(f"  {trial.label}  {thick:>10}  {trial.note}")
    held = "holds" if bench.verify().ok else "does NOT hold"
    said.append(f"\nThe history {held}: every record still is what was recorded.")
    return said


def _open_lab(folder: Path, options: list[str], browser: bool) -> int:
    folder.mkdir(parents=True, exist_ok=True)
    start = folder / "notebooks" / START
    command = [
        sys.executable,
        "-m",
        "jupyterlab",
        f"--ServerApp.root_dir={folder}",
        f"--ServerApp.kernel_websocket_connection_class={NODELAY}",
        *(["--no-browser"] if not browser else []),
        *([f"--LabApp.default_url=/lab/tree/notebooks/{START}"] if start.exists() else []),
        *options,
    ]
    print("\nJupyterLab prints its address below; stop it with Ctrl-C.", flush=True)
    try:
        return subprocess.call(command)
    except KeyboardInterrupt:
        return 0

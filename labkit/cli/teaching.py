"""``labkit gather`` and ``labkit wall``: a class's hand-ins, and the class on the wall."""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

from labkit.teach.classroom import Classroom
from labkit.teach.projector import Projector

__all__ = ["add_commands"]


def add_commands(commands: Any) -> None:
    """``gather`` and ``wall``."""
    gather = commands.add_parser(
        "gather", help="bring the hand-ins of a class in, and name odd ones"
    )
    gather.add_argument("bench", help="the class's bench: a file, a folder, or an address")
    gather.add_argument("hand_ins", nargs="+", help="a folder of hand-ins, files, or addresses")
    gather.add_argument("--json", action="store_true", help="plain values, for another program")
    gather.set_defaults(run=run_gather)
    wall = commands.add_parser("wall", help="write a large page that follows the class's bench")
    wall.add_argument("bench", help="the class's bench: a file, a folder, or an address")
    wall.add_argument("page", type=Path, help="where the page lies, such as wall.html")
    wall.add_argument("--from", dest="hand_ins", help="gather this folder before each look")
    wall.add_argument("--quantity", help="only this, such as pH; all that is measured otherwise")
    wall.add_argument("--every", default="5 s", help="how often, such as '10 s' (default: 5 s)")
    wall.add_argument("--looks", type=int, help="stop after so many (default: until Ctrl-C)")
    wall.set_defaults(run=run_wall)


def run_gather(asked: argparse.Namespace) -> int:
    """Gather once; exit code 1 when something is odd."""
    what = asked.hand_ins[0] if len(asked.hand_ins) == 1 else asked.hand_ins
    with Classroom.open(asked.bench) as room:
        found = room.gather(what)
    if asked.json:
        print(json.dumps(asdict(found), ensure_ascii=False, indent=1))
    else:
        print(found)
    return 1 if found.flags else 0


def run_wall(asked: argparse.Namespace) -> int:
    """Write the page until stopped."""
    with Classroom.open(asked.bench) as room:
        projector = Projector(room.bench, asked.quantity, asked.every)
        print(f"Open {asked.page} in a browser on the wall; Ctrl-C ends it.", flush=True)
        before = None if asked.hand_ins is None else lambda: room.gather(asked.hand_ins)
        try:
            projector.follow(asked.page, times=asked.looks, before=before)
        except KeyboardInterrupt:
            print("Stopped; the page stays as it is.")
    return 0

"""How long 200 hand-ins of five trials take to merge, beside reading the files bare.

    python -m tests.benchmarks.bench_class [DESKS] [TRIALS]

Peers in the same run: the bare zips opened and hashed, and `lk.share.merge` file by file
(a tenth of the files, each into the growing bench).
"""

from __future__ import annotations

import hashlib
import sys
import tempfile
import time
import zipfile
from pathlib import Path

from labkit.bench import Bench
from labkit.share import merge
from tests.teach.simulating import desk, open_class, work


def main(desks: int = 200, trials: int = 5) -> None:
    """Make the hand-ins, then time what a teacher waits for."""
    root = Path(tempfile.mkdtemp())
    with open_class(root / "class") as room:
        handout = room.hand_out(root / "class.eln")
        folder = root / "in"
        folder.mkdir()
        began = time.perf_counter()
        for number in range(desks):
            with desk(root, number, handout) as one:
                work(one, number, trials=trials)
                one.lesson(1).check("grams", "5 g")
                one.hand_in(folder)
        print(f"{desks} desks worked and handed in: {time.perf_counter() - began:.1f} s")
        began = time.perf_counter()
        files, size = _bare(folder)
        bare = time.perf_counter() - began
        print(f"peer, zips opened and hashed: {bare:.2f} s ({files} entries, {size / 1e6:.1f} MB)")
        began = time.perf_counter()
        gathered = room.gather(folder)
        took = time.perf_counter() - began
        print(f"gather: {took:.2f} s, {gathered.new} new records, {len(gathered.flags)} flags")
        began = time.perf_counter()
        again = room.gather(folder)
        print(f"gather again: {time.perf_counter() - began:.2f} s, {again.new} new records")
        began = time.perf_counter()
        rows = len(room.table())
        print(f"class table: {time.perf_counter() - began:.2f} s, {rows} rows")
        began = time.perf_counter()
        page = len(room.projector().html)
        print(f"projector page: {time.perf_counter() - began:.2f} s, {page / 1000:.0f} kB")
    some = sorted(folder.glob("*.eln"))[: max(desks // 10, 1)]
    with Bench.open(root / "peer.db") as bench:
        began = time.perf_counter()
        for path in some:
            merge(bench, path)
        print(f"peer, file by file: {len(some)} files in {time.perf_counter() - began:.2f} s")


def _bare(folder: Path) -> tuple[int, int]:
    count = size = 0
    for path in sorted(folder.glob("*.eln")):
        with zipfile.ZipFile(path) as packed:
            for name in packed.namelist():
                raw = packed.read(name)
                hashlib.sha256(raw).hexdigest()
                count, size = count + 1, size + len(raw)
    return count, size


if __name__ == "__main__":
    main(*(int(x) for x in sys.argv[1:3]))

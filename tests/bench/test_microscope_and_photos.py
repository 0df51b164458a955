"""Droplets from a photo become a reading; photos in a folder find their trials."""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from labkit.bench import Bench
from labkit.bench.microscope import droplets_of
from labkit.bench.photo_folder import take_photos
from labkit.errors import MeasurementError, RecordError
from labkit.formula import Formula

GEL = Formula.parse("phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,5")
START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def drawn(folder: Path) -> Path:
    """64 droplets of 20 pixels, and a bar of 100 pixels that stands for 50 µm."""
    y, x = np.mgrid[:600, :600]
    picture = np.full((600, 600), 70.0)
    for i in range(64):
        cx, cy = 35 + 70 * (i % 8), 35 + 65 * (i // 8)
        picture[np.hypot(x - cx, y - cy) <= 10] = 190
    picture[580:586, 480:580] = 255
    path = folder / "drop.png"
    Image.fromarray(picture.astype(np.uint8)).save(path)
    return path


def test_a_photo_with_a_bar_gives_the_drawn_size(tmp_path: Path) -> None:
    found = droplets_of(drawn(tmp_path), bar="50 µm")
    assert found.um_per_pixel == pytest.approx(0.5)
    assert found.droplets.diameters_um.size == 64
    assert found.droplets.d50_um == pytest.approx(10.0, abs=0.35)
    assert droplets_of(drawn(tmp_path), um_per_pixel=0.5).droplets.d50_um == pytest.approx(
        found.droplets.d50_um
    )
    assert "scale bar 50 µm" in str(found)


def test_the_median_becomes_a_reading_and_the_photo_stays_with_it(
    bench: Bench, tmp_path: Path
) -> None:
    trial = bench.record(GEL)
    reading = bench.measure_droplets(trial, drawn(tmp_path), bar="50 µm")
    assert reading.quantity == "droplet size"
    assert "median by number" in reading.conditions["method"]
    assert "n 64" in reading.record.body["note"]
    assert len(bench.records("photo", about=trial)) == 1


def test_a_photo_without_a_scale_has_no_sizes(tmp_path: Path) -> None:
    with pytest.raises(MeasurementError, match="no scale"):
        droplets_of(drawn(tmp_path))
    with pytest.raises(MeasurementError, match="two scales"):
        droplets_of(drawn(tmp_path), bar="50 µm", um_per_pixel=0.5)


def photo(folder: Path, name: str, shade: int, taken: datetime, exif: bool = False) -> None:
    image, path = Image.new("RGB", (40, 30), (shade, shade, shade)), folder / name
    if exif:
        said = Image.Exif()
        said.get_ifd(0x8769)[36867] = taken.strftime("%Y:%m:%d %H:%M:%S")
        image.save(path, exif=said)
    else:
        image.save(path)
    os.utime(path, (taken.timestamp(), taken.timestamp()))


def test_photos_find_their_trials_by_code_or_by_time_and_only_once(tmp_path: Path) -> None:
    now = [START]
    folder = tmp_path / "camera"
    folder.mkdir()
    with Bench.open(tmp_path / "b.db", clock=lambda: now[0]) as bench:
        first = bench.record(GEL, label="HC-1")
        now[0] = START + timedelta(hours=2)
        second = bench.record(GEL, label="HC-12")
        batch = bench.start_batch(first, "100 g")
        now[0] = START + timedelta(hours=3)
        batch.log("A in")
        photo(folder, "hc-12_jar.jpg", 10, START)
        photo(folder, f"IMG {first.id[:6]}.png", 30, START)
        photo(folder, "IMG_0001.jpg", 50, START + timedelta(hours=2, minutes=-5))
        photo(folder, "IMG_0002.jpg", 70, START + timedelta(days=9), exif=False)
        photo(folder, "IMG_0003.jpg", 90, START + timedelta(hours=3, minutes=4), exif=True)
        (folder / "notes.txt").write_text("no photo")
        (folder / "broken.jpg").write_bytes(b"not a photo")
        told = {x.name: x for x in take_photos(bench, folder, zone=UTC)}
        assert told["hc-12_jar.jpg"].label == "HC-12"
        assert told[f"IMG {first.id[:6]}.png"].label == "HC-1"
        assert told["IMG_0001.jpg"].label == "HC-1"
        assert told["IMG_0003.jpg"].label == "HC-1"
        assert told["IMG_0002.jpg"].record is None
        assert "nothing was written down shortly before" in told["IMG_0002.jpg"].how
        assert told["broken.jpg"].record is None
        assert len(bench.records("photo", about=second)) == 1
        again = take_photos(bench, folder, zone=UTC)
        assert {x.name for x in again} == {"IMG_0002.jpg", "broken.jpg"}
        assert len(bench.records("photo")) == 4
        with pytest.raises(RecordError, match="no folder"):
            take_photos(bench, folder / "nowhere")

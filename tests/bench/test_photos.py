"""Photos: pixels only, known by their content."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path

import pytest
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from labkit.bench import Bench
from labkit.bench.photos import MAX_PIXELS, clean_photo
from labkit.errors import RecordError
from labkit.formula import Formula


def jpeg(size: tuple[int, int] = (40, 30), orientation: int = 1) -> bytes:
    image = Image.new("RGB", size, (200, 180, 160))
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = "a camera of mine"
    exif[0x8825] = {1: "N", 2: (50.0, 1.0, 2.0)}
    out = io.BytesIO()
    image.save(out, "JPEG", exif=exif, comment=b"home address", quality=95)
    return out.getvalue()


def png(width: int, height: int) -> bytes:
    def chunk(kind: bytes, data: bytes) -> bytes:
        crc = struct.pack(">I", zlib.crc32(kind + data))
        return struct.pack(">I", len(data)) + kind + data + crc

    header = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    body = zlib.compress(b"\0" * 100_000)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", body) + chunk(b"IEND", b"")
    )


def test_what_the_camera_wrote_is_gone_and_the_picture_stands_upright() -> None:
    raw = jpeg(orientation=6)
    assert b"a camera of mine" in raw
    photo = clean_photo(raw)
    assert (photo.width, photo.height, photo.media_type) == (30, 40, "image/jpeg")
    for word in (b"camera", b"home address", b"Exif"):
        assert word not in photo.content
    again = Image.open(io.BytesIO(photo.content))
    assert not dict(again.getexif())


def test_texts_inside_a_png_are_gone() -> None:
    info = PngInfo()
    info.add_text("Author", "someone")
    out = io.BytesIO()
    Image.new("RGBA", (4, 4)).save(out, "PNG", pnginfo=info)
    photo = clean_photo(out.getvalue())
    assert b"someone" not in photo.content
    assert photo.media_type == "image/png"


@pytest.mark.parametrize("mode", ["L", "LA", "P", "1", "I;16", "CMYK"])
def test_pictures_of_every_colour_mode_are_kept(mode: str) -> None:
    out = io.BytesIO()
    kind = "JPEG" if mode == "CMYK" else "PNG"
    Image.new(mode, (5, 4)).save(out, kind)
    photo = clean_photo(out.getvalue())
    assert Image.open(io.BytesIO(photo.content)).size == (5, 4)


def test_a_webp_stays_one() -> None:
    out = io.BytesIO()
    Image.new("RGB", (5, 4)).save(out, "WEBP")
    assert clean_photo(out.getvalue()).media_type == "image/webp"


@pytest.mark.parametrize("size", [(50_000, 50_000), (8_000, 8_000)])
def test_a_picture_of_too_many_pixels_is_refused_from_its_header(size: tuple[int, int]) -> None:
    assert size[0] * size[1] > MAX_PIXELS
    with pytest.raises(RecordError, match="At most 60 million pixels"):
        clean_photo(png(*size))


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"<html><script>document.title='owned'</script></html>", "no photo inside"),
        (b"<svg xmlns='http://www.w3.org/2000/svg' onload='x()'/>", "a drawing"),
        (b"", "no photo inside"),
        (b"GIF89a" + b"\0" * 50, "no photo inside"),
        (b"%PDF-1.7", "no photo inside"),
        (b"0" * 10_000_001, "At most 10 MB"),
    ],
)
def test_what_is_no_photo_is_refused_by_its_content(tmp_path: Path, raw: bytes, words: str) -> None:
    file = tmp_path / "photo.jpg"
    file.write_bytes(raw)
    with pytest.raises(RecordError, match=words):
        clean_photo(file)
    with pytest.raises(RecordError, match=words):
        clean_photo(raw)


def test_a_cut_photo_and_a_missing_one_are_told() -> None:
    with pytest.raises(RecordError, match="a damaged picture"):
        clean_photo(jpeg((400, 300))[:900])
    with pytest.raises(RecordError, match="no such photo"):
        clean_photo("/nowhere/photo.jpg")


def test_a_photo_lies_with_the_trial_by_the_name_of_its_content(
    bench: Bench, cream: Formula, tmp_path: Path
) -> None:
    file = tmp_path / "IMG 7.jpg"
    file.write_bytes(jpeg())
    trial = bench.record(cream)
    record = bench.photo(trial, file, caption="after a night")
    assert (record.body["width"], record.body["height"]) == (40, 30)
    media_type, content = bench.store.file_bytes(record.body["photo"])
    assert media_type == "image/jpeg"
    assert Image.open(io.BytesIO(content)).size == (40, 30)
    bench.photo(trial, jpeg(), caption="the same again")
    assert bench.verify().files == 1
    assert bench.verify().ok


def test_a_photo_is_asked_for_by_hash_and_never_by_path(bench: Bench, cream: Formula) -> None:
    trial = bench.record(cream)
    body = {"media_type": "image/jpeg", "width": 1, "height": 1}
    for path in ("file:///etc/hostname", "../../secret.png", "/etc/hostname"):
        with pytest.raises(RecordError, match="never a path"):
            bench.add("photo", body | {"photo": path}, about=trial)
        with pytest.raises(RecordError, match="it is not in this bench"):
            bench.store.file_bytes(path)

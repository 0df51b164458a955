"""Droplet sizes from a photo through the microscope, kept with the trial."""

from __future__ import annotations

import io
import os
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from labkit.bench.photos import clean_photo
from labkit.bench.views import Reading
from labkit.errors import MeasurementError
from labkit.quantities import parse as parse_quantity
from labkit.science.droplets import Droplets, bar_length_px, find_droplets

if TYPE_CHECKING:
    from labkit.bench.bench import Bench
    from labkit.bench.history import Ref

__all__ = ["DropletPhoto", "droplets_of", "measure_droplets"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DropletPhoto:
    """What a photo shows, and the scale it was read with.

    ``how`` says where the scale came from.
    """

    droplets: Droplets
    um_per_pixel: float
    how: str

    def __str__(self) -> str:
        return "\n".join([f"{self.droplets} ({self.how})", *self.droplets.notes])


def droplets_of(
    photo: str | os.PathLike[str] | bytes,
    *,
    bar: Any = None,
    um_per_pixel: float | None = None,
    light: bool | None = None,
) -> DropletPhoto:
    """Droplets in a photo with a scale bar.

    Parameters
    ----------
    photo : path or bytes
        JPEG, PNG or WebP.
    bar : str, optional
        What the bar in the photo stands for, such as ``"50 µm"``.
    um_per_pixel : float, optional
        The scale, where there is no bar.
    light : bool, optional
        Droplets are lighter than what is around them; told from the photo if left out.

    Raises
    ------
    MeasurementError
        Neither a bar nor a scale, or both.
    ScienceError
        No bar found, no droplet found.
    RecordError
        Not a photo.
    """
    if (bar is None) == (um_per_pixel is None):
        raise MeasurementError(
            where="Droplet photo",
            found="no scale" if bar is None else "two scales",
            allowed="bar='50 µm' for the bar in the photo, or um_per_pixel=0.2",
            cause="Without a scale a photo has no sizes",
            do="Read what stands at the bar; without one photograph a stage micrometer",
        )
    grey = _grey(clean_photo(photo).content)
    if um_per_pixel is not None:
        scale, how = float(um_per_pixel), f"{um_per_pixel:g} µm per pixel as given"
    else:
        pixels = bar_length_px(grey)
        length = parse_quantity(bar, "length", where="Scale bar").to("µm")
        scale, how = length / pixels, f"scale bar {bar} = {pixels:g} pixels"
    return DropletPhoto(
        droplets=find_droplets(grey, scale, light=light), um_per_pixel=scale, how=how
    )


def measure_droplets(
    bench: Bench,
    about: Ref,
    photo: str | os.PathLike[str] | bytes,
    *,
    caption: str = "",
    **scale: Any,
) -> Reading:
    """Keep the photo, and its median droplet size as a reading of the trial.

    Parameters
    ----------
    about : trial
    photo : path or bytes
    caption : str
    **scale
        ``bar``, ``um_per_pixel`` and ``light`` as in `droplets_of`.
    """
    found = droplets_of(photo, **scale)
    drops = found.droplets
    bench.photo(about, photo, caption or f"microscope, {found.how}")
    return bench.measure(
        about,
        "droplet size",
        f"{drops.d50_um:.3g} µm",
        method=f"photo, median by number, {found.how}",
        note=f"n {drops.diameters_um.size}, d10 {drops.d10_um:.3g}, d90 {drops.d90_um:.3g}, "
        f"D[3,2] {drops.d32_um:.3g} µm. " + " ".join(drops.notes),
    )


def _grey(content: bytes) -> Any:
    from PIL import Image

    with Image.open(io.BytesIO(content)) as image:
        return np.asarray(image.convert("L"), dtype=np.float64)

"""Droplets in a photo from a microscope: outlines, diameters, and their distribution.

What a photo shows is what lies in focus in one drop; it is no light-scattering
instrument. The caveats travel with the numbers.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from labkit.errors import ScienceError
from labkit.science.bounds import given

Array = npt.NDArray[np.float64]

LEAST_PIXELS = 4.0
"""Diameters below this many pixels are not counted: their outline is a guess."""
ENOUGH = 200
"""Droplets from which a distribution settles; 300 to 500 are better (common practice)."""
ROUND = 0.6
"""Area over the circle around the longest width; below it two droplets are one blot."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Droplets:
    """Diameters found in one photo.

    Attributes
    ----------
    diameters_um : ndarray, shape (n,)
        Sorted [µm].
    d10_um, d50_um, d90_um : float
        By number [µm].
    mean_um : float
        Arithmetic mean [µm].
    d32_um, d43_um : float
        Sauter and volume-weighted mean [µm].
    span : float
        (d90 - d10)/d50 [-].
    at_edge, too_small, blots : int
        Outlines left out: cut by the edge, below `LEAST_PIXELS`, not round.
    notes : tuple of str
        What to keep in mind.
    """

    diameters_um: Array
    d10_um: float
    d50_um: float
    d90_um: float
    mean_um: float
    d32_um: float
    d43_um: float
    span: float
    at_edge: int
    too_small: int
    blots: int
    notes: tuple[str, ...]

    def __str__(self) -> str:
        return (
            f"{self.diameters_um.size} droplets: half are below {self.d50_um:.2g} µm "
            f"(d10 {self.d10_um:.2g}, d90 {self.d90_um:.2g} µm); D[3,2] {self.d32_um:.2g} µm"
        )


def find_droplets(
    grey: npt.ArrayLike, um_per_pixel: float, *, light: bool | None = None
) -> Droplets:
    """Droplets in a grey picture.

    Parameters
    ----------
    grey : array-like, shape (rows, columns)
        Brightness, any scale.
    um_per_pixel : float
        From the scale bar, see `bar_length_px` [µm].
    light : bool, optional
        Droplets are lighter than what is around them; told from the picture if left out.

    Returns
    -------
    Droplets

    Raises
    ------
    ScienceError
        Not a picture, nothing to see in it, or no droplet.

    Notes
    -----
    Otsu's threshold (1979); rings are filled; touching droplets are parted at the necks of
    the distance map; diameter of the circle of equal area, right to about half a pixel at
    the rim (8 % of 8 pixels, 2 % of 40). Outlines cut by the edge are
    left out, which favours small droplets.

    Examples
    --------
    >>> y, x = np.mgrid[:120, :120]
    >>> disc = ((x - 60) ** 2 + (y - 60) ** 2 < 20**2) * 1.0
    >>> round(find_droplets(disc, 0.25, light=True).d50_um, 1)
    10.0
    """
    picture = _picture(grey)
    scale = float(given(um_per_pixel, "Scale", "µm per pixel", above=0.0, high=1000.0))
    mask = _mask(picture, light)
    areas, widest, cut = _outlines(mask)
    diameters = 2.0 * np.sqrt(areas / np.pi)
    small = diameters < LEAST_PIXELS
    blot = ~small & ~cut & (areas < ROUND * np.pi / 4.0 * widest**2)
    kept = np.sort(diameters[~small & ~cut & ~blot]) * scale
    if not kept.size:
        raise ScienceError(
            where="Droplets",
            found="no whole droplet",
            allowed=f"Droplets of at least {LEAST_PIXELS:g} pixels, away from the edge",
            cause="Out of focus, too little magnified, or one crowd of touching droplets",
            do="Dilute the drop, focus on the rims, and take another photo",
        )
    return _summary(kept, int(cut.sum()), int(small.sum()), int(blot.sum()))


def bar_length_px(grey: npt.ArrayLike) -> float:
    """Length of the scale bar in a picture.

    Parameters
    ----------
    grey : array-like, shape (rows, columns)
        With one straight horizontal bar, wholly light or wholly dark.

    Returns
    -------
    float
        [pixels]

    Raises
    ------
    ScienceError
        No bar, or two of them.

    Notes
    -----
    The longest filled rectangle at the end of the brightness scale that is at least eight
    times as long as high.

    Examples
    --------
    >>> picture = np.full((100, 200), 0.5)
    >>> picture[90:94, 120:180] = 1.0
    >>> bar_length_px(picture)
    60.0
    """
    picture = _picture(grey)
    low, high = float(picture.min()), float(picture.max())
    room = 0.08 * (high - low)
    found = [box for mask in (picture >= high - room, picture <= low + room) for box in _bars(mask)]
    found.sort(reverse=True)
    if not found or (len(found) > 1 and found[1] > 0.7 * found[0]):
        raise ScienceError(
            where="Scale bar",
            found="no bar" if not found else f"bars of {found[0]:g} and {found[1]:g} pixels",
            allowed="One straight horizontal bar, wholly light or wholly dark",
            cause="The bar was cut off, is broken by its label, or there is none",
            do="Give the scale itself: micrometres per pixel",
        )
    return float(found[0])


def _picture(grey: npt.ArrayLike) -> Array:
    picture = np.asarray(grey, dtype=np.float64)
    if picture.ndim != 2 or min(picture.shape, default=0) < 8 or not np.isfinite(picture).all():
        raise ScienceError(
            where="Picture",
            found=f"an array of shape {picture.shape}",
            allowed="Brightness in rows and columns, at least 8 x 8, without gaps",
            cause="A coloured picture, or an empty one",
            do="Make it grey first",
        )
    if float(np.ptp(picture)) == 0.0:
        raise ScienceError(
            where="Picture",
            found="one brightness everywhere",
            allowed="A picture with something to see in it",
            cause="The lamp was off, or the lid was on",
            do="Take another photo",
        )
    return picture


def _mask(picture: Array, light: bool | None) -> npt.NDArray[np.bool_]:
    """Which pixels are droplet: beyond the threshold, on the side that the edge is not."""
    from scipy import ndimage

    smooth = ndimage.gaussian_filter(picture, 0.7)
    cut = _otsu(smooth)
    above = smooth > cut
    if light is None:
        rim = np.concatenate([above[0], above[-1], above[:, 0], above[:, -1]])
        light = bool(rim.mean() < 0.5)
    return np.asarray(ndimage.binary_fill_holes(above if light else ~above), dtype=np.bool_)


def _otsu(picture: Array) -> float:
    """Threshold that parts two brightnesses best (Otsu, IEEE Trans. SMC 9, 62, 1979)."""
    counts, edges = np.histogram(picture, bins=256)
    middle = 0.5 * (edges[1:] + edges[:-1])
    below = np.cumsum(counts).astype(float)
    above = below[-1] - below
    sums = np.cumsum(counts * middle)
    with np.errstate(divide="ignore", invalid="ignore"):
        gap = sums / below - (sums[-1] - sums) / above
        between = np.nan_to_num(below * above * gap**2)
    best = np.flatnonzero(between >= between.max() * (1.0 - 1e-9))
    return float(middle[best].mean())


def _outlines(mask: npt.NDArray[np.bool_]) -> tuple[Array, Array, npt.NDArray[np.bool_]]:
    """Area and longest width of each droplet [pixels], and whether the edge cuts it."""
    from scipy import ndimage

    labels, count = _parted(mask)
    boxes = ndimage.find_objects(labels)
    areas = np.asarray(ndimage.sum_labels(mask, labels, np.arange(1, count + 1)), dtype=float)
    rows, columns = mask.shape
    cut, widest = np.zeros(count, dtype=bool), np.zeros(count)
    for i, box in enumerate(boxes):
        up, left = box[0].start, box[1].start
        down, right = box[0].stop, box[1].stop
        cut[i] = up == 0 or left == 0 or down == rows or right == columns
        widest[i] = max(down - up, right - left)
    there = areas > 0
    return areas[there], widest[there], cut[there]


def _parted(mask: npt.NDArray[np.bool_]) -> tuple[Any, int]:
    """Touching droplets parted: every pixel goes to the centre that reaches it."""
    from scipy import ndimage

    depth = ndimage.distance_transform_edt(mask)
    whole, crowd = ndimage.label(mask)
    smooth = ndimage.gaussian_filter(depth, 1.0)
    labels, count = whole.copy(), crowd
    for i, box in enumerate(ndimage.find_objects(whole)):
        inside = whole[box] == i + 1
        centres = _centres(np.where(inside, smooth[box], 0.0), depth[box])
        if len(centres) < 2:
            continue
        rows, columns = np.nonzero(inside)
        reach = np.stack(
            [(rows - r) ** 2 + (columns - c) ** 2 - radius**2 for r, c, radius in centres]
        )
        nearest = reach.argmin(axis=0)
        part = labels[box]
        for k in range(1, len(centres)):
            count += 1
            mine = nearest == k
            part[rows[mine], columns[mine]] = count
    return labels, count


def _centres(smooth: Array, depth: Array) -> list[tuple[float, float, float]]:
    """Centres and radii of the droplets in one outline, the deepest first."""
    from scipy import ndimage

    peaks = (smooth == ndimage.maximum_filter(smooth, 3)) & (smooth > 1.5)
    spots, count = ndimage.label(peaks, structure=np.ones((3, 3)))
    found = ndimage.center_of_mass(peaks, spots, range(1, count + 1))
    told = sorted(((float(depth[round(r), round(c)]), r, c) for r, c in found), key=lambda x: -x[0])
    kept: list[tuple[float, float, float]] = []
    for radius, r, c in told:
        apart = all(
            np.hypot(r - r0, c - c0) > max(0.9 * radius0, 1.1 * radius) for r0, c0, radius0 in kept
        )
        if apart:
            kept.append((r, c, radius))
    return kept


def _bars(mask: npt.NDArray[np.bool_]) -> list[int]:
    """Lengths of the long, flat, filled rectangles of a mask."""
    from scipy import ndimage

    labels, _ = ndimage.label(mask)
    found = []
    for i, box in enumerate(ndimage.find_objects(labels)):
        high, long = (side.stop - side.start for side in box)
        filled = float((labels[box] == i + 1).mean())
        if long >= 8 * high and long >= 20 and filled > 0.95:
            found.append(long)
    return found


def _summary(kept: Array, cut: int, small: int, blots: int) -> Droplets:
    d10, d50, d90 = (float(x) for x in np.percentile(kept, [10, 50, 90]))
    notes = ["A photo shows what lies in focus in one drop, flattened under its glass."]
    if kept.size < ENOUGH:
        notes.append(f"{kept.size} droplets; {ENOUGH} and more make the distribution settle.")
    if small > 0.2 * kept.size:
        notes.append(f"{small} spots were too small to size: the true median lies lower.")
    if cut > 0.1 * kept.size:
        notes.append(f"{cut} were cut by the edge, large ones more often than small ones.")
    if blots > 0.1 * kept.size:
        notes.append(f"{blots} outlines were not round: flocs, air, or droplets on droplets.")
    return Droplets(
        diameters_um=kept,
        d10_um=d10,
        d50_um=d50,
        d90_um=d90,
        mean_um=float(kept.mean()),
        d32_um=float((kept**3).sum() / (kept**2).sum()),
        d43_um=float((kept**4).sum() / (kept**3).sum()),
        span=(d90 - d10) / d50,
        at_edge=cut,
        too_small=small,
        blots=blots,
        notes=tuple(notes),
    )

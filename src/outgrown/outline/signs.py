"""Signs: what speaks against a ring running along the cloth's edge, at every station of it.

Only the picture is asked, a finger's width to both sides of the ring and as a whole: whether what lies inside could be
floor and what lies outside cloth, and how clear the edge is. Nothing here knows how the ring was found.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from ..arrays import Flags, Floats
from .band import LocalLooks
from .edge import paint_depth
from .looks import SLOPE_WEIGHTS, compare_shares, measure_slopes, weigh_slopes
from .masks import Reals, as_reals
from .stations import measure_normals, resample_ring, sample_along

SPACING_PX = 2.0
"""From station to station [working px]."""
REACH_PX = 10
OFFSETS = np.arange(-REACH_PX, REACH_PX + 1, dtype=np.float64)
RIM_PX, BESIDE_PX, MIDDLE_PX = 1.5, 9.0, 5.0
"""Nearer than the first colours are mixed; palettes are gathered from there to the second; what lies beyond the third
is far enough to show an edge that was missed by as much."""
INSIDE_PX, AWAY_PX = 3.0, 24.0
"""So deep inside the ring the picture shows what it takes for cloth, so far outside floor that hardly can be cloth."""
OUTSIDE_PX = 3.0
LEAST_AWAY = 500
"""Pixels; with fewer of them, all that lies outside is asked."""
ON_RING_PX = 2.0
SHORT, LONG, EDGE = 4.0, 10.0, 3.0
"""Spreads along the ring of the surroundings judged [stations]."""
MOST = 4.0
WORST = 75.0
"""Percentile over the ring of how little clear its edge is."""


def measure_signs(
    looks: LocalLooks, log_ratio: Reals, blocked: Flags, ring: Floats
) -> tuple[Floats, dict[str, Floats]]:
    """Return stations (N, 2) along a ring, and the (N,) values of every sign there.

    Args:
        looks: of the picture.
        log_ratio: (h, w) log-likelihood for garment that the whole picture taught, or zeros.
        blocked: (h, w) True on references.
        ring: (M, 2) closed ring [working px], counter-clockwise.
    """
    stations = resample_ring(ring, SPACING_PX)
    band = _Band(looks, blocked, stations)
    taught = np.clip(sample_along(as_reals(log_ratio), band.places), -MOST, MOST)
    hue, clear = _measure_edge(band, looks.lab)
    return stations, _compare_looks(band, looks) | {
        "wide inside": -band.average(band.wide_ratio(looks), -1, SHORT),
        "taught inside": -band.average(taught, -1, LONG),
        "taught outside": band.average(taught, 1, LONG),
        "hue": hue,
        "clear": np.full(len(stations), float(np.percentile(clear, 100.0 - WORST))),
    }


class _Band:
    """The picture unrolled along a ring: a row per station, a column per pixel across it."""

    def __init__(self, looks: LocalLooks, blocked: Flags, stations: Floats) -> None:
        height, width = blocked.shape
        self.normals = measure_normals(stations, 2.0)
        self.places = stations[:, None] + OFFSETS[None, :, None] * self.normals[:, None]
        depth = paint_depth([stations], (height, width))
        x, y = np.moveaxis(np.round(self.places).astype(int), 2, 0)
        within = (x >= 0) & (x < width) & (y >= 0) & (y < height)
        x, y = np.clip(x, 0, width - 1), np.clip(y, 0, height - 1)
        # Beyond half the way to another stretch of the ring nothing speaks of this one.
        own = within & ~blocked[y, x] & (depth[y, x] * np.sign(OFFSETS) >= 0.5 * np.abs(OFFSETS) - 1.0)
        own[:, REACH_PX:] = np.logical_and.accumulate(own[:, REACH_PX:], axis=1)
        own[:, REACH_PX::-1] = np.logical_and.accumulate(own[:, REACH_PX::-1], axis=1)
        self.own: Flags = own
        self.look = looks.look[y, x]
        self.cloth = _share(looks, (depth < -INSIDE_PX) & ~blocked)
        self.floor = _share(looks, (depth > OUTSIDE_PX) & ~blocked)
        away = (depth > AWAY_PX) & ~blocked
        self.away = _share(looks, away) if away.sum() > LEAST_AWAY else self.floor

    def beside(self, side: int) -> Flags:
        """Return (N, K) the samples just inside (`side` -1) or outside (1) that are not mixed."""
        across = side * OFFSETS
        return self.own & (across > RIM_PX) & (across <= BESIDE_PX)

    def palette(self, looks: LocalLooks, side: int, spread: float) -> Floats:
        """Return (N, looks) how often each look lies beside the ring."""
        sel = self.beside(side)
        row = np.broadcast_to(np.arange(len(sel))[:, None], sel.shape)[sel]
        counted = np.bincount(row * looks.count + self.look[sel], minlength=len(sel) * looks.count)
        return _along(counted.reshape(len(sel), looks.count).astype(np.float64), spread)

    def wide_ratio(self, looks: LocalLooks) -> Floats:
        """Return (N, K) log p(look | cloth) - log p(look | floor) as the whole picture has them."""
        ratio = compare_shares(self.cloth @ looks.blend, self.floor @ looks.blend)
        listed: Floats = np.clip(ratio, -MOST, MOST)[self.look]
        return listed

    def average(self, values: Floats, side: int, spread: float) -> Floats:
        """Return (N,) the mean of `values` (N, K) at some distance inside (`side` -1) or outside (1), eased along."""
        sel = self.own & (side * OFFSETS > MIDDLE_PX)
        number = sel.sum(1).astype(np.float64)
        mean: Floats = _along((values * sel).sum(1), spread) / (_along(number, spread) + 0.5)
        return mean


def _share(looks: LocalLooks, where: Flags) -> Floats:
    counted = np.bincount(looks.look[where], minlength=looks.count) + 1e-6
    shares: Floats = counted / counted.sum()
    return shares


def _along(values: Floats, spread: float) -> Floats:
    eased: Floats = gaussian_filter1d(values, spread, axis=0, mode="wrap")
    return eased


def _likeness(one: Floats, other: Floats, blend: Floats) -> Floats:
    """Return (N,) 0 where two palettes have nothing alike, 1 where they are the same."""
    mixed, meant = one @ blend, other @ blend
    alike: Floats = (mixed * other).sum(1) / np.sqrt(np.maximum((mixed * one).sum(1) * (meant * other).sum(1), 1e-12))
    return alike


def _compare_looks(band: _Band, looks: LocalLooks) -> dict[str, Floats]:
    """Return how like the picture's cloth, and the floor away from it, the palettes beside the ring are."""
    blend = looks.blend.astype(np.float64)
    cloth, away = band.cloth[None], band.away[None]
    return {
        "inside like cloth": _likeness(band.palette(looks, -1, LONG), cloth, blend),
        "inside like floor": _likeness(band.palette(looks, -1, SHORT), away, blend),
        "outside like floor": _likeness(band.palette(looks, 1, SHORT), away, blend),
    }


def _measure_edge(band: _Band, lab: Reals) -> tuple[Floats, Floats]:
    """Return the log step in hue across the ring, and how clear the step of colour on it is, 0 to 1; (N,) each."""
    soft, across, down = measure_slopes(lab)
    few = (slice(None, None, 2), slice(None, None, 2))
    usual = float(np.median(weigh_slopes(across[few], down[few]))) + 0.5
    on_ring = np.abs(OFFSETS) <= ON_RING_PX
    normal = band.normals[:, None, :, None]
    places = band.places[:, on_ring]
    step = sample_along(across, places) * normal[:, :, 0]
    step = step + sample_along(down, places) * normal[:, :, 1]
    steep = np.sqrt((_along(step, EDGE) ** 2 * SLOPE_WEIGHTS).sum(2)).max(1)
    colours: NDArray[Any] = sample_along(soft, band.places).astype(np.float64)
    inner, outer = (_mean(colours, band.beside(side)) for side in (-1, 1))
    hue = np.log(np.sqrt(((inner - outer)[:, 1:] ** 2).sum(1)) + 1.0)
    return hue, steep / (steep + usual)


def _mean(colours: Floats, sel: Flags) -> Floats:
    """Return (N, 3) the mean of what is selected, eased along the ring."""
    mean: Floats = _along((colours * sel[..., None]).sum(1), LONG) / (
        _along(sel.sum(1).astype(np.float64), LONG)[:, None] + 1e-3
    )
    return mean

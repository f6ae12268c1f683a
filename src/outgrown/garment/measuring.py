"""Measuring: the lengths a sewist would take with a tape from a folded leg, each with its doubt."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from ..arrays import Floats
from ..errors import GarmentError
from ..geometry.polylines import length_mm
from ..geometry.sections import crossings_mm
from ..practice import THIGH_BELOW_CROTCH_MM
from .garment import Band, Measurement

ScaleDoubt = float | Callable[[Floats, Floats], float]
"""Standard deviation of a length: a share of it, or a function of its two ends in the outline's mm [mm]."""

_TWO_SIDED_95 = 1.96
CORNER_DOUBT_MM = 0.9
"""Standard deviation with which a corner is placed along an edge. Measured on invented legs with ripples up
to 3 mm; see tests/garment."""


class LegWidths:
    """Widths of a straightened half leg, square to its side."""

    def __init__(self, hem_mm: Floats, inseam_mm: Floats, rise_mm: Floats) -> None:
        self._line = np.vstack([hem_mm[:-1], inseam_mm[:-1], rise_mm])

    def at(self, height_mm: float) -> float:
        """Return the half girth at a height above the hem's outer corner [mm].

        Raises:
            GarmentError: the leg does not reach that height.
        """
        found = crossings_mm(self._line, height_mm)
        if len(found) == 0:
            raise GarmentError(f"The leg has no width at {height_mm:.0f} mm above the hem.")
        return float(found.max())


def measure_half_leg(
    edges_mm: tuple[Floats, ...],
    seen_mm: Callable[[Floats], Floats],
    edge_doubt_mm: float,
    scale_doubt: ScaleDoubt,
    cuff: Band | None = None,
    waistband: Band | None = None,
) -> tuple[Measurement, ...]:
    """Return the measurements of a straightened half leg.

    Args:
        edges_mm: side, hem, inseam, rise, waist of the straightened leg.
        seen_mm: from the straightened leg's millimetres (about) to the outline's, for the doubt.
        edge_doubt_mm: standard deviation of the outline's points along its normal [mm].
        scale_doubt: see `ScaleDoubt`.
        cuff: taken off the edges, when there is one; lengths include its height.
        waistband: the same at the waist.
    """
    side, hem, inseam, rise, waist = edges_mm
    widths = LegWidths(hem, inseam, rise)
    crotch_height = float(inseam[-1, 1])
    low = max(float(inseam[0, 1]), 0.0) - (0.0 if cuff is None else cuff.height_mm)
    thigh_height = max(crotch_height - THIGH_BELOW_CROTCH_MM.value, 0.5 * crotch_height)
    knee_height = max(0.5 * (crotch_height + low), 0.0)

    def doubt(a: Floats, b: Floats, ends_mm: float) -> float:
        if callable(scale_doubt):
            scale = scale_doubt(*seen_mm(np.array([a, b])))
        else:
            scale = scale_doubt * float(np.hypot(*(b - a)))
        return _TWO_SIDED_95 * float(np.sqrt(2.0 * ends_mm**2 + scale**2))

    corner = float(np.hypot(edge_doubt_mm, CORNER_DOUBT_MM))

    def along(name: str, line: Floats, how: str, *, more_mm: float = 0.0) -> Measurement:
        return Measurement(name, length_mm(line) + more_mm, doubt(line[0], line[-1], corner), how)

    def across(name: str, height: float, how: str) -> Measurement:
        half = widths.at(height)
        ends = np.array([[0.0, height], [half, height]])
        return Measurement(name, half, doubt(ends[0], ends[1], edge_doubt_mm), how)

    below = 0.0 if cuff is None else cuff.height_mm
    above = 0.0 if waistband is None else waistband.height_mm
    of_waist = along("waist edge", waist, "along the waist edge of the folded leg: a quarter of the waist")
    of_hem = along("half hem", hem, "along the hem edge")
    bands = _measure_bands(of_hem, of_waist, cuff, waistband)
    if cuff is not None:
        of_hem = replace(of_hem, value_mm=cuff.edge_mm)
    if waistband is not None:
        of_waist = replace(of_waist, value_mm=waistband.edge_mm)
    thigh_below = crotch_height - thigh_height
    assert of_waist.doubt_mm is not None
    return (
        along("inseam", inseam, "along the inseam, crotch point to hem", more_mm=below),
        along("outer length", side, "along the side fold, waist edge to hem", more_mm=below + above),
        along("rise", rise, "along the curve, waist centre to crotch point", more_mm=above),
        Measurement(
            "half waist",
            2.0 * of_waist.value_mm,
            2.0 * of_waist.doubt_mm,
            "twice the waist edge, as the waist lies when the pair is open",
        ),
        of_waist,
        across("half thigh", thigh_height, f"{thigh_below:.0f} mm below the crotch point, square to the side"),
        across("half knee", knee_height, "halfway between crotch point and hem, square to the side"),
        of_hem,
        *bands,
    )


def _measure_bands(
    of_hem: Measurement, of_waist: Measurement, cuff: Band | None, waistband: Band | None
) -> list[Measurement]:
    """Return heights and seams of what was taken off the leg, whose edges along those seams were measured."""
    bands: list[Measurement] = []
    if cuff is not None:
        how = "hem to the step in the leg's width"
        bands.append(Measurement("cuff height", cuff.height_mm, of_hem.doubt_mm, how))
        bands.append(replace(of_hem, name="half leg at the cuff", how="along the seam of the cuff"))
    if waistband is not None:
        how = "waist edge to the step in the leg's width"
        bands.append(Measurement("waistband height", waistband.height_mm, of_waist.doubt_mm, how))
        bands.append(replace(of_waist, name="waistband seam", how="along the seam of the waistband, folded leg"))
    return bands

"""Body: how children's bodies change as they grow, from published tables. Guides, never a substitute for a tape."""

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files
from statistics import NormalDist

import numpy as np

from ..arrays import Floats
from ..errors import PieceError

CDC = "CDC growth chart 2000"
SURVEY = "US child survey 1975-77"
EUROPE = "European body chart, 92 to 122 cm"
_BEND_MM = 1350.0
"""The survey's lines are fitted below this stature and over the whole range."""
SURVEY_RANGE_MM = (850.0, 1650.0)


class Sex(StrEnum):
    """Whose growth chart."""

    BOY = "boy"
    GIRL = "girl"


@cache
def read_table(name: str) -> tuple[dict[str, str], ...]:
    """Return the rows of a table that goes with the product; see data/sources.md."""
    text = (files("outgrown.data") / name).read_text(encoding="utf-8")
    return tuple(csv.DictReader(text.splitlines()))


@cache
def _chart(sex: Sex) -> Floats:
    code = {Sex.BOY: "1", Sex.GIRL: "2"}[sex]
    rows = [row for row in read_table("cdc2000_stature_for_age.csv") if row["Sex"] == code]
    return np.array([[float(row[k]) for k in ("Agemos", "L", "M", "S")] for row in rows])


def _lms(sex: Sex, age_months: float) -> tuple[float, float, float]:
    chart = _chart(sex)
    if not chart[0, 0] <= age_months <= chart[-1, 0]:
        raise PieceError(
            f"The growth chart goes from 2 to 20 years; {age_months / 12:.1f} years is outside.",
            "Give the heights then and now instead.",
        )
    length, median, spread = (float(np.interp(age_months, chart[:, 0], chart[:, i])) for i in (1, 2, 3))
    return length, median, spread


def stature_at(sex: Sex, age_months: float, z: float = 0.0) -> float:
    """Return the stature at an age [mm]: X = M (1 + L S z)^(1/L), CDC growth charts 2000.

    Args:
        sex: whose chart.
        age_months: in months, 24 to 240; between two of the chart's ages L, M and S are interpolated.
        z: standard deviations from the median; 0 is the median, 1.881 the 97th percentile.

    Raises:
        PieceError: the age is outside of the chart.
    """
    power, median, spread = _lms(sex, age_months)
    stretch = 1.0 + power * spread * z
    factor = np.exp(spread * z) if abs(power) < 1e-9 else stretch ** (1.0 / power)
    return float(10.0 * median * factor)


def z_of(sex: Sex, age_months: float, stature_mm: float) -> float:
    """Return how many standard deviations a stature is from the median: z = ((X/M)^L - 1) / (L S)."""
    power, median, spread = _lms(sex, age_months)
    ratio = stature_mm / (10.0 * median)
    return float(np.log(ratio) / spread if abs(power) < 1e-9 else (ratio**power - 1.0) / (power * spread))


def percentile_of(z: float) -> float:
    """Return the percentile of a z, 0 to 100.

    >>> round(percentile_of(1.645))
    95
    """
    return 100.0 * NormalDist().cdf(z)


@cache
def _lines(what: str) -> tuple[float, float]:
    """Return the survey's slopes of a length on stature, below the bend and above it."""
    rows = [row for row in read_table("survey1977_regressions.csv") if row["y_mm"] == what]
    slope = {row["stature_range_mm"]: float(row["slope_mm_per_mm"]) for row in rows}
    return slope["850-1350"], slope["850-1650"]


def growth_of(what: str, then_mm: float, now_mm: float) -> float:
    """Return how much `leg` or `waist` grows from one stature to another [mm], by the survey's straight lines.

    Below 1350 mm the slope fitted there holds, above it that of the whole range: leg 0.590 and 0.574, waist 0.267
    and 0.352 of the stature's growth.
    """
    low, high = _lines(what)
    below = min(now_mm, _BEND_MM) - min(then_mm, _BEND_MM)
    return low * below + high * (now_mm - then_mm - below)


def survey_median(what: str, stature_mm: float) -> float:
    """Return the survey's median of a column (`waist_p50`, ...) at a stature, both sexes [mm]; interpolated."""
    rows = [row for row in read_table("survey1977_by_stature.csv") if row["sex"] == "all"]
    column = next(key for key in rows[0] if key.startswith(what))
    return float(
        np.interp(
            stature_mm, [float(row["stature_mm(bin +-30)"]) for row in rows], [float(row[column]) for row in rows]
        )
    )


@dataclass(frozen=True)
class BodyRow:
    """One row of the European chart [mm]."""

    stature: float
    chest: float
    waist: float
    hip: float
    outside_leg: float


@cache
def europe_rows() -> Sequence[BodyRow]:
    """Return the European chart's rows, smallest first."""
    names = ("stature_cm", "chest_cm", "waist_cm", "hip_cm", "outside_leg_cm")
    return tuple(BodyRow(*(10.0 * float(row[name]) for name in names)) for row in read_table("europe_height_sizes.csv"))


def europe_at(stature_mm: float) -> BodyRow:
    """Return the European chart at a stature, interpolated, and continued at its slope beyond its ends."""
    rows = europe_rows()
    heights = np.array([row.stature for row in rows])
    at = int(np.clip(np.searchsorted(heights, stature_mm) - 1, 0, len(rows) - 2))
    low, high = rows[at], rows[at + 1]
    share = (stature_mm - low.stature) / (high.stature - low.stature)

    def between(name: str) -> float:
        a, b = float(getattr(low, name)), float(getattr(high, name))
        return a + (b - a) * share

    return BodyRow(stature_mm, between("chest"), between("waist"), between("hip"), between("outside_leg"))


def is_in_europe_range(stature_mm: float) -> bool:
    """Tell whether the European chart covers a stature."""
    rows = europe_rows()
    return rows[0].stature <= stature_mm <= rows[-1].stature

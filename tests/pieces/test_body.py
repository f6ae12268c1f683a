"""How children grow: published figures typed again, against the tables that go with the product."""

import numpy as np
import pytest

from outgrown.errors import PieceError
from outgrown.pieces.body import (
    Sex,
    europe_at,
    growth_of,
    percentile_of,
    read_table,
    stature_at,
    survey_median,
    z_of,
)

CDC_2000 = {
    # (sex, months): (P3, P50, P97) in cm
    ("boy", 36.5): (88.379, 95.274, 102.940),
    ("boy", 60.5): (100.332, 109.175, 117.831),
    ("boy", 84.5): (111.946, 122.031, 132.325),
    ("boy", 120.5): (126.668, 138.823, 151.529),
    ("girl", 36.5): (86.903, 94.213, 101.793),
    ("girl", 60.5): (99.350, 107.957, 117.355),
    ("girl", 84.5): (111.868, 121.762, 132.734),
    ("girl", 120.5): (125.960, 138.211, 151.292),
}
GROWTH_IN_A_YEAR_CM = {("boy", 3): 7.26, ("boy", 4): 6.68, ("boy", 6): 6.38, ("girl", 5): 7.05, ("girl", 8): 5.33}
SURVEY_1977 = {
    # stature: (waist, leg) medians in mm, both sexes
    860: (462, 357),
    980: (489, 419),
    1100: (510, 488),
    1220: (544, 559),
    1340: (578, 635),
}
EUROPE = {92: (53, 58, 54), 104: (55, 62, 62), 110: (56, 64, 66), 122: (58, 68, 74)}
"""Height: waist, hip, outside leg in cm."""


@pytest.mark.source("CDC growth charts 2000, stature for age, file statage.csv")
@pytest.mark.parametrize("who", CDC_2000, ids=str)
def test_statures_are_those_of_the_growth_chart(who):
    sex, months = who
    for percentile_z, published_cm in zip((-1.880794, 0.0, 1.880794), CDC_2000[who], strict=True):
        assert stature_at(Sex(sex), months, percentile_z) == pytest.approx(10 * published_cm, abs=0.01)


@pytest.mark.source("CDC growth charts 2000, stature for age, its own percentile columns")
def test_every_percentile_of_the_chart_comes_back():
    columns = {"P3": 3, "P5": 5, "P10": 10, "P25": 25, "P50": 50, "P75": 75, "P90": 90, "P95": 95, "P97": 97}
    rows = read_table("cdc2000_stature_for_age.csv")
    assert len(rows) == 436
    for row in rows[::9]:
        sex = Sex.BOY if row["Sex"] == "1" else Sex.GIRL
        for column, percentile in columns.items():
            z = z_of(sex, float(row["Agemos"]), 10 * float(row[column]))
            assert percentile_of(z) == pytest.approx(percentile, abs=1e-3)


@pytest.mark.source("CDC growth charts 2000; median growth over twelve months, reckoned from the chart's table")
@pytest.mark.parametrize("who", GROWTH_IN_A_YEAR_CM, ids=str)
def test_a_year_of_median_growth(who):
    sex, years = who
    grown = stature_at(Sex(sex), 12 * years + 12) - stature_at(Sex(sex), 12 * years)
    assert grown == pytest.approx(10 * GROWTH_IN_A_YEAR_CM[who], abs=0.1)


@pytest.mark.parametrize("age", [23.0, 241.0])
def test_ages_outside_of_the_chart_are_refused(age):
    with pytest.raises(PieceError, match="2 to 20 years"):
        stature_at(Sex.GIRL, age)


@pytest.mark.source("Snyder and others, UM-HSRI-77-17 (1977), medians reckoned from its raw records")
@pytest.mark.parametrize("stature", SURVEY_1977)
def test_survey_medians(stature):
    waist, leg = SURVEY_1977[stature]
    assert survey_median("waist_p50", stature) == waist
    assert survey_median("leg_p50", stature) == leg


@pytest.mark.source("Snyder and others, UM-HSRI-77-17 (1977): leg + 34 to 35 mm, waist + 16 mm per 60 mm of stature")
def test_growth_by_the_surveys_lines():
    assert growth_of("leg", 1040, 1100) == pytest.approx(35.4, abs=0.1)
    assert growth_of("waist", 1040, 1100) == pytest.approx(16.0, abs=0.1)
    assert growth_of("leg", 1400, 1460) == pytest.approx(34.4, abs=0.1)


def test_growth_by_lines_agrees_with_the_medians_of_the_same_survey():
    """Medians are kept apart from the fits, so one checks the other; a single bin's median is good to some mm only."""
    assert growth_of("leg", 920, 1280) == pytest.approx(594 - 381, abs=2.0)
    for low in np.arange(920, 1290, 60):
        by_medians = survey_median("leg_p50", low + 60) - survey_median("leg_p50", low)
        assert growth_of("leg", low, low + 60) == pytest.approx(by_medians, abs=6.0)


@pytest.mark.source("body chart of a European children's sewing magazine, heights 92 to 122 cm")
@pytest.mark.parametrize("height", EUROPE)
def test_european_chart(height):
    row = europe_at(10.0 * height)
    assert (row.waist, row.hip, row.outside_leg) == pytest.approx([10.0 * cm for cm in EUROPE[height]])


def test_two_surveys_of_the_leg_agree():
    """European outside leg and US leg both grow by about two thirds of the height; they may differ by the rise."""
    for low in range(920, 1160, 60):
        rise = europe_at(low + 60).outside_leg - europe_at(low).outside_leg - growth_of("leg", low, low + 60)
        assert 0.0 < rise < 10.0

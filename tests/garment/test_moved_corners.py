"""Corners put elsewhere by hand: the edges end there, and other edges stay what they were."""

import numpy as np
import pytest
from pieces.legs import ORDER
from pieces.test_difference import seen
from shapes import Leg

from outgrown.errors import GarmentError
from outgrown.garment.garment import Laid
from outgrown.garment.reading import read_garment
from outgrown.geometry.polylines import length_mm


def read(outline, **said):
    return read_garment(outline, kind="leggings", laid=Laid.FOLDED, **said)


def test_a_crotch_point_moved_along_the_rise_lengthens_the_inseam():
    outline = seen(Leg())
    before = read(outline)
    crotch = next(corner for corner in before.corners if corner.name == "crotch")
    # Ten millimetres up the rise, as the ring runs.
    ring = outline.ring_mm
    near = int(np.argmin(np.hypot(*(ring - crotch.seen_mm).T)))
    rise_end = next(corner for corner in before.corners if corner.name == "waist-centre").seen_mm
    step = 1 if np.hypot(*(ring[(near + 9) % len(ring)] - rise_end)) < np.hypot(*(ring[near - 9] - rise_end)) else -1
    index = near
    while np.hypot(*(ring[index] - crotch.seen_mm)) < 10.0:
        index = (index + step) % len(ring)
    after = read(outline, corners_mm={"crotch": ring[index]})
    moved = next(corner for corner in after.corners if corner.name == "crotch")
    assert moved.is_moved and not any(c.is_moved for c in after.corners if c.name != "crotch")
    assert np.hypot(*(moved.seen_mm - ring[index])) < 1.0
    lengths = [[length_mm(g.edge(name).points_mm) for name in ORDER] for g in (before, after)]
    change = dict(zip(ORDER, np.subtract(lengths[1], lengths[0]), strict=True))
    assert change["rise"] == pytest.approx(-10.0, abs=2.0)
    # The bend that was the corner lies inside the inseam now, where the smooth line cuts it short.
    assert 4.0 < change["inseam"] < 11.0
    assert abs(change["hem"]) < 0.5 and abs(change["side"]) < 0.5


def test_corners_unknown_or_out_of_order_are_refused():
    outline = seen(Leg())
    corners = {corner.name: corner.seen_mm for corner in read(outline).corners}
    with pytest.raises(GarmentError, match="no corner called “knee”"):
        read(outline, corners_mm={"knee": corners["crotch"]})
    with pytest.raises(GarmentError, match="no longer follow"):
        read(outline, corners_mm={"crotch": corners["waist-side"]})

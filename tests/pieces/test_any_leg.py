"""Whatever the leg and the finish: no spikes, no self-crossing, seams that fit, corners that join smoothly."""

from dataclasses import replace

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from pieces.legs import garment_of
from pieces.test_front_and_back import matching_back, seam_ring
from shapely import LineString, Point, Polygon
from shapes import random_leg

from outgrown.errors import PieceError
from outgrown.garment.garment import EdgeName
from outgrown.geometry.offsets import SPIKE_LIMIT
from outgrown.geometry.polylines import length_mm
from outgrown.geometry.rings import is_simple
from outgrown.pieces.choices import Choices, Hem, Machine, Waist
from outgrown.pieces.drafting import draft_pattern
from outgrown.pieces.piece import Finish, Piece

SEWN_MM = 0.5
"""Seams sewn together differ by less."""
JOINED_DEG = 3.5
"""Joined corners add up to 180 degrees as nearly, over the first millimetre of four lines, which curve there by a
degree each. Measured on 150 pairs: 1.8 (p95), 2.6 at worst."""
TIP_DEG = 25.0
"""No corner of a cut line is sharper: a taper's own corner, turned back, has 40 or more."""
EDGE_AT = {
    "crotch point": "rise",
    "waist at the centre": "waist",
    "side at the waist": "waist",
    "side at the hem": "hem",
}
"""Which edge is bent at a joined corner; a shape too far from square is left, and that is said of this edge."""

choices = st.builds(
    Choices,
    hem=st.sampled_from(list(Hem)),
    waist=st.sampled_from(list(Waist)),
    machine=st.sampled_from(list(Machine)),
    side_seam=st.booleans(),
    band_height_mm=st.just(25.0),
    cuff_height_mm=st.just(25.0),
)


def front_and_back(seed):
    """An invented leg whose back is wider and higher, both reading as one pair."""
    rng = np.random.default_rng(seed)
    leg, _ = random_leg(rng)
    front = replace(leg, cuff_height=0.0, side_bow=0.0)
    back = replace(
        front,
        crotch_width=front.crotch_width * rng.uniform(1.0, 1.08),
        waist_width=front.waist_width * rng.uniform(0.97, 1.05),
        waist_slant=front.waist_slant - 0.12 * front.waist_width,
        waist_curve=0.0,
    )
    return front, matching_back(front, back)


def sharpest_deg(ring):
    """The smallest angle inside or outside any corner of a ring, seen over 1 mm."""
    line = LineString(np.vstack([ring, ring[:1]]))
    at = np.array([line.project(p) for p in map(Point, ring)])
    before, after = (_places(line, at + step) for step in (-1.0, 1.0))
    one, other = before - ring, after - ring
    cosine = np.einsum("ij,ij->i", one, other) / (np.hypot(*one.T) * np.hypot(*other.T))
    return float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))).min())


def _places(line, at):
    return np.array([line.interpolate(s % line.length).coords[0] for s in at])


def check_piece(piece: Piece) -> None:
    """A sound cut line round the seam line, nowhere farther out than allowances ask."""
    ring = piece.cut_ring_mm
    cut, seam = Polygon(ring), Polygon(seam_ring(piece))
    assert is_simple(ring)
    assert cut.is_valid
    assert seam.is_valid
    assert cut.buffer(0.01).covers(seam)
    most = max(edge.allowance_mm for edge in piece.edges)
    assert seam.buffer(SPIKE_LIMIT * most + 1.0).covers(cut)
    assert sharpest_deg(ring) > TIP_DEG
    for edge in piece.edges:
        if edge.finish is Finish.FOLD:
            assert abs(ring[:, 0].min()) < 1e-6


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 100_000), chosen=choices)
def test_a_leg_from_one_photo(seed, chosen):
    front, _ = front_and_back(seed)
    try:
        pattern = draft_pattern(garment_of(front), chosen)
    except PieceError:
        assume(False)
    for piece in pattern.pieces:
        check_piece(piece)


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 100_000), chosen=choices)
def test_a_leg_from_two_photos(seed, chosen):
    front, back = front_and_back(seed)
    try:
        pattern = draft_pattern(garment_of(front), chosen, back=garment_of(back))
    except PieceError:
        assume(False)
    for piece in pattern.pieces:
        check_piece(piece)
    for name in (EdgeName.INSEAM, EdgeName.SIDE):
        lengths = [length_mm(e.points_mm) for p in pattern.pieces for e in p.edges if e.name is name]
        assert len(lengths) in (0, 2)
        assert not lengths or abs(lengths[0] - lengths[1]) < SEWN_MM
    left_as_they_are = {f.place for f in pattern.findings if f.code == "corner-not-square"}
    for corner in pattern.provenance["joined_corners"]:
        if EDGE_AT[corner["place"]] not in left_as_they_are:
            assert abs(corner["front_deg"] + corner["back_deg"] - 180.0) < JOINED_DEG, corner

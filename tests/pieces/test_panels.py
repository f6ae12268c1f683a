"""A leg's piece taken apart: its edge as the seam line, or as the line it was cut along."""

import numpy as np
import pytest
from pieces.test_front_and_back import PAIRS, matching_back, seam_ring, true_ring
from scipy.spatial import cKDTree
from shapely import Polygon
from shapes import Shot

from outgrown.arrays import frozen
from outgrown.errors import GarmentError
from outgrown.findings import Severity
from outgrown.garment.garment import EdgeName, Laid
from outgrown.garment.reading import read_garment
from outgrown.geometry.polylines import distances_to_line_mm, length_mm, resample
from outgrown.outline.outline import Outline
from outgrown.pieces.choices import Choices, EdgeIs, Hem
from outgrown.pieces.drafting import draft_pattern

QUIET = Shot(33.0, (60.0, 20.0), False, 0.3, 0.6, 9, 1.0)


def read(ring, shot=QUIET):
    seen = shot.ring(ring)
    n = len(seen)
    outline = Outline(frozen(seen), frozen(seen), (), frozen(np.full(n, 0.3)), frozen(np.ones(n)))
    return read_garment(outline, laid=Laid.PANEL)


def apart_mm(ring, truth):
    """Distances after the rigid move that fits best, found by nearest points."""
    line = np.vstack([truth, truth[:1]])
    dense = resample(line, 0.5)
    moved = resample(np.vstack([ring, ring[:1]]), 2.0)
    moved = moved - moved.mean(axis=0) + dense.mean(axis=0)
    tree = cKDTree(dense)
    for _ in range(40):
        near = dense[tree.query(moved)[1]]
        a, b = moved - moved.mean(axis=0), near - near.mean(axis=0)
        u, _, vt = np.linalg.svd(a.T @ b)
        moved = a @ (u @ vt) + near.mean(axis=0)
    return distances_to_line_mm(moved, line)


def truth_of(name):
    front, back = PAIRS[name]
    return true_ring(front, matching_back(front, back))


@pytest.mark.parametrize("name", PAIRS)
@pytest.mark.parametrize("is_mirrored", [False, True])
def test_the_seam_line_is_the_edge(name, is_mirrored):
    truth = truth_of(name)
    shot = Shot(33.0, (60.0, 20.0), is_mirrored, 0.3, 0.6, 9, 1.0)
    pattern = draft_pattern(read(truth, shot), Choices(edge_is=EdgeIs.SEAM))
    apart = apart_mm(seam_ring(pattern.pieces[0]), truth)
    assert np.percentile(apart, 95) < 1.0
    assert apart.max() < 2.5
    rises = {e.part: length_mm(e.points_mm) for e in pattern.pieces[0].edges if e.name is EdgeName.RISE}
    assert rises["back"] > rises["front"]


def test_where_the_edge_is_the_cut_line_the_piece_is_cut_as_it_was():
    made = draft_pattern(read(truth_of("child's leggings"), Shot()), Choices(edge_is=EdgeIs.SEAM))
    cut = made.pieces[0].cut_ring_mm
    again = draft_pattern(read(cut), Choices(edge_is=EdgeIs.CUT))
    apart = apart_mm(again.pieces[0].cut_ring_mm, cut)
    assert np.percentile(apart, 95) < 1.2
    lengths = [[length_mm(e.points_mm) for e in p.pieces[0].edges] for p in (made, again)]
    assert np.allclose(*lengths, atol=3.0)


def test_what_the_edge_was_taken_for_is_told():
    pattern = draft_pattern(read(truth_of("shorts")), Choices())
    (told,) = [f for f in pattern.findings if f.code == "edge-taken-for-seam-line"]
    assert told.severity is Severity.WARNING
    assert "--edge-is cut" in told.advice


@pytest.mark.parametrize("hem", list(Hem))
@pytest.mark.parametrize("side_seam", [False, True])
def test_finishes_give_sound_pieces(hem, side_seam):
    pattern = draft_pattern(read(truth_of("child's leggings")), Choices(hem=hem, side_seam=side_seam))
    for piece in pattern.pieces:
        assert Polygon(piece.cut_ring_mm).is_valid
        assert Polygon(piece.cut_ring_mm).buffer(0.01).covers(Polygon(seam_ring(piece)))
    inseams = [length_mm(e.points_mm) for p in pattern.pieces for e in p.edges if e.name is EdgeName.INSEAM]
    assert abs(inseams[0] - inseams[1]) < 0.01


def test_what_is_no_panel_is_refused():
    t = np.linspace(0, 2 * np.pi, 600, endpoint=False)
    with pytest.raises(GarmentError, match="does not look like one leg's piece"):
        read(np.column_stack([300 * np.cos(t), 200 * np.sin(t)]))

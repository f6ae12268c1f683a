from dataclasses import replace

import numpy as np
import pytest
from shapely import Polygon

from outgrown.arrays import frozen
from outgrown.errors import PieceError
from outgrown.garment.garment import EdgeName
from outgrown.pieces.cutting import find_fold, open_ring, read_cutting
from outgrown.pieces.piece import CutListRow, Finish, Piece, SeamEdge

SQUARE = np.array([(0.0, 0.0), (40.0, 0.0), (40.0, 100.0), (0.0, 100.0)])


def make_piece(quantity, fold=True, name="leg", last=EdgeName.SIDE):
    names = (EdgeName.HEM, EdgeName.INSEAM, EdgeName.WAIST, last)
    edges = tuple(
        SeamEdge(n, frozen([SQUARE[i], SQUARE[(i + 1) % 4]]), 0.0, Finish.FOLD if fold and i == 3 else Finish.SEAM)
        for i, n in enumerate(names)
    )
    ends = frozen([(20.0, 10.0), (20.0, 90.0)])
    return Piece(name, edges, frozen(SQUARE), quantity, ends, ends)


@pytest.mark.parametrize(
    ("words", "fold", "count", "mirrored"),
    [
        ("cut 2, mirrored, on fold", True, 2, 0),
        ("cut 2, mirrored", False, 2, 1),
        ("cut 4, two of them mirrored", False, 4, 2),
        ("cut 2 on fold: front and back", True, 2, 0),
        ("cut 1", False, 1, 0),
    ],
)
def test_count_and_mirror_images_are_read_from_the_quantity(words, fold, count, mirrored):
    cutting = read_cutting(make_piece(words, fold))
    assert (cutting.count, cutting.mirrored, cutting.is_sure) == (count, mirrored, True)
    assert (cutting.fold_mm is not None) == fold
    assert cutting.material == "main fabric"


def test_a_garment_of_unknown_count_is_taken_once():
    cutting = read_cutting(make_piece("cut on fold, as often as the garment needs"))
    assert (cutting.count, cutting.is_sure) == (1, False)


def test_the_material_comes_from_the_cut_list_or_the_words():
    row = CutListRow("ribbed cuff", 2, 180.0, 112.0, "rib")
    piece = make_piece("cut 2 of rib, on fold", name="ribbed cuff", last=EdgeName.END)
    assert read_cutting(piece, [row]).material == "rib"
    assert read_cutting(piece).material == "rib"


def test_a_half_is_opened_along_its_fold():
    piece = make_piece("cut 1, on fold")
    whole = Polygon(open_ring(piece.cut_ring_mm, find_fold(piece)))
    assert whole.area == pytest.approx(2 * 40 * 100)
    assert whole.bounds == pytest.approx((-40, 0, 40, 100))


def test_a_bent_fold_is_refused():
    piece = make_piece("cut 2, on fold")
    bent = replace(piece.edges[3], points_mm=frozen([(0, 100.0), (-4.0, 50.0), (0.0, 0.0)]))
    with pytest.raises(PieceError, match="straight"):
        find_fold(replace(piece, edges=(*piece.edges[:3], bent)))

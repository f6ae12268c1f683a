import numpy as np
import pytest
import shapely
from pieces.legs import garment_of
from sample_patterns import make_band, make_leg, make_pattern
from shapes import Leg

from outgrown.arrays import frozen
from outgrown.garment.garment import EdgeName
from outgrown.paper.cut_line import StretchKind, split_ring
from outgrown.paper.draw_piece import draw_piece
from outgrown.paper.recording import RecordingSurface, Words
from outgrown.paper.sheet import arrange_pieces, move_piece, stand_piece
from outgrown.paper.words import allowance_lines, label_lines
from outgrown.pieces.choices import Choices, Hem
from outgrown.pieces.drafting import draft_pattern
from outgrown.pieces.piece import Finish, Piece, SeamEdge
from outgrown.units import Units

PIECES = {
    "leg": make_leg(),
    "baby leg": make_leg(95, 230, 95, 55, 6, 15, 22),
    "adult leg": make_leg(330, 1050, 320, 130, 10, 40, 46),
    "slim leg": make_leg(100, 700, 200, 60),
    "turned leg": move_piece(make_leg(), 37.0, (200, -80)),
    "waistband": make_band(),
    "narrow band": make_band(300, 30, 6),
    "loop": make_band(60, 14, 3),
    "tab": make_band(25, 8, 2),
}


def draw(piece, pattern=None):
    surface = RecordingSurface()
    pattern = pattern or make_pattern(piece)
    draw_piece(surface, piece, label_lines(pattern, piece, Units.MM))
    return surface


def length_mm(points):
    return float(np.hypot(*np.diff(points, axis=0).T).sum())


@pytest.mark.parametrize("name", PIECES)
def test_words_touch_neither_lines_nor_other_words(name):
    surface = draw(PIECES[name])
    boxes = [shapely.Polygon(item.path_mm()) for item in surface.items if isinstance(item, Words)]
    lines = [shapely.LineString(item.path_mm()) for item in surface.items if not isinstance(item, Words)]
    assert boxes
    for i, box in enumerate(boxes):
        inside = box.buffer(-0.05)
        assert not any(inside.intersects(line) for line in lines)
        assert not any(inside.intersects(other.buffer(-0.05)) for other in boxes[i + 1 :])


@pytest.mark.parametrize("name", [name for name in PIECES if name != "tab"])
def test_words_lie_inside_the_piece(name):
    outline = shapely.Polygon(PIECES[name].cut_ring_mm)
    for item in draw(PIECES[name]).items:
        if isinstance(item, Words):
            assert outline.covers(shapely.Polygon(item.path_mm()))


def test_piece_too_small_for_words_has_its_name_below():
    words = [item for item in draw(PIECES["tab"]).items if isinstance(item, Words)]
    assert words[-1].words == "Waistband: cut 1"
    assert words[-1].at_mm[1] < PIECES["tab"].cut_ring_mm[:, 1].min()


def test_large_piece_has_its_label_at_full_size():
    """Capitals of DejaVu Sans are 0.729 of the size: 7 mm for the name, over 3.5 mm for the rest."""
    words = {item.words: item.lettering for item in draw(PIECES["leg"]).items if isinstance(item, Words)}
    assert words["Leg"].size_mm * 0.729 == pytest.approx(7.0, abs=0.05)
    assert words["inseam, rise: 6\xa0mm\xa0(1/4\xa0in)"].size_mm * 0.729 >= 3.5


def test_label_says_name_wearer_date_quantity_and_every_allowance():
    text = " ".join(draw(PIECES["leg"]).words())
    for words in ("Leg", "cut 2, mirrored, on the fold", "Zoë Łucja", "2026-03-14", "height 116 cm", "place on fold",
                  "hem: 25\xa0mm", "inseam, rise: 6\xa0mm", "waist: 26\xa0mm", "side: on the fold", "grainline",
                  "greatest stretch", "turn hem up here", "turn casing down here"):  # fmt: skip
        assert words in text


def test_label_does_not_repeat_what_a_piece_brings_along():
    piece = make_leg()
    pattern = make_pattern(piece, title="leggings", for_whom="Mia")
    full = (
        "leggings",
        "for Mia",
        "2026-03-14",
        piece.quantity,
        "Allowances included:",
        "hem: 25 mm, turned up",
        "soft rib",
    )
    from dataclasses import replace

    lines = label_lines(pattern, replace(piece, labels=full), Units.MM)
    assert sum("hem" in line for line in lines) == 1
    assert sum("Mia" in line for line in lines) == 1
    assert "soft rib" in lines


def test_fold_is_not_cut_and_runs_through_hem_and_casing():
    leg = make_leg()
    runs = split_ring(leg)
    folds = [run for run in runs if run.kind is StretchKind.FOLD]
    cuts = [run for run in runs if run.kind is StretchKind.CUT]
    assert len(folds) == len(cuts) == 1
    assert length_mm(folds[0].points_mm) == pytest.approx(560 + 25 + 26)
    ring = np.vstack([leg.cut_ring_mm, leg.cut_ring_mm[:1]])
    assert length_mm(cuts[0].points_mm) + length_mm(folds[0].points_mm) == pytest.approx(length_mm(ring))


def test_piece_without_fold_is_cut_all_round():
    (run,) = split_ring(make_band())
    assert run.is_closed and run.kind is StretchKind.CUT


def test_finished_edge_of_the_cloth_is_not_cut():
    square = [(0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)]
    names = (EdgeName.HEM, EdgeName.INSEAM, EdgeName.WAIST, EdgeName.SIDE)
    edges = tuple(
        SeamEdge(n, frozen([square[i], square[(i + 1) % 4]]), 0.0, Finish.FINISHED if i == 0 else Finish.RAW)
        for i, n in enumerate(names)
    )
    piece = Piece("square", edges, frozen(square), "cut 1", frozen([(50, 20), (50, 80)]), frozen([(20, 30), (80, 30)]))
    runs = {run.kind: length_mm(run.points_mm) for run in split_ring(piece)}
    assert runs == {StretchKind.FINISHED: pytest.approx(100.0), StretchKind.CUT: pytest.approx(300.0)}
    assert "hem: finished edge of the cloth, none" in allowance_lines(piece, Units.MM)


def test_bracket_arrows_point_at_the_fold():
    surface = draw(make_leg())
    heads = [stroke.points_mm for stroke in surface.strokes("fold bracket") if stroke.is_filled]
    assert len(heads) == 2
    for head in heads:
        tip = head[np.argmin(head[:, 0])]
        assert tip[0] == pytest.approx(0.0, abs=1e-9)


def test_single_notch_is_one_triangle_and_double_notch_two():
    assert len(draw(make_leg()).strokes("notches")) == 3


def test_notches_stand_on_the_cut_line_and_point_inwards():
    leg = make_leg()
    outline = shapely.Polygon(leg.cut_ring_mm)
    for stroke in draw(leg).strokes("notches"):
        tip = shapely.Point(stroke.points_mm[1])
        assert outline.covers(tip)
        assert outline.exterior.distance(tip) > 3.0


def test_lines_differ_by_dashes_and_width_not_by_colour():
    surface = draw(make_leg())
    pens = {
        name: surface.strokes(name)[0].pen
        for name in ("cut line", "seam line", "fold line", "inner lines", "grainline", "greatest stretch")
    }
    assert len({(pen.width_mm, pen.dash_mm) for pen in pens.values()}) == len(pens)
    assert pens["cut line"].dash_mm == () and pens["seam line"].dash_mm
    assert all(pen.grey == 0 for pen in pens.values())


def test_laid_pieces_do_not_overlap_and_stand_on_their_grain():
    pieces = [move_piece(make_leg(), 25.0), make_band(), move_piece(make_band(200, 50), 90.0), make_leg(120, 400)]
    for sheet in arrange_pieces(pieces):
        shapes = [shapely.Polygon(piece.cut_ring_mm) for piece in sheet.pieces]
        for i, shape in enumerate(shapes):
            assert all(shape.distance(other) >= 9.9 for other in shapes[i + 1 :])
            assert shapely.box(-1e-6, -1e-6, sheet.width_mm + 1e-6, sheet.height_mm + 1e-6).covers(shape)
        for piece in sheet.pieces:
            x, y = piece.grainline_mm[1] - piece.grainline_mm[0]
            assert abs(x) < 1e-9 and y > 0


def test_turning_a_piece_keeps_its_size():
    leg = make_leg()
    turned = stand_piece(move_piece(leg, 63.0, (10, 20)))
    assert shapely.Polygon(turned.cut_ring_mm).area == pytest.approx(shapely.Polygon(leg.cut_ring_mm).area)
    assert np.allclose(turned.cut_ring_mm - turned.cut_ring_mm[0], leg.cut_ring_mm - leg.cut_ring_mm[0])


@pytest.mark.parametrize("leg", [Leg(), Leg(hem_slant=5.0, hem_width=70.0)])
def test_a_drafted_legs_finished_hem_is_drawn_and_named_as_such_through_its_seam_allowance(leg):
    (piece,) = draft_pattern(garment_of(leg), Choices(hem=Hem.FINISHED)).pieces
    (run,) = [run for run in split_ring(piece) if run.kind is StretchKind.FINISHED]
    hem = next(edge for edge in piece.edges if edge.name is EdgeName.HEM)
    assert length_mm(run.points_mm) == pytest.approx(length_mm(hem.points_mm) + 6.0, abs=0.6)
    surface = RecordingSurface()
    draw_piece(surface, piece, ["cut 2"])
    assert any(words.startswith("finished edge") for words in surface.words())

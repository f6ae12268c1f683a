"""DXF read back by ezdxf's own reader, and audited."""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from ezdxf.lldxf.encoding import decode_dxf_unicode
from measuring import run_mm
from pieces.test_growing import kept_pair
from sample_patterns import make_band, make_leg, make_pattern
from test_layers import nested_leg

from outgrown.errors import PieceError
from outgrown.paper.dxf import draw_dxf
from outgrown.pieces.piece import Finish

WITHIN_MM = 0.02
PATTERNS = {"child": make_pattern, "pair": lambda: kept_pair(side_seam=True), "nested": nested_leg}


def read(data):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "pattern.dxf"
        path.write_bytes(data)
        return ezdxf.readfile(path)


def on_layer(layout, layer, kind="*"):
    return [entity for entity in layout.query(kind) if entity.dxf.layer == layer]


def polyline_mm(entity):
    points = np.array([vertex.dxf.location.vec2 for vertex in entity.vertices])
    return run_mm(points, entity.is_closed)


@pytest.fixture(scope="module", params=PATTERNS)
def drawn(request):
    pattern = PATTERNS[request.param]()
    return pattern, read(draw_dxf(pattern))


def test_the_auditor_finds_nothing(drawn):
    auditor = drawn[1].audit()
    assert not auditor.errors and not auditor.fixes


def test_the_unit_is_the_millimetre(drawn):
    header = drawn[1].header
    assert (header["$INSUNITS"], header["$MEASUREMENT"]) == (4, 1)


def own_blocks(document):
    return [block for block in document.blocks if not block.name.startswith("*")]


def test_every_piece_is_a_block_shown_once(drawn):
    pattern, document = drawn
    shown = [insert.dxf.name for insert in document.modelspace().query("INSERT")]
    assert sorted(shown) == sorted(block.name for block in own_blocks(document))
    assert len(shown) == len(pattern.pieces) * max(1, len(pattern.choices.get("nested", [])))


def test_boundaries_have_the_length_of_the_cut_ring(drawn):
    pattern, document = drawn
    drawn_mm = []
    for block in own_blocks(document):
        (boundary,) = on_layer(block, "1", "POLYLINE")
        assert boundary.is_closed
        drawn_mm.append(polyline_mm(boundary))
    for piece in pattern.pieces:
        assert np.abs(np.array(drawn_mm) - run_mm(piece.cut_ring_mm, True)).min() < WITHIN_MM


def test_sew_lines_internal_lines_and_grain_have_their_lengths(drawn):
    pattern, document = drawn
    for layer, wanted in (
        ("14", [edge.points_mm for piece in pattern.pieces for edge in piece.edges if edge.finish is not Finish.FOLD]),
        ("8", [x.points_mm for p in pattern.pieces for x in p.inner_lines if not x.name.startswith("cut line")]),
    ):
        found = [polyline_mm(e) for block in own_blocks(document) for e in on_layer(block, layer, "POLYLINE")]
        for line in wanted:
            assert np.abs(np.array(found) - run_mm(line)).min() < WITHIN_MM
    grains = [e.dxf.start.distance(e.dxf.end) for b in own_blocks(document) for e in on_layer(b, "7", "LINE")]
    for piece in pattern.pieces:
        assert np.abs(np.array(grains) - run_mm(piece.grainline_mm)).min() < WITHIN_MM


def test_notches_lie_on_the_boundary():
    document = read(draw_dxf(make_pattern()))
    leg = document.blocks.get("LEG")
    (boundary,) = on_layer(leg, "1", "POLYLINE")
    import shapely

    ring = shapely.LinearRing([tuple(v.dxf.location.vec2) for v in boundary.vertices])
    points = on_layer(leg, "4", "POINT")
    assert len(points) == 3  # one single, one double
    for point in points:
        # The sample's cut line is a little off its notches' direction, and two lie beside the middle.
        assert ring.distance(shapely.Point(tuple(point.dxf.location.vec2))) < 0.6


def test_corners_and_points_of_curves_are_told_apart():
    """A strip has four corners and no curve; its inner line and seams end in further turn points."""
    document = read(draw_dxf(make_pattern(make_band())))
    (block,) = own_blocks(document)
    assert not on_layer(block, "3")
    corners = {tuple(np.round(p.dxf.location.vec2, 3)) for p in on_layer(block, "2", "POINT")}
    assert {(0, 0), (492, 0), (492, 92), (0, 92)} <= corners
    leg = read(draw_dxf(make_pattern(make_leg()))).blocks.get("LEG")
    assert on_layer(leg, "3") and on_layer(leg, "6", "LINE")


def test_the_mirror_line_is_the_fold():
    leg = read(draw_dxf(make_pattern(make_leg()))).blocks.get("LEG")
    (mirror,) = on_layer(leg, "6", "LINE")
    assert mirror.dxf.start.distance(mirror.dxf.end) == pytest.approx(560 + 25 + 26, abs=WITHIN_MM)


def test_texts_name_piece_size_and_quantity():
    document = read(draw_dxf(make_pattern(title="Ελένη", for_whom="Zoë Łucja")))
    words = [decode_dxf_unicode(text.dxf.text) for text in document.blocks.get("LEG").query("TEXT")]
    assert {"Piece Name: Leg", "Size: Zoë Łucja", "Quantity: 2", "Material: main fabric"} <= set(words)
    style = [decode_dxf_unicode(text.dxf.text) for text in document.modelspace().query("TEXT")]
    assert "Units: METRIC" in style and any("Ελένη" in words for words in style)


def test_squares_measure_50_mm_and_2_inches():
    space = read(draw_dxf(make_pattern())).modelspace()
    assert sorted(polyline_mm(e) / 4 for e in space.query("POLYLINE")) == pytest.approx([50.0, 50.8], abs=1e-6)


def test_every_size_is_a_block_of_its_own():
    pattern = nested_leg()
    document = read(draw_dxf(pattern))
    rings = {block.name: polyline_mm(on_layer(block, "1", "POLYLINE")[0]) for block in own_blocks(document)}
    assert len(rings) == 3
    lengths = sorted(rings.values())
    assert lengths[0] < lengths[1] < lengths[2]


def test_same_pattern_gives_the_same_bytes():
    assert draw_dxf(make_pattern()) == draw_dxf(make_pattern())


def test_no_font_of_the_machine_is_read_and_nothing_is_left_behind(tmp_path):
    """The library would read all fonts for its first file, and keep a list of them at home."""
    code = (
        "from outgrown.paper.dxf import draw_dxf; from sample_patterns import make_pattern; import os; "
        "draw_dxf(make_pattern()); from ezdxf.fonts import fonts; "
        "assert len(fonts.font_manager._font_cache) == 0; assert 'XDG_CACHE_HOME' not in os.environ"
    )
    keep = {name: value for name, value in os.environ.items() if name not in ("XDG_CACHE_HOME", "HOME")}
    keep["PYTHONPATH"] = os.pathsep.join(sys.path)
    done = subprocess.run(
        [sys.executable, "-c", code], env=keep | {"HOME": str(tmp_path)}, capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert not list(tmp_path.iterdir())


def test_names_make_blocks_that_differ():
    pattern = make_pattern(make_band(name="Bündchen"), make_band(name="Bundchen"), make_band(name="带"))
    names = {block.name for block in own_blocks(read(draw_dxf(pattern)))}
    assert names == {"BUNDCHEN", "BUNDCHEN-2", "PIECE"}


def test_pattern_without_pieces_is_refused():
    with pytest.raises(PieceError, match="no piece"):
        draw_dxf(make_pattern(pieces=()))

import numpy as np
import pytest
from reading import SVG, parse_svg, svg_groups, svg_path_points
from sample_patterns import make_band, make_leg, make_pattern
from test_layers import nested_leg

from outgrown.errors import PieceError
from outgrown.paper.pages import draw_svg

WRITTEN_MM = 0.01  # coordinates are written to a thousandth of a millimetre


def ring_length_mm(points):
    return float(np.hypot(*(np.roll(points, -1, axis=0) - points).T).sum())


@pytest.fixture(scope="module")
def pattern():
    return make_pattern()


@pytest.fixture(scope="module")
def root(pattern):
    return parse_svg(draw_svg(pattern))


def test_one_user_unit_is_one_millimetre(root):
    x, y, width, height = map(float, root.get("viewBox").split())
    assert (x, y) == (0, 0)
    assert root.get("width") == f"{width:g}mm"
    assert root.get("height") == f"{height:g}mm"


def test_groups_have_names(root):
    names = {group.get("data-name") for group in root.iter(f"{SVG}g")}
    assert {"leg", "waistband", "cut line", "seam line", "fold line", "grainline", "greatest stretch", "notches",
            "inner lines", "fold bracket", "text", "scale check"} <= names  # fmt: skip


def test_group_ids_are_unique(root):
    ids = [group.get("id") for group in root.iter(f"{SVG}g")]
    assert len(ids) == len(set(ids))


def test_cut_line_of_the_waistband_has_its_length(root):
    (band,) = svg_groups(root, "waistband")
    (group,) = svg_groups(band, "cut line")
    points, is_closed = svg_path_points(group.find(f"{SVG}path"))
    assert is_closed
    assert ring_length_mm(points) == pytest.approx(2 * (492 + 92), abs=WRITTEN_MM)


def test_cut_line_of_the_leg_is_the_ring_less_the_fold(root, pattern):
    (leg,) = svg_groups(root, "leg")
    (group,) = svg_groups(leg, "cut line")
    points, is_closed = svg_path_points(group.find(f"{SVG}path"))
    assert not is_closed
    cut = float(np.hypot(*np.diff(points, axis=0).T).sum())
    whole = ring_length_mm(pattern.pieces[0].cut_ring_mm)
    assert cut == pytest.approx(whole - (560 + 25 + 26), abs=0.05)


def test_squares_measure_50_mm_and_2_inches(root):
    for name, side in (("test square 50 mm", 50.0), ("test square 2 in", 50.8)):
        (group,) = svg_groups(root, name)
        points, is_closed = svg_path_points(group.find(f"{SVG}path"))
        assert is_closed
        assert np.hypot(*(np.roll(points, -1, axis=0) - points).T) == pytest.approx([side] * 4, abs=WRITTEN_MM)


def test_everything_lies_on_the_drawing(root):
    _, _, width, height = map(float, root.get("viewBox").split())
    for path in root.iter(f"{SVG}path"):
        points, _ = svg_path_points(path)
        assert points.min() >= 0
        assert points[:, 0].max() <= width and points[:, 1].max() <= height


def test_nested_sizes_have_groups_of_their_own():
    root = parse_svg(draw_svg(nested_leg()))
    for size in ("104 cm", "110 cm", "116 cm"):
        groups = svg_groups(root, f"size: {size}")
        assert groups
        paths = [path for group in groups for path in group.iter(f"{SVG}path")]
        assert max(len(path.get("d")) for path in paths) > 200  # its cut line is among them
        assert not [group for group in groups if svg_groups(group, "grainline")]


def test_font_has_a_generic_fallback(root):
    families = {text.get("font-family") for text in root.iter(f"{SVG}text")}
    assert families == {"'DejaVu Sans', Verdana, sans-serif"}


def test_names_are_kept_and_markup_is_harmless():
    text = draw_svg(
        make_pattern(make_leg(), make_band(name='<g> & "band"'), for_whom="Ελένη <script>alert(1)</script>")
    )
    root = parse_svg(text)
    assert not list(root.iter(f"{SVG}script"))
    assert any("Ελένη <script>" in (element.text or "") for element in root.iter(f"{SVG}text"))


def test_same_pattern_gives_the_same_text(pattern):
    assert draw_svg(pattern) == draw_svg(make_pattern())


def test_pattern_without_pieces_is_refused():
    with pytest.raises(PieceError, match="no piece"):
        draw_svg(make_pattern(pieces=()))

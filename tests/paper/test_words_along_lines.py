"""Every turning line says what it is, and in a nest whose: on narrow legs and where lines lie close together too."""

import re
from dataclasses import replace

import pytest
from pieces.test_growing import kept, kept_pair
from shapes import Leg

from outgrown.paper.pages import draw_svg
from outgrown.pieces.choices import Hem, Waist
from outgrown.pieces.growing import grow_pattern, name_sizes
from outgrown.pieces.growth import Growth
from outgrown.pieces.nesting import nest_patterns


def written(pattern):
    return re.findall(r"<text[^>]*>([^<]*)<", draw_svg(pattern))


def nested(pattern, heights_mm):
    grown = [grow_pattern(pattern, Growth(height_then_mm=1040.0, height_now_mm=height)) for height in heights_mm]
    return nest_patterns([pattern, *grown], name_sizes(pattern, grown))


@pytest.mark.parametrize("make", [kept, kept_pair])
@pytest.mark.parametrize("side_seam", [False, True])
@pytest.mark.parametrize("hem", [Hem.PLAIN, Hem.MOCK_CUFF])
def test_each_turning_line_of_a_nest_tells_its_size(make, hem, side_seam):
    pattern = nested(make(hem=hem, side_seam=side_seam), (1100.0, 1160.0))
    said = written(pattern)
    lines = [line.name for piece in pattern.pieces for line in piece.inner_lines if not line.name.startswith("cut")]
    assert len(lines) >= 6
    for size in ("104 cm", "110 cm", "116 cm"):
        mine = [name for name in lines if name.endswith(f", {size}")]
        words = [line for line in said if line == size or line.endswith(f", {size}")]
        words = [line for line in words if not line.startswith(("cut", "Leggings"))]
        assert len(words) >= len(mine) > 0


@pytest.mark.parametrize("hem_mm", [40.0, 55.0, 85.0])
def test_all_three_lines_of_a_mock_cuff_say_what_they_are(hem_mm):
    pattern = kept(replace(Leg(), hem_width=hem_mm), hem=Hem.MOCK_CUFF, waist=Waist.FOLDED_BAND)
    said = " · ".join(written(pattern))
    assert "turn in" in said and "finished end" in said and "then back o" in said
    if hem_mm > 60.0:
        assert "then back over the outside here" in said

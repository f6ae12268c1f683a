"""Names of nested sizes: each on paper, legible, and clear of lines and of one another."""

import numpy as np
import pytest
from pieces.test_growing import kept, kept_pair

from outgrown import steps
from outgrown.geometry.room import meets_box
from outgrown.paper.draw_piece import draw_piece
from outgrown.paper.lettering import measure_words_mm
from outgrown.paper.piece_words import _Writer
from outgrown.paper.recording import RecordingSurface, Stroke, Words
from outgrown.paper.size_lines import layer_name
from outgrown.pieces.growth import Growth

# Capitals as high as those of small print in a book.
LEAST_MM = 2.3


def nest(base, count, step_mm):
    heights = [1040.0 + step_mm * number for number in range(1, count)]
    growths = [Growth(height_then_mm=1040.0, height_now_mm=height) for height in heights]
    return steps.grow(base, growths, is_nested=True, made_on="2026-01-02")


def draw(piece, sizes):
    surface = RecordingSurface()
    draw_piece(surface, piece, piece.labels, sizes=sizes)
    return surface.items


def is_name_of_line(item, size):
    return isinstance(item, Words) and item.words in (size, f"cut line, {size}") and layer_name(size) in item.names


@pytest.mark.parametrize("base", [kept(), kept_pair(side_seam=True)], ids=["fold", "side seam"])
@pytest.mark.parametrize(("count", "step_mm"), [(3, 60.0), (4, 20.0), (6, 20.0), (6, 60.0)])
def test_every_nested_size_has_its_name_at_its_cut_line(base, count, step_mm):
    pattern = nest(base, count, step_mm)
    sizes = pattern.choices["nested"]
    for piece in pattern.pieces:
        items = draw(piece, sizes)
        for size in sizes:
            named = [item for item in items if is_name_of_line(item, size)]
            assert named, (piece.name, size)
            assert max(item.lettering.size_mm for item in named) >= LEAST_MM


def test_words_along_a_line_lie_beside_it_however_it_is_bent_elsewhere():
    """The largest size's name stood beyond the fold, as far off as its line is bent at waist and hem."""
    path = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 200.0], [0.0, 200.0], [0.0, 150.0], [0.0, 100.0]])
    writer = _Writer(np.stack([path[:-1], path[1:]], axis=1), np.zeros((0, 2, 2)))
    assert writer.write_along("cut line, 122 cm", path, 4.0, (1,))
    (words,) = writer.written
    middle = words.filled_mm().reshape(-1, 2).mean(axis=0)
    assert 90 < middle[0] < 100 and 50 < middle[1] < 200


def test_names_at_leaders_touch_nothing_and_their_dots_lie_on_their_lines():
    pattern = nest(kept(), 6, 20.0)
    (piece,) = pattern.pieces
    items = draw(piece, pattern.choices["nested"])
    leaders = [item for item in items if isinstance(item, Stroke) and item.names[-1] == "leader" and not item.is_closed]
    dots = [item for item in items if isinstance(item, Stroke) and item.names[-1] == "leader" and item.is_closed]
    assert len(leaders) == len(dots) >= 4
    lines = {line.name.removeprefix("cut line, "): np.asarray(line.points_mm) for line in piece.inner_lines}
    drawn = np.concatenate([np.stack([p[:-1], p[1:]], axis=1) for p in (item.path_mm() for item in items)])
    for leader, dot in zip(leaders, dots, strict=True):
        size = next(name for name in leader.names if name.startswith("size: ")).removeprefix("size: ")
        ring = np.vstack([piece.cut_ring_mm, piece.cut_ring_mm[:1]])
        line = lines.get(size, ring)
        middle = dot.points_mm.mean(axis=0)
        assert distance(middle, line) < 0.3
        assert np.allclose(middle, leader.points_mm[0], atol=0.05)
        name = min(
            (
                item
                for item in items
                if isinstance(item, Words) and item.words == size and layer_name(size) in item.names
            ),
            key=lambda item: np.hypot(*(item.path_mm().mean(axis=0) - leader.points_mm[1])),
        )
        box = name.path_mm()[:4]
        others = drawn[~np.all(np.isclose(drawn[:, None], box[None, :, None]).all(axis=-1).any(axis=1), axis=1)]
        width = measure_words_mm(name.words, name.lettering.size_mm)
        high = np.hypot(*(box[2] - box[1]))
        assert not meets_box(others, box.mean(axis=0), width - 0.2, high - 0.2, name.lettering.rotation_deg)


def distance(point, line):
    start, way = line[:-1], np.diff(line, axis=0)
    share = np.clip(((point - start) * way).sum(axis=1) / np.maximum((way**2).sum(axis=1), 1e-12), 0, 1)
    return np.hypot(*(start + share[:, None] * way - point).T).min()

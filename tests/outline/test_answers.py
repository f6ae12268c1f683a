"""Which of an answer and what the lesson makes of it is kept."""

import numpy as np

from outgrown.outline.answers import SPOILT, Bench


def make_bench():
    """Return a striped rectangle on a floor like its dark stripes, made ready, and where it lies."""
    draw = np.random.default_rng(4)
    picture = np.full((240, 320, 3), (60, 66, 92), np.float64)
    mask = np.zeros((240, 320), bool)
    mask[80:160, 40:280] = True
    stripes = (np.arange(320) // 8) % 2 == 0
    picture[80:160, 40:280][:, stripes[40:280]] = (230, 230, 225)
    picture[80:160, 40:280][:, ~stripes[40:280]] = (84, 82, 88)
    small = np.clip(picture + draw.normal(size=picture.shape) * 4, 0, 255).astype(np.uint8)
    nothing = np.zeros(mask.shape, bool)
    return Bench(small, nothing, np.zeros(mask.shape, np.int8)), mask


def test_a_lesson_that_loses_much_of_the_garment_is_not_taken(monkeypatch):
    bench, mask = make_bench()
    held = bench.hold(mask)
    lost = mask.copy()
    lost[110:] = False
    assert bench.hold(lost) < SPOILT * held
    patches = bench.patches.mean_of(lost) > 0.5
    monkeypatch.setattr(bench.lesson, "learn_again", lambda *_: (patches, np.ones(mask.shape, np.float32)))
    kept = bench.learn(mask, held)
    assert kept.mask is mask
    assert not kept.log_ratio.any()


def test_a_lesson_that_holds_as_well_is_taken(monkeypatch):
    bench, mask = make_bench()
    patches = bench.patches.mean_of(mask) > 0.5
    monkeypatch.setattr(bench.lesson, "learn_again", lambda *_: (patches, np.ones(mask.shape, np.float32)))
    assert bench.learn(mask, bench.hold(mask)).log_ratio.all()

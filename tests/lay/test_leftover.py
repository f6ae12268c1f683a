from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from cloths import any_cloth, any_part, make_band, make_front, make_leg, parts_of
from shapely import Polygon, box, unary_union

from outgrown.arrays import frozen
from outgrown.errors import LayError
from outgrown.lay.cloth import Leftover, Rules, Stretch
from outgrown.lay.from_outline import find_hem, measured_shirt, see_shirt
from outgrown.lay.on_leftover import lay_on_leftover
from outgrown.lay.splitting import split_parts

QUICK = Rules(seconds=0.2)


def ring_of(shape):
    return frozen(np.asarray(shape.exterior.coords)[:-1])


def assert_sound(lay):
    """Own check: nothing overlaps, every piece keeps off edges and holes."""
    cloth = lay.cloth
    left = Polygon(cloth.ring_mm).buffer(0).difference(unary_union([Polygon(hole) for hole in cloth.holes_mm]))
    shapes = [Polygon(one.ring_mm).buffer(0) for one in lay.placed]
    for one, shape in zip(lay.placed, shapes, strict=True):
        assert left.buffer(1e-3).covers(shape)
        if not one.item.on_hem:
            assert shape.distance(left.boundary) >= cloth.margin_mm - 0.01
    for one, other in combinations(shapes, 2):
        assert one.intersection(other).area < 1e-3


@pytest.mark.parametrize("seed", range(30))
def test_random_pieces_never_overlap_on_random_cloths(seed):
    rng = np.random.default_rng([seed, 77])
    cloth = any_cloth(rng, 300.0)
    parts = tuple(any_part(rng, n + 1, float(rng.uniform(40, 110))) for n in range(int(rng.integers(1, 4))))
    rules = Rules(
        seconds=0.1,
        gap_mm=float(rng.choice([0.0, 2.0])),
        grain_tolerance_deg=float(rng.choice([0.0, 3.0])),
        is_one_way=bool(rng.random() < 0.3),
        seed=seed,
    )
    lay = lay_on_leftover(parts, cloth, rules, has_offers=False)
    assert_sound(lay)
    wanted = sum(part.count for part in parts)
    assert len(lay.placed) + len(lay.missing) == wanted
    for one in lay.placed:
        off = (one.turn_deg - cloth.grain_deg) % (360.0 if rules.is_one_way else 180.0)
        assert min(off, (360.0 if rules.is_one_way else 180.0) - off) <= rules.grain_tolerance_deg + 1e-6


def test_the_same_number_gives_the_same_lay():
    rng = np.random.default_rng(8)
    cloth, parts = any_cloth(rng, 300.0), [any_part(rng, n + 1, 90.0) for n in range(3)]
    one, other = (lay_on_leftover(parts, cloth, QUICK, has_offers=False) for _ in range(2))
    assert len(one.placed) > 1
    assert all(np.array_equal(a.ring_mm, b.ring_mm) for a, b in zip(one.placed, other.placed, strict=True))


def test_a_piece_fits_into_a_cloth_hardly_larger():
    part = parts_of(make_band(300.0, 80.0))[0]
    cloth = Leftover(ring_of(box(13.0, -7.0, 13.0 + 312.0 + 0.3, -7.0 + 92.0 + 0.3)))
    lay = lay_on_leftover((part,), cloth, QUICK)
    assert lay.fits
    assert_sound(lay)


def test_pieces_fill_a_cloth_as_a_puzzle_does():
    part = parts_of(make_band(188.0, 88.0))[0]  # 200 x 100 mm with its allowances
    four = replace(part, count=4)
    cloth = Leftover(ring_of(box(0.0, 0.0, 402.0, 202.0)))
    lay = lay_on_leftover((four,), cloth, Rules(seconds=1.0, gap_mm=0.0), has_offers=False)
    assert lay.fits
    assert lay.used_share > 0.98


def test_a_mirror_image_is_never_made_by_turning():
    part = parts_of(make_front(120, 300, 90, 60))[0]
    lay = lay_on_leftover((part,), Leftover(ring_of(box(0, 0, 420, 420))), QUICK)
    assert lay.fits
    ways = [np.linalg.det(one.moved(np.eye(2)) - one.moved(np.zeros((1, 2)))) for one in lay.placed]
    assert sorted(np.round(ways)) == [-1.0, 1.0]


def test_a_hole_is_kept_clear_and_decides_the_answer():
    part = parts_of(make_leg(80, 230, 85, 45))[0]
    whole = ring_of(box(0, 0, 200, 320))
    hole = ring_of(box(80, 120, 120, 200))
    one = replace(part, count=1)
    assert lay_on_leftover((one,), Leftover(whole), QUICK).fits
    assert not lay_on_leftover((one,), Leftover(whole, (hole,)), QUICK, has_offers=False).fits


def test_splitting_the_band_is_offered_where_it_helps_and_then_fits():
    pieces = make_leg(80, 230, 85, 45), make_band(300, 50)
    parts = [p if p.name == "leg" else _as_band(p) for p in parts_of(*pieces)]
    cloth = Leftover(ring_of(box(0, 0, 372, 285 + 75)))
    assert lay_on_leftover(parts, cloth, QUICK).fits
    narrow = Leftover(ring_of(unary_union([box(0, 0, 180, 710), box(0, 0, 190, 150)])))
    lay = lay_on_leftover(parts, narrow, QUICK)
    assert not lay.fits
    assert [item.part.name for item in lay.missing] == ["waistband"]
    assert any('--split "waistband"' in offer.change for offer in lay.offers)
    split = split_parts(parts, ["waistband"])
    assert [part.count for part in split] == [2, 2]
    again = lay_on_leftover(split, narrow, QUICK)
    assert again.fits
    assert_sound(again)
    half = next(part for part in split if "half" in part.name)
    assert np.ptp(half.ring_mm[:, 1]) == pytest.approx(312 / 2 + half.seam_mm)


def test_tops_either_way_is_offered_where_it_helps():
    part = parts_of(make_front(150, 400, 120, 50))[0]
    two = replace(part, count=2, mirrored=0)
    wide = 2 * np.ptp(part.ring_mm[:, 1]) - 40
    cloth = Leftover(ring_of(box(0, 0, wide, np.ptp(part.ring_mm[:, 0]) + 8)))
    lay = lay_on_leftover((two,), cloth, Rules(seconds=0.5, is_one_way=True))
    assert not lay.fits
    assert any("--one-way" in offer.change for offer in lay.offers)
    assert lay_on_leftover((two,), cloth, Rules(seconds=0.5)).fits


def test_cloth_that_stretches_along_its_grain_has_pieces_across_it():
    part = parts_of(make_band(300, 80))[0]
    cloth = Leftover(ring_of(box(0, 0, 120, 340)), grain_deg=90.0)
    assert not lay_on_leftover((part,), cloth, QUICK, has_offers=False).fits
    assert lay_on_leftover((part,), cloth, Rules(seconds=0.2, stretch=Stretch.ALONG)).fits


def _as_band(part):
    return replace(part, is_band=True)


def test_a_leg_split_at_its_fold_has_a_seam_there():
    part = parts_of(make_leg())[0]
    (half,) = split_parts([part], ["leg"])
    assert (half.count, half.mirrored) == (4, 2)
    area = Polygon(make_leg().cut_ring_mm).area
    assert Polygon(half.ring_mm).area == pytest.approx(area + 611.0 * half.seam_mm, rel=1e-4)


def test_what_cannot_be_split_is_refused():
    with pytest.raises(LayError, match="collar"):
        split_parts(parts_of(make_leg()), ["collar"])
    with pytest.raises(LayError, match="neither"):
        split_parts(parts_of(make_front()), ["front"])


def test_a_margin_wider_than_the_cloth_is_refused():
    with pytest.raises(LayError, match="margin"):
        lay_on_leftover(parts_of(make_leg()), Leftover(ring_of(box(0, 0, 30, 30)), margin_mm=20.0), QUICK)


def test_a_shirts_hem_becomes_the_legs_hem():
    shirt = measured_shirt(480.0, 420.0, 3.0)
    lay = lay_on_leftover(parts_of(make_leg(80, 330, 85, 50)), shirt, QUICK)
    assert lay.fits
    (leg,) = lay.placed
    assert leg.item.gives == 2
    assert_sound(lay)
    on_hem = leg.ring_mm[np.abs(leg.ring_mm[:, 1]) < 1e-6]
    assert np.ptp(on_hem[:, 0]) == pytest.approx(2 * (50 + 6), abs=6)
    assert leg.ring_mm[:, 1].max() == pytest.approx(330 + 26, abs=1e-6)  # no hem allowance below


def test_a_turned_shirt_in_a_photo_is_cut_to_its_body_with_the_hem_level():
    body = box(0, 0, 400, 380)
    sleeves = Polygon([(-120, 260), (520, 260), (520, 330), (380, 480), (20, 480), (-120, 330)])
    ring = np.asarray(unary_union([body, sleeves]).exterior.coords)[:-1]
    dense = np.vstack([ring[i] + (ring[i - 1] - ring[i]) * np.linspace(1, 0, 60)[:, None] for i in range(len(ring))])
    a = np.radians(8.0)
    turned = dense @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]]) + [700.0, 300.0]
    seen = see_shirt(turned, (), (0.0, 1.0), 4.0)
    low, high = seen.cloth.ring_mm.min(axis=0), seen.cloth.ring_mm.max(axis=0)
    assert low == pytest.approx([0.0, 0.0], abs=0.2)
    assert high[0] == pytest.approx(400.0, abs=0.3)
    assert 235 < high[1] <= 260
    assert seen.frame.out_of(seen.cloth.hem_mm)[0] == pytest.approx(turned[np.argmin(turned[:, 1])], abs=40)
    start, end = find_hem(dense)
    assert (start[1], end[1]) == pytest.approx((0.0, 0.0), abs=0.1)


def test_without_a_hem_below_the_shirt_is_refused():
    with pytest.raises(LayError, match="hem"):
        find_hem(np.array([(0, -300), (10, -300), (150, 0), (-140, 0.0)]))

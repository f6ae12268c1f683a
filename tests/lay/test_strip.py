from itertools import combinations

import numpy as np
import pytest
from cloths import make_band, make_front, make_leg, parts_of
from shapely import Polygon, box

from outgrown.errors import LayError
from outgrown.lay.buying import round_up_yard_mm, write_to_buy
from outgrown.lay.cloth import Bolt, Rules, Stretch
from outgrown.lay.on_bolt import lay_on_bolt
from outgrown.lay.placing import list_items

QUICK = Rules(seconds=0.3)
LEGS = (make_leg(), make_band())


def signed_area(ring):
    x, y = ring.T
    return 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def assert_sound(lay, gap_mm=0.0):
    """Own check: nothing overlaps, nothing is outside."""
    shapes = [Polygon(one.ring_mm) for one in lay.placed]
    bolt = lay.cloth
    cloth = box(0, bolt.low_mm, lay.length_mm, bolt.high_mm).buffer(1e-3)
    assert all(cloth.covers(shape) for shape in shapes)
    for one, other in combinations(shapes, 2):
        assert one.distance(other) >= gap_mm - 0.01
        assert one.intersection(other).area < 1e-3


def test_single_layer_opens_halves_and_leaves_selvedges_free():
    lay = lay_on_bolt(parts_of(*LEGS), Bolt(1500.0), QUICK)
    assert_sound(lay, 3.0)
    assert len(lay.placed) == 3
    half = Polygon(LEGS[0].cut_ring_mm).area
    legs = [one for one in lay.placed if one.item.part.name == "leg"]
    assert [Polygon(one.ring_mm).area for one in legs] == pytest.approx([2 * half] * 2, rel=1e-6)
    assert min(one.ring_mm[:, 1].min() for one in lay.placed) >= 15.0 - 1e-3
    assert lay.bought_mm >= lay.length_mm - 0.5


def test_a_pair_is_one_piece_and_its_reflection_never_two_alike():
    lay = lay_on_bolt(parts_of(make_front(180, 500, 160, 80)), Bolt(800.0), QUICK)
    assert_sound(lay)
    piece = parts_of(make_front(180, 500, 160, 80))[0]
    ways = [np.sign(signed_area(one.moved(piece.ring_mm))) for one in lay.placed]
    assert sorted(ways) == [-1.0, 1.0]
    assert [one.is_mirrored for one in lay.placed].count(True) == 1


@pytest.mark.parametrize("is_one_way", [True, False])
def test_grain_runs_along_the_cloth_and_one_way_keeps_all_tops_alike(is_one_way):
    rules = Rules(seconds=0.3, is_one_way=is_one_way)
    for bolt in (Bolt(600.0), Bolt(1200.0, is_folded=True))[not is_one_way :]:
        lay = lay_on_bolt(parts_of(make_front(), make_leg(), make_band(300)), bolt, rules)
        assert_sound(lay)
        tops = [one.moved(np.array([[1.0, 0.0]]))[0] - one.moved(np.array([[0.0, 0.0]]))[0] for one in lay.placed]
        assert np.abs([top[1] for top in tops]).max() < 1e-9
        if is_one_way:
            assert all(top[0] > 0 for top in tops)


def test_cloth_that_stretches_along_its_length_turns_pieces_by_a_quarter():
    lay = lay_on_bolt(parts_of(make_leg(), make_band()), Bolt(1500.0), Rules(seconds=0.3, stretch=Stretch.ALONG))
    assert_sound(lay)
    assert {one.turn_deg % 180.0 for one in lay.placed} == {90.0}


def test_folded_cloth_has_fold_edges_exactly_on_its_fold():
    lay = lay_on_bolt(parts_of(make_leg(), make_front(160, 500), make_band(320)), Bolt(1400.0, True), QUICK)
    assert_sound(lay)
    halves = [one for one in lay.placed if one.item.on_fold]
    assert len(halves) == 2
    for one in halves:
        on_fold = np.abs(one.ring_mm[:, 1]) < 1e-6
        assert np.ptp(one.ring_mm[on_fold, 0]) == pytest.approx(560 + 25 + 26, abs=1e-6)
        assert one.ring_mm[:, 1].min() == pytest.approx(0.0, abs=1e-9)
    others = [one for one in lay.placed if not one.item.on_fold]
    assert sum(one.item.gives for one in others if one.item.part.name == "front") == 2
    assert min(one.ring_mm[:, 1].min() for one in others) >= 3.0 - 1e-6


def test_opening_folds_is_offered_where_it_saves_cloth_and_then_does():
    parts = parts_of(make_leg())
    lay = lay_on_bolt(parts, Bolt(1400.0, True), QUICK)
    assert len(lay.offers) == 1
    opened = lay_on_bolt(parts, Bolt(1400.0, True), QUICK, opens_folds=True)
    assert_sound(opened)
    assert opened.length_mm < 0.6 * lay.length_mm
    assert write_to_buy(opened.length_mm) in lay.offers[0].gain


def test_what_is_wider_than_the_cloth_is_refused():
    with pytest.raises(LayError, match="wide"):
        lay_on_bolt(parts_of(make_leg()), Bolt(300.0), QUICK)
    with pytest.raises(LayError, match="fold"):
        lay_on_bolt(parts_of(make_leg()), Bolt(1500.0, True), Rules(seconds=0.3, stretch=Stretch.ALONG))


@pytest.mark.parametrize("is_folded", [False, True])
def test_a_piece_as_wide_as_the_cloth_leaves_still_fits(is_folded):
    band = make_band(470.0, 80.0)  # 482 mm with its allowances
    wide = 482.0 + 30.0 if not is_folded else 2 * (482.0 + 15.0 + 3.0)
    lay = lay_on_bolt(parts_of(band), Bolt(wide + 0.2, is_folded), QUICK)
    assert_sound(lay)
    assert lay.length_mm == pytest.approx(92.0, abs=0.2)


def test_the_same_number_gives_the_same_lay():
    # Of our own search, which counts its work; the packing library stops by the clock.
    parts = parts_of(make_leg(), make_front(150, 420), make_band(300))
    one, other = (lay_on_bolt(parts, Bolt(1500.0, is_folded=True), QUICK) for _ in range(2))
    assert all(np.array_equal(a.ring_mm, b.ring_mm) for a, b in zip(one.placed, other.placed, strict=True))


def test_pairs_are_put_down_once_through_two_layers():
    items = list_items(parts_of(make_front()), Bolt(1500.0, True))
    assert [item.gives for item in items] == [2]
    assert items[0].mirrors == (False, True)


@pytest.mark.source("International yard and pound agreement, 1959: one yard is 0.9144 m")
def test_yards_are_sold_in_eighths():
    for length in (1.0, 100.0, 914.4, 915.0, 1500.0, 2743.2):
        bought = round_up_yard_mm(length)
        assert bought / 914.4 * 8 == pytest.approx(round(bought / 914.4 * 8))
        assert length - 0.5 <= bought < length + 914.4 / 8
    assert write_to_buy(914.4) == "1.00 m, or 1 yd"


def test_where_the_packing_library_gives_up_our_own_search_goes_on(monkeypatch):
    import spyrrow

    class PanicException(BaseException):
        pass

    class Broken:
        def __init__(self, *_):
            pass

        def solve(self, _):
            raise PanicException

    monkeypatch.setattr(spyrrow, "StripPackingInstance", Broken)
    lay = lay_on_bolt(parts_of(*LEGS), Bolt(1500.0), QUICK)
    assert_sound(lay)
    assert len(lay.placed) == 3

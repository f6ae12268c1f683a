"""How short lays are, how many pieces a leftover takes, whether any two ever overlap, how far a photo is off.

`python benchmarks/lay.py strips|leftovers|overlaps|photo [--cases N] [--seconds S]`. Every result is judged with
Shapely here, apart from the product's own check. Baselines run beside: the packing library alone with the same time,
and pieces thrown at random for twenty times the time.
"""

import argparse
import json
import sys
import tempfile
import time
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import shapely
import spyrrow
from shapely import Polygon, affinity

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent / "src"), str(HERE.parent / "fixtures"), str(HERE.parent / "tests")]

from cloths import any_cloth, any_part, make_band, make_front, make_leg, parts_of, star  # noqa: E402

from outgrown.arrays import frozen  # noqa: E402
from outgrown.lay.cloth import Bolt, Leftover, Rules, turned_matrix  # noqa: E402
from outgrown.lay.on_bolt import lay_on_bolt  # noqa: E402
from outgrown.lay.on_leftover import lay_on_leftover  # noqa: E402
from outgrown.lay.placing import list_items  # noqa: E402

SMALL = (make_leg(110, 360, 110, 60), make_band(360, 60))
KID = (make_leg(), make_band())
TEEN = (make_front(230, 760, 220, 110, name="front"), make_front(250, 770, 230, 115, name="back"), make_band(620, 90))


def joined(*sets):
    """Parts of several patterns, numbered through."""
    parts = [part for pieces in sets for part in parts_of(*pieces)]
    return tuple(replace(part, number=n + 1) for n, part in enumerate(parts))


STRIPS = (
    ("150 cm, one pair", joined(KID), Bolt(1500.0), Rules(), False),
    ("115 cm, two pairs", joined(KID, SMALL), Bolt(1150.0), Rules(), False),
    ("150 cm, three patterns", joined(KID, SMALL, TEEN), Bolt(1500.0), Rules(), False),
    ("140 cm, three, one way", joined(KID, SMALL, TEEN), Bolt(1400.0), Rules(is_one_way=True), False),
    ("150 cm folded, on the fold", joined(SMALL, TEEN), Bolt(1500.0, True), Rules(), False),
    ("160 cm folded, folds opened", joined(KID, SMALL, TEEN), Bolt(1600.0, True), Rules(), True),
)


def measure_strips(seconds: float) -> None:
    print(f"{'cloth':28} {'by area':>8} {'library':>8} {'ours':>8}  mm; time library, ours [s]")
    for name, parts, bolt, rules, opens in STRIPS:
        rules = replace(rules, seconds=seconds)
        started = time.perf_counter()
        lay = lay_on_bolt(parts, bolt, rules, opens_folds=opens)
        ours_s = time.perf_counter() - started
        judge(lay)
        items = list_items(parts, bolt, opens)
        started = time.perf_counter()
        alone = pack_alone(items, bolt, rules)
        alone_s = time.perf_counter() - started
        area = sum(Polygon(item.ring_mm).area for item in items) / (bolt.high_mm - bolt.low_mm)
        loose = " (fold not kept)" if any(item.on_fold for item in items) else ""
        print(f"{name:28} {area:8.0f} {alone:8.0f} {lay.length_mm:8.0f}  {alone_s:.1f}, {ours_s:.1f}{loose}")


def pack_alone(items, bolt: Bolt, rules: Rules) -> float:
    """Return the length the packing library needs alone; it cannot hold a fold edge on the fold."""
    given = []
    for n, item in enumerate(items):
        ring = item.ring_mm * [1.0, -1.0] if item.mirrors[0] else item.ring_mm
        given.append(spyrrow.Item(str(n), [tuple(map(float, p)) for p in ring], 1, list(rules.turns_deg())))
    low = rules.gap_mm if bolt.is_folded else bolt.low_mm
    instance = spyrrow.StripPackingInstance("alone", bolt.high_mm - low, given)
    config = spyrrow.StripPackingConfig(
        total_computation_time=round(rules.seconds), min_items_separation=rules.gap_mm, num_workers=1, seed=1
    )
    return float(instance.solve(config).width)


def judge(lay) -> float:
    """Return the largest overlap of any two pieces [mm²]; fail where one is outside the cloth."""
    cloth = lay.cloth
    if isinstance(cloth, Bolt):
        allowed = shapely.box(0, cloth.low_mm, 1e6, cloth.high_mm)
    else:
        allowed = Polygon(cloth.ring_mm).buffer(0)
        for hole in cloth.holes_mm:
            allowed = allowed.difference(Polygon(hole))
    shapes = [Polygon(one.ring_mm).buffer(0) for one in lay.placed]
    assert all(allowed.buffer(1e-3).covers(shape) for shape in shapes), "outside"
    return max((a.intersection(b).area for a, b in combinations(shapes, 2)), default=0.0)


def leftover_shapes():
    """Ten leftovers: with holes, cut out at a corner, blobs, the strips round a cut-out."""
    rng = np.random.default_rng(5)

    def ring(shape):
        return frozen(np.asarray(shape.exterior.coords)[:-1])

    box = shapely.box
    el = box(0, 0, 700, 260).union(box(0, 0, 260, 620))
    notch = box(0, 0, 620, 480).difference(box(220, 200, 400, 480))
    triangle = Polygon([(0, 0), (820, 0), (260, 560)])
    tee = box(0, 340, 760, 560).union(box(260, 0, 500, 360))
    trapeze = Polygon([(0, 0), (700, 60), (560, 480), (120, 520)])
    stairs = box(0, 0, 760, 190).union(box(0, 0, 520, 380)).union(box(0, 0, 260, 570))
    places = np.array([[210.0, 230.0], [480.0, 190.0], [300.0, 300.0]])
    holes = (frozen(star(rng, 55, 9, 0.7) + places[0]), frozen(star(rng, 45, 9, 0.7) + places[1]))
    one_hole = (frozen(star(rng, 80, 11, 0.8) + places[2]),)
    blobs = [Polygon(star(np.random.default_rng(seed), 420, 11, 0.62)) for seed in (11, 12, 13)]
    plain = [el, notch, triangle, tee, trapeze, stairs]
    names = ["L", "notch", "triangle", "T", "trapeze", "stairs", "blob", "blob 2", "blob with holes", "board with hole"]
    cloths = [Leftover(ring(shape), margin_mm=4.0) for shape in (*plain, *blobs[:2])]
    low = np.array(blobs[2].bounds[:2])
    third = Leftover(frozen(np.asarray(blobs[2].exterior.coords)[:-1] - low), holes, 4.0)
    return list(zip(names, [*cloths, third, Leftover(ring(box(0, 0, 600, 560)), one_hole, 4.0)], strict=True))


def many_parts():
    pieces = (
        make_front(90, 250, 85, 50),
        make_leg(62, 190, 62, 36),
        make_band(230, 50),
        make_front(60, 150, 60, 40, name="cap"),
    )
    return tuple(replace(part, count=4, mirrored=2 if part.mirrored else 0) for part in parts_of(*pieces))


def measure_leftovers(seconds: float) -> None:
    parts = many_parts()
    print(f"pieces wanted: {sum(p.count for p in parts)}; ours {seconds:g} s, random {20 * seconds:g} s")
    print(f"{'cloth':16} {'ours':>5} {'random':>7}   share of the cloth ours, random; time [s]")
    total = [0, 0]
    for name, cloth in leftover_shapes():
        rules = Rules(seconds=seconds)
        started = time.perf_counter()
        lay = lay_on_leftover(parts, cloth, rules, has_offers=False)
        spent = time.perf_counter() - started
        assert judge(lay) < 1e-3
        thrown = throw(list_items(parts, cloth), cloth, rules, 20 * seconds)
        area = cloth.area().area
        shares = lay.used_share, sum(s.area for s in thrown) / area
        total[0] += len(lay.placed)
        total[1] += len(thrown)
        print(
            f"{name:16} {len(lay.placed):5} {len(thrown):7}   {shares[0]:.2f}, {shares[1]:.2f}; {spent:.1f}", flush=True
        )
    print(f"{'all':16} {total[0]:5} {total[1]:7}")


def throw(items, cloth: Leftover, rules: Rules, seconds: float, tries: int = 60) -> list[Polygon]:
    """Return the most pieces laid by throwing each at random up to `tries` times, again and again."""
    rng = np.random.default_rng(9)
    area = cloth.area()
    shapely.prepare(area)
    low, high = np.reshape(area.bounds, (2, 2))
    ends = time.perf_counter() + seconds
    best: list[Polygon] = []
    while time.perf_counter() < ends:
        mine: list[Polygon] = []
        grown: list[Polygon] = []
        for number in rng.permutation(len(items)):
            item = items[number]
            for _ in range(tries):
                turn = rng.choice(rules.turns_deg()) + cloth.grain_deg
                ring = item.ring_mm @ turned_matrix(float(turn), bool(rng.choice(item.mirrors)))
                room = (low - ring.min(axis=0), high - ring.max(axis=0))
                if (room[0] > room[1]).any():
                    continue
                shape = affinity.translate(Polygon(ring), *rng.uniform(*room))
                if area.covers(shape) and not any(shape.intersects(other) for other in grown):
                    mine.append(shape)
                    grown.append(shape.buffer(rules.gap_mm))
                    break
        if (len(mine), sum(s.area for s in mine)) > (len(best), sum(s.area for s in best)):
            best = mine
    return best


def measure_overlaps(cases: int, seconds: float) -> None:
    worst, placed, wanted, folded = 0.0, 0, 0, 0
    started = time.perf_counter()
    for seed in range(cases):
        rng = np.random.default_rng([seed, 2024])
        parts = tuple(any_part(rng, n + 1, float(rng.uniform(40, 130))) for n in range(int(rng.integers(1, 5))))
        rules = Rules(
            float(rng.choice([0.0, 1.0, 3.0])), float(rng.choice([0.0, 0.0, 4.0])), bool(rng.random() < 0.3),
            seconds=seconds, seed=seed,
        )  # fmt: skip
        if seed % 4 == 3:
            halves = tuple(
                replace(p, half_mm=half_of(p), mirrored=0) if rng.random() < 0.6 else replace(p, count=2, mirrored=1)
                for p in parts
            )
            lay = lay_on_bolt(halves, Bolt(float(rng.uniform(700, 1500)), True), rules)
            folded += 1
        else:
            cloth = any_cloth(rng, float(rng.uniform(150, 450)))
            if cloth.area().is_empty:
                continue
            lay = lay_on_leftover(parts, cloth, rules, has_offers=False)
        worst = max(worst, judge(lay))
        placed += len(lay.placed)
        wanted += len(lay.placed) + len(lay.missing)
    spent = time.perf_counter() - started
    print(f"{cases} cases ({folded} folded), {placed} of {wanted} pieces placed, largest overlap {worst:.2e} mm²")
    print(f"{spent:.0f} s, {spent / cases:.2f} s a case")


def half_of(part):
    """The upper half of a part, its flat side on y = 0; the part need not be its double."""
    low, _, high, top = Polygon(part.ring_mm).bounds
    ring = np.array([(low, 0.0), (high, 0.0), (high, 0.6 * top), (0.5 * (low + high), top), (low, 0.4 * top)])
    return frozen(ring - [0.5 * (low + high), 0.0])


def measure_photo(out: Path | None) -> None:
    """A drawn photo of a leftover with holes: how far its outline and the pieces' places are off."""
    import scenes
    from cloths import make_pattern
    from ring_error import align_rigidly, measure_ring_error

    from outgrown import lay_steps, steps
    from outgrown.photo import read_photo

    folder = out or Path(tempfile.mkdtemp())
    rendered = scenes.render(scenes.standard_scene("leftover"))
    scenes.write_jpeg(rendered, folder / "leftover.jpg")
    scenes.write_truth(rendered, folder / "truth.json")
    truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    true_ring = np.asarray(truth["ring_mm"])
    traced = steps.trace_outline(read_photo(folder / "leftover.jpg"))
    pattern = replace(make_pattern(make_front(80, 230, 85, 45), make_band(220, 50)), cut_list=())
    laid = lay_steps.lay_on_photo([pattern], traced, Rules(), margin_mm=3.0, thickness_mm=2.0, grain=20.0)
    ring = laid.seen.frame.out_of(laid.seen.cloth.ring_mm)
    error = measure_ring_error(ring, true_ring)
    print(f"outline: median {np.median(error):.2f}, 95 % within {np.percentile(error, 95):.2f} mm", end="; ")
    print(f"expected {traced.expected_error_mm[0]:.2f}, {traced.expected_error_mm[1]:.2f} mm")
    cloth = Polygon(true_ring)
    for hole in truth.get("holes_mm", []):
        cloth = cloth.difference(Polygon(hole))
    print(f"holes: true {len(truth.get('holes_mm', []))}, found {len(traced.outline.holes_mm)}")
    fits = "fits" if laid.lay.fits else "does not fit"
    print(f"{fits}; {laid.seen.cloth.margin_mm:.1f} mm kept free")
    for one in laid.lay.placed:
        # The piece moves with the outline: the same rigid move that lays the measured ring on the true one.
        both = np.vstack([ring, laid.seen.frame.out_of(one.ring_mm)])
        moved = carried(ring, align_rigidly(ring, true_ring), both[len(ring) :])
        near = cloth.boundary.distance(Polygon(moved)) * (1 if cloth.covers(Polygon(moved)) else -1)
        print(f"  {one.item.part.label}: {near:.2f} mm inside the true edge")
    for name, content in lay_steps.draw_lay_on_photo(laid).items():
        (folder / name).write_bytes(content)
    print(f"drawn in {folder}")


def carried(ring, moved, points):
    """Return points carried by the rigid move that takes `ring` to `moved`."""
    a, b = ring - ring.mean(axis=0), moved - moved.mean(axis=0)
    turn = np.arctan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum())
    c, s = np.cos(turn), np.sin(turn)
    return (points - ring.mean(axis=0)) @ np.array([[c, s], [-s, c]]) + moved.mean(axis=0)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=["strips", "leftovers", "overlaps", "photo"])
    parser.add_argument("--cases", type=int, default=1000)
    parser.add_argument("--seconds", type=float, default=None)
    parser.add_argument("--out", type=Path, default=None, help="folder to keep the photo's drawings in")
    chosen = parser.parse_args()
    if chosen.what == "strips":
        measure_strips(chosen.seconds or 5.0)
    elif chosen.what == "leftovers":
        measure_leftovers(chosen.seconds or 1.0)
    elif chosen.what == "overlaps":
        measure_overlaps(chosen.cases, chosen.seconds or 0.05)
    else:
        measure_photo(chosen.out)


if __name__ == "__main__":
    main()

"""Measure whether unsure stretches are where the outline is wrong.

    PYTHONPATH=src python benchmarks/flags.py FOLDER [FOLDER ...]
    PYTHONPATH=src:fixtures python benchmarks/flags.py --drawn 30 [--fixtures]

FOLDER holds photos NAME.jpg with NAME.mask.png beside them, as for `benchmarks/segmentation.py`; --drawn takes so
many scenes drawn at random, reduced to 800 pixels; --fixtures the rendered photos of `fixtures/`. A place of the
outline is wrong where it lies more than 3 px from the true edge, grossly wrong beyond 6 px, in a photo of 400 px on its
shorter side; what runs along the photo's border or an unsure part of the mask is left out.

Prints, per picture and over each set, shares of the outline's length: how much is wrong, how much is flagged
(confidence below a half), how much of what is wrong or grossly wrong is flagged (recall), how much of what is flagged
is wrong (precision), and the same at other confidences. `missed` is the recall when true edge that is far from any
outline counts too, charged to the nearest wrong place. AUC is the chance that a wrong place has less confidence than a
right one. `told` says whether the person is warned.
"""

import argparse
import json
import time
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from scipy.spatial import KDTree
from segmentation import read_pair

from outgrown.errors import OutlineError
from outgrown.outline import Tracer
from outgrown.outline.confidence import UNSURE, find_unsure
from outgrown.photo import read_photo

WRONG_PX, GROSS_PX, BORDER_PX = 3.0, 6.0, 4.0
LEVELS = (0.8, 0.6, 0.5, 0.4, 0.3, 0.2)


@dataclass(frozen=True, eq=False)
class Judged:
    """One outline: per station its confidence, distance [px at 400], length [px] and missed edge [px] charged to it."""

    confidence: np.ndarray
    away: np.ndarray
    length: np.ndarray
    missed: np.ndarray


def judge(ring, confidence, mask):
    """Return a ring judged by a mask (255 garment, 128 unsure, 0 floor)."""
    scale, shape = 400 / min(mask.shape), np.array(mask.shape[::-1])
    garment = mask == 255
    unsure = cv2.dilate((mask == 128).astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    edge = garment & ~(cv2.erode(garment.astype(np.uint8), np.ones((3, 3), np.uint8), borderValue=1) > 0)
    to_edge = scale * cv2.distanceTransform((~edge).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    line = np.ones(mask.shape, np.uint8)
    cv2.polylines(line, [np.round(ring).astype(np.int32)], True, 0)
    to_ring = scale * cv2.distanceTransform(line, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    x, y = np.clip(np.round(ring).astype(int), 0, shape - 1).T
    border = BORDER_PX / scale
    valid = ~unsure[y, x] & (ring > border).all(1) & (ring < shape - 1 - border).all(1)
    away, missed = to_edge[y, x], np.zeros(len(ring))
    rows, columns = np.nonzero(edge & ~unsure & (to_ring > WRONG_PX))
    lost = np.column_stack([columns, rows])
    lost = lost[((lost > border) & (lost < shape - 1 - border)).all(1)]
    wrong = np.flatnonzero(valid & (away > WRONG_PX))
    if len(lost) and len(wrong):
        np.add.at(missed, wrong[KDTree(ring[wrong]).query(lost)[1]], scale)
    length = scale * np.hypot(*(np.roll(ring, -1, axis=0) - ring).T)
    return Judged(confidence[valid], away[valid], length[valid], missed[valid])


def pool(several):
    return Judged(*(np.concatenate([getattr(one, name) for one in several]) for name in Judged.__dataclass_fields__))


def share(part, whole):
    return 100 * float(part.sum()) / max(float(whole.sum()), 1e-9)


def measure_auc(judged, wrong):
    """Return the chance that a wrong place has less confidence than a right one, by length."""
    order = np.argsort(-judged.confidence, kind="stable")
    wrong, length = wrong[order], judged.length[order]
    right_before = np.cumsum(length * ~wrong)
    return float((length * wrong * right_before).sum() / max((length * wrong).sum() * (length * ~wrong).sum(), 1e-9))


def describe(judged, level=UNSURE):
    flagged, wrong, gross = judged.confidence < level, judged.away > WRONG_PX, judged.away > GROSS_PX
    length = judged.length
    text = f"wrong {share(length * wrong, length):5.1f} %  flagged {share(length * flagged, length):5.1f} %"
    if wrong.any():
        extra = length * wrong + judged.missed
        text += (
            f"  recall {share(length * wrong * flagged, length * wrong):3.0f} %"
            f"  missed {share(extra * flagged, extra):3.0f} %"
        )
    if gross.any():
        text += f"  gross {share(length * gross * flagged, length * gross):3.0f} %"
    if flagged.any():
        text += f"  precision {share(length * wrong * flagged, length * flagged):3.0f} %"
    return text


def read_folder(folder):
    for path in sorted(folder.glob("*.jpg")):
        if path.with_suffix("").with_suffix(".mask.png").exists():
            yield path.stem, *read_pair(path), []


def paint(ring, shape):
    mask = np.zeros(shape, np.uint8)
    cv2.fillPoly(mask, [np.round(np.asarray(ring) * 16).astype(np.int32)], 255, shift=4)
    return mask


def draw_scenes(count):
    import scenes

    for number in range(count):
        rendered = scenes.render(scenes.random_scene(number, width_px=1600, height_px=1200, cloth_per_mm=1.0))
        pixels, truth = rendered.pixels, rendered.truth
        size = (pixels.shape[1] // 2, pixels.shape[0] // 2)
        small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
        mask = cv2.resize(paint(truth.ring_px, pixels.shape[:2]), size, interpolation=cv2.INTER_AREA)
        rings = [np.asarray(one["corners_px"]) / 2 - 0.25 for one in truth.references if one["kind"] != "phone"]
        yield f"drawn {number}", small, np.where(mask > 127, 255, 0), rings


def read_fixtures():
    folder = Path(__file__).parent.parent / "fixtures"
    for path in sorted(folder.glob("*.jpg")):
        truth = json.loads(path.with_suffix(".truth.json").read_text())
        pixels = read_photo(path).pixels
        rings = [np.asarray(one["corners_px"]) for one in truth["references"] if one["kind"] != "phone"]
        yield path.stem, pixels, paint(truth["ring_px"], pixels.shape[:2]), rings


def measure(name, pictures):
    results, spent = [], []
    for title, pixels, mask, rings in pictures:
        try:
            tracer = Tracer(pixels, reference_rings_px=rings)
            contour = tracer.trace()
        except OutlineError as error:
            print(f"{title:16s} {error.problem}")
            continue
        begin = time.perf_counter()
        tracer._closer.measure_confidence(tracer.segment(), contour.ring_px)
        spent.append(time.perf_counter() - begin)
        results.append(judge(contour.ring_px, contour.confidence, mask))
        told = "  told" if find_unsure(contour.ring_px, contour.confidence) else ""
        print(f"{title:16s} {describe(results[-1])}{told}", flush=True)
    if not results:
        return
    whole = pool(results)
    wrong, gross = whole.away > WRONG_PX, whole.away > GROSS_PX
    flagged = [share(one.length * (one.confidence < UNSURE), one.length) for one in results]
    print(f"\n{name}: {len(results)} pictures, flagged in the median one {np.median(flagged):.1f} %, ", end="")
    print(f"{1000 * np.median(spent):.0f} ms each", end="")
    print(f", AUC {measure_auc(whole, wrong):.2f}, gross {measure_auc(whole, gross):.2f}" if wrong.any() else "")
    for level in LEVELS:
        print(f"  confidence below {level:.1f}: {describe(whole, level)}")
    print(flush=True)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("folders", type=Path, nargs="*", metavar="FOLDER")
    parser.add_argument("--drawn", type=int, default=0, metavar="N", help="so many scenes drawn at random")
    parser.add_argument("--fixtures", action="store_true", help="the rendered photos of fixtures/")
    options = parser.parse_args()
    cv2.setNumThreads(1)
    for folder in options.folders:
        measure(folder.name, read_folder(folder))
    if options.drawn:
        measure("drawn", draw_scenes(options.drawn))
    if options.fixtures:
        measure("fixtures", read_fixtures())


if __name__ == "__main__":
    main()

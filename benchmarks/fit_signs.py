"""Fit the tables of `outgrown.outline.confidence` anew, and say what they are worth on photos that were held out.

    PYTHONPATH=src:fixtures python benchmarks/fit_signs.py FOLDER [--composites 117] [--drawn 30]

FOLDER holds photos with masks as for `benchmarks/segmentation.py`. Rings are those found in them, in composites of them
(`composites.py`) and in scenes drawn at random, and for each up to three more, cut with another leaning or by grabCut.
A logistic fit of piecewise linear tables, none of which may turn back, says how likely a place is more than 3 px wrong.
Photos fall into four groups; each is judged by a fit that saw neither its garments nor its floors. Takes some ten
seconds a picture. The tables in use were fitted on other composites of the same kind.
"""

import argparse
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from composites import GROUPS, Composer
from flags import LEVELS, WRONG_PX, Judged, describe, draw_scenes, judge, measure_auc, pool
from scipy.ndimage import gaussian_filter1d
from scipy.optimize import minimize

from outgrown.errors import OutlineError
from outgrown.outline import Tracer
from outgrown.outline.band import LocalLooks, settle_mask
from outgrown.outline.confidence import EASE, TABLES, UNSURE_LOG_ODDS
from outgrown.outline.follow import trace_mask
from outgrown.outline.looks import to_lab
from outgrown.outline.masks import as_reals, keep_largest, measure_depth
from outgrown.outline.signs import measure_signs

FALLING = ("inside like cloth", "outside like floor", "hue", "clear")
"""Signs that speak for the ring where they are large."""
QUANTILES = (2, 15, 30, 50, 70, 85, 95, 99)
KNOTS = {"clear": (0.6, 0.8, 0.95)}
PHOTO_WEIGHT, OTHER_WEIGHT = 4.0, 0.5
UNCLEAR, UNCLEAR_WEIGHT = (2.0, 4.5), 0.3
"""Distances [px at 400] at which a mask drawn by hand is no sure judge."""
RIDGE, EVERY = 20.0, 5
EDGE_PX = 25


@dataclass(frozen=True, eq=False)
class Case:
    """One ring: its signs (N, k) and how it was judged, whether it was found so, and what it was held out with."""

    signs: np.ndarray
    judged: Judged
    found: bool
    kind: str
    groups: tuple[int, int]


def cut_otherwise(closer):
    """Yield (mask, log ratio) of other answers: more garment, less garment, and a grabCut of a wide band."""
    seen, bench = closer.segmentation, closer._bench
    garment = bench.patches.mean_of(seen.mask) > 0.5
    first = as_reals(np.where(garment, 2.0, -2.0))
    ratio = seen.log_ratio if seen.log_ratio.any() else bench.lesson.teach(garment)
    masks = []
    nothing = np.zeros(seen.mask.shape, np.int8)
    if ratio is not None:
        for leaning in (1.5, -1.5):
            cut = keep_largest(bench.lesson.cut(as_reals(ratio + leaning), first)[bench.patches.labels])
            masks.append((cut, True))
    depth = measure_depth(seen.mask)
    labels = np.where(depth < 0, cv2.GC_PR_FGD, cv2.GC_PR_BGD).astype(np.uint8)
    labels[depth < -EDGE_PX], labels[depth > EDGE_PX] = cv2.GC_FGD, cv2.GC_BGD
    if (labels == cv2.GC_FGD).any() and (labels == cv2.GC_BGD).any():
        small = cv2.resize(closer.cut, seen.mask.shape[::-1], interpolation=cv2.INTER_AREA)
        cv2.setRNGSeed(0)
        cv2.grabCut(small, labels, None, np.zeros((1, 65)), np.zeros((1, 65)), 3, cv2.GC_INIT_WITH_MASK)
        masks.append((keep_largest((labels & 1) > 0), False))
    for mask, settle in masks:
        overlap = (mask & seen.mask).sum() / max((mask | seen.mask).sum(), 1)
        if 0.3 < overlap < 0.985:
            if settle:
                mask = settle_mask(closer._looks, mask, ratio, seen.blocked, nothing)
            taught = bench.lesson.teach(bench.patches.mean_of(mask) > 0.5)
            yield mask, seen.log_ratio if taught is None else taught


def collect(kind, pixels, mask, rings, groups):
    """Return the cases of one picture."""
    tracer = Tracer(pixels, reference_rings_px=rings)
    try:
        found = tracer.trace().ring_px
    except OutlineError as error:
        print("   ", error)
        return []
    closer = tracer._closer
    seen = closer.segmentation
    looks = LocalLooks(to_lab(cv2.resize(closer.cut, seen.mask.shape[::-1], interpolation=cv2.INTER_AREA)))
    lines = [((found - np.array(seen.origin_px) + 0.5) / np.array(seen.step_px) - 0.5, seen.log_ratio, True)]
    for other, ratio in cut_otherwise(closer):
        traced = trace_mask(other)
        if traced is not None:
            lines.append((traced, ratio, False))
    cases = []
    for line, ratio, is_found in lines:
        stations, signs = measure_signs(looks, ratio, seen.blocked, line)
        values = np.column_stack([signs[name] for name in TABLES])
        places = seen.to_photo_px(stations)
        judged = judge(places, np.arange(len(places)), mask)
        if len(judged.away) > 20:
            cases.append(Case(values[judged.confidence], judged, is_found, kind, groups))
    return cases


def _ramps(values, knots):
    parts = [np.ones((len(values), 1))]
    for name, column in zip(TABLES, values.T, strict=True):
        sign = -1 if name in FALLING else 1
        at = np.sort(sign * np.array(knots[name]))
        parts.append(np.clip((sign * column[:, None] - at[:-1]) / np.diff(at), 0, 1))
    return np.concatenate(parts, axis=1)


def fit(cases):
    """Return knots and weights of the ramps."""
    values, away, weight = [], [], []
    for case in cases:
        length = case.judged.length
        values.append(case.signs)
        away.append(case.judged.away)
        share = (1.0 if case.found else OTHER_WEIGHT) * (PHOTO_WEIGHT if case.kind == "photos" else 1.0)
        weight.append(share * length / length.sum())
    values, away, weight = (np.concatenate(part)[::EVERY] for part in (values, away, weight))
    weight = np.where((away > UNCLEAR[0]) & (away < UNCLEAR[1]), UNCLEAR_WEIGHT * weight, weight)
    weight = weight / weight.mean()
    wrong = (away > WRONG_PX).astype(np.float64)
    knots = {
        name: KNOTS.get(name) or tuple(np.unique(np.round(np.percentile(column, QUANTILES), 3)))
        for name, column in zip(TABLES, values.T, strict=True)
    }
    ramps = _ramps(values, knots)

    def loss(weights):
        odds = ramps @ weights
        off = weight * (1 / (1 + np.exp(-odds)) - wrong)
        pull = np.concatenate([[0.0], RIDGE * weights[1:]])
        total = float((weight * (np.logaddexp(0, odds) - wrong * odds)).sum() + 0.5 * (pull * weights).sum())
        return total, ramps.T @ off + pull

    begin = np.concatenate([[-2.0], np.zeros(ramps.shape[1] - 1)])
    bounds = [(None, None)] + [(0, None)] * (ramps.shape[1] - 1)
    found = minimize(loss, begin, jac=True, method="L-BFGS-B", bounds=bounds, options={"maxiter": 300})
    return knots, found.x


def judge_by(case, fitted):
    """Return the case's places with the confidence that a fit gives them."""
    knots, weights = fitted
    odds = gaussian_filter1d(_ramps(case.signs, knots) @ weights, EASE, mode="wrap")
    confidence = 1 / (1 + np.exp(odds - UNSURE_LOG_ODDS))
    return Judged(confidence, case.judged.away, case.judged.length, case.judged.missed)


def print_tables(knots, weights):
    print(f"LOG_ODDS = {weights[0]:.2f}")
    first = 1
    for name in TABLES:
        at, falls = np.sort(np.array(knots[name])), name in FALLING
        steps = weights[first : first + len(at) - 1]
        first += len(at) - 1
        added = np.concatenate([[0.0], np.cumsum(steps)])
        added = added[::-1] if falls else added
        print(f"{name!r}: ({tuple(np.round(at, 3).tolist())}, {tuple(np.round(added, 2).tolist())}),")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--composites", type=int, default=117)
    parser.add_argument("--drawn", type=int, default=30)
    options = parser.parse_args()
    cv2.setNumThreads(1)
    composer = Composer(options.folder)
    cases = []
    for name, (photo, mask) in composer.pairs.items():
        cases += collect("photos", photo, mask, [], (composer.group[name], composer.group[name]))
    for number in range(options.composites):
        photo, mask, garment, floor = composer.make(number)
        cases += collect("composites", photo, mask, [], (composer.group[garment], composer.group[floor]))
    for number, (_, photo, mask, rings) in enumerate(draw_scenes(options.drawn)):
        cases += collect("drawn", photo, mask, rings, (number % GROUPS, number % GROUPS))
    held = {}
    for group in range(GROUPS):
        fitted = fit([case for case in cases if group not in case.groups])
        for case in cases:
            if case.groups == (group, group) and case.found:
                held.setdefault(case.kind, []).append(judge_by(case, fitted))
    for kind, several in held.items():
        whole = pool(several)
        auc = measure_auc(whole, whole.away > WRONG_PX) if (whole.away > WRONG_PX).any() else float("nan")
        print(f"\n{kind}, held out: {len(several)} pictures, AUC {auc:.2f}")
        for level in LEVELS:
            print(f"  confidence below {level:.1f}: {describe(whole, level)}")
    print(f"\nfitted on all {len(cases)} rings")
    print_tables(*fit(cases))


if __name__ == "__main__":
    main()

"""Score the segmentation against hand-made masks.

    python benchmarks/segmentation.py FOLDER [--hints N] [--composites N] [--no-baseline]
        [--masks-out DIR] [--sheet PNG]

FOLDER holds photos NAME.jpg with NAME.mask.png beside them (255 garment, 0 floor, 128 unsure: left out of the
score). Prints, per photo and over all, the intersection over union and the boundary error in pixels of a photo
reduced to 400 px on its shorter side (both ways: found edge to true edge and back), and the same for a plain
grabCut seeded by the photo's border. A garment that runs out of the photo is scored, not refused.

With --hints N, up to N hints follow, each placed by a fixed rule: at the middle (the pixel deepest inside) of the
largest region that is wrong. Told besides: how long a hint took, and how many pixels it changed elsewhere than in
and within 5 px (at 400 px) of that region, as a share of the garment.

With --composites N, N composites of the photos made to mislead (`composites.py`) are scored instead of these.
"""

import argparse
import time
from pathlib import Path

import cv2
import numpy as np

from outgrown.errors import OutlineError
from outgrown.outline import Tracer, make_hints

EMPTY = np.zeros((1, 65))


def read_pair(path):
    photo = cv2.cvtColor(cv2.imread(str(path)), cv2.COLOR_BGR2RGB)
    mask = cv2.imread(str(path.with_suffix("")) + ".mask.png", cv2.IMREAD_GRAYSCALE)
    return photo, mask


def cut_plainly(photo):
    """Return the mask of a grabCut that is told only that the border (3 %) is floor."""
    height, width = photo.shape[:2]
    band = max(2, round(0.03 * min(height, width)))
    labels = np.full((height, width), cv2.GC_BGD, np.uint8)
    labels[band:-band, band:-band] = cv2.GC_PR_FGD
    cv2.setRNGSeed(0)
    cv2.grabCut(photo, labels, None, EMPTY.copy(), EMPTY.copy(), 5, cv2.GC_INIT_WITH_MASK)
    return (labels & 1) > 0


def paint_contour(contour, shape):
    """Return the mask of a contour: a pixel belongs when its centre lies inside."""
    fine = 4
    mask = np.zeros((shape[0] * fine, shape[1] * fine), np.uint8)
    for value, rings in ((1, [contour.ring_px]), (0, contour.holes_px)):
        for ring in rings:
            at = (ring + 0.5) * fine - 0.5
            cv2.fillPoly(mask, [np.round(at * 16).astype(np.int32)], value, shift=4)
    return cv2.resize(mask * 255, (shape[1], shape[0]), interpolation=cv2.INTER_AREA) >= 128


def trace_mask(tracer, photo, hints=None):
    """Return the mask of the contour that `tracer` finds."""
    try:
        return paint_contour(tracer.trace(hints), photo.shape[:2])
    except OutlineError as error:
        print("   ", error)
        return np.zeros(photo.shape[:2], bool)


def find_largest_wrong(found, mask):
    """Return the largest wrong region, and its middle (x, y); or None."""
    wrong = (found != (mask == 255)) & (mask != 128)
    count, pieces, stats, _ = cv2.connectedComponentsWithStats(wrong.astype(np.uint8), connectivity=4)
    if count < 2:
        return None
    region = pieces == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    depth = cv2.distanceTransform(np.pad(region.astype(np.uint8), 1), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)[1:-1, 1:-1]
    y, x = np.unravel_index(int(np.argmax(depth)), depth.shape)
    return region, (float(x), float(y))


def give_hints(tracer, photo, mask, found, most):
    """Yield the mask after each hint, how long it took and the share it changed elsewhere."""
    garment, floor = [], []
    reach = max(1, round(5 * min(mask.shape) / 400))
    for _ in range(most):
        largest = find_largest_wrong(found, mask)
        if largest is None:
            return
        region, (x, y) = largest
        (garment if mask[int(y), int(x)] == 255 else floor).append((x, y))
        begin = time.perf_counter()
        after = trace_mask(tracer, photo, make_hints(garment, floor))
        spent = time.perf_counter() - begin
        near = cv2.dilate(region.astype(np.uint8), np.ones((2 * reach + 1, 2 * reach + 1), np.uint8)) > 0
        yield after, spent, ((after != found) & ~near).sum() / max(1, (mask == 255).sum())
        found = after


def measure_iou(found, mask):
    sure = mask != 128
    truth = mask == 255
    return (found & truth & sure).sum() / max(1, ((found | truth) & sure).sum())


def _edge(mask):
    """Return the pixels of `mask` beside its outside, those at the photo's border left out."""
    inner = cv2.erode(mask.astype(np.uint8), np.ones((3, 3), np.uint8), borderValue=1) > 0
    edge = mask & ~inner
    edge[[0, -1]] = edge[:, [0, -1]] = False
    return edge


def measure_boundary(found, mask):
    """Return distances between the two edges, both ways [px at 400 px]."""
    scale = 400 / min(mask.shape)
    unsure = cv2.dilate((mask == 128).astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    truth_edge, found_edge = _edge(mask == 255), _edge(found & ~(mask == 128))
    if not found_edge.any():
        return np.full(10, 400.0)
    to_truth = cv2.distanceTransform((~truth_edge).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    to_found = cv2.distanceTransform((~found_edge).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return scale * np.concatenate([to_truth[found_edge & ~unsure], to_found[truth_edge & ~unsure]])


def draw_photo(photo, mask, found, title):
    """Return one cell of the contact sheet: true edge green, found edge red, wrong areas tinted."""
    scale = 400 / max(photo.shape[:2])
    cell = np.zeros((400, 400, 3), np.uint8)
    picture = cv2.resize(photo, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    size = (picture.shape[1], picture.shape[0])
    truth = cv2.resize((mask == 255).astype(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    ours = cv2.resize(found.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    for wrong, colour in (((ours > truth), (255, 0, 255)), ((ours < truth), (0, 255, 255))):
        picture[wrong] = (0.4 * picture[wrong] + 0.6 * np.array(colour)).astype(np.uint8)
    for area, colour in ((truth, (0, 255, 0)), (ours, (255, 0, 0))):
        rings, _ = cv2.findContours(area, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
        cv2.drawContours(picture, rings, -1, colour, 1)
    cell[: picture.shape[0], : picture.shape[1]] = picture
    cv2.putText(cell, title, (4, 394), cv2.FONT_HERSHEY_SIMPLEX, 0.45, (255, 255, 0), 1, cv2.LINE_AA)
    return cell


def write_sheet(path, cells, columns=5):
    while len(cells) % columns:
        cells.append(np.zeros_like(cells[0]))
    rows = [np.hstack(cells[at : at + columns]) for at in range(0, len(cells), columns)]
    cv2.imwrite(str(path), cv2.cvtColor(np.vstack(rows), cv2.COLOR_RGB2BGR))


def describe(iou, boundary):
    p95 = np.percentile(boundary, 95)
    return f"IoU {iou:.4f}  edge median {np.median(boundary):5.2f}  p95 {p95:6.2f}  worst {boundary.max():6.1f} px"


def list_pictures(options):
    """Yield name, photo and mask of what is to be scored."""
    if options.composites:
        from composites import Composer

        composer = Composer(options.folder)
        for number in range(options.composites):
            photo, mask, *_ = composer.make(number)
            yield f"composite-{number}", photo, mask
        return
    for path in sorted(options.folder.glob("*.jpg")):
        if path.with_suffix("").with_suffix(".mask.png").exists():
            yield path.stem, *read_pair(path)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--masks-out", type=Path, help="write NAME.png, 255 garment, 0 floor")
    parser.add_argument("--sheet", type=Path, help="write a contact sheet (PNG)")
    parser.add_argument("--hints", type=int, default=0, metavar="N", help="give up to N hints by a fixed rule")
    parser.add_argument("--composites", type=int, default=0, metavar="N", help="score N composites instead")
    parser.add_argument("--no-baseline", action="store_true", help="leave the plain grabCut out")
    options = parser.parse_args()
    cv2.setNumThreads(2)
    runs = ["outgrown", *(f"{count + 1} hints" for count in range(options.hints))]
    runs += [] if options.no_baseline else ["grabCut"]
    ious = {name: [] for name in runs}
    edges = {name: [] for name in runs}
    strayed = {name: [] for name in runs}
    cells = []
    for picture, photo, mask in list_pictures(options):
        tracer = Tracer(photo)
        results = []
        begin = time.perf_counter()
        found = trace_mask(tracer, photo)
        results.append(("outgrown", found, time.perf_counter() - begin, 0.0))
        hinted = list(give_hints(tracer, photo, mask, found, options.hints))
        results += [(f"{count + 1} hints", *one) for count, one in enumerate(hinted)]
        if not options.no_baseline:
            begin = time.perf_counter()
            results.append(("grabCut", cut_plainly(photo), time.perf_counter() - begin, 0.0))
        for name, found, spent, elsewhere in results:
            iou, boundary = measure_iou(found, mask), measure_boundary(found, mask)
            ious[name].append(iou)
            edges[name].append(boundary)
            if results[0][1].any():  # where nothing was found at first, all of it is new
                strayed[name].append(elsewhere)
            told = f"  elsewhere {elsewhere:.4f}" if name.endswith("hints") else ""
            print(f"{picture:16s} {name:9s} {describe(iou, boundary)}  {spent:5.2f} s{told}", flush=True)
            if name != "grabCut":
                cells.append(draw_photo(photo, mask, found, f"{picture} {name} {iou:.4f}"))
            if options.masks_out and name == "outgrown":
                options.masks_out.mkdir(parents=True, exist_ok=True)
                cv2.imwrite(str(options.masks_out / f"{picture}.png"), found.astype(np.uint8) * 255)
    for name in runs:
        if not ious[name]:
            print("no photo with a mask in", options.folder)
            return
        values, pooled = np.array(ious[name]), np.concatenate(edges[name])
        stray = strayed[name] if name.endswith("hints") else []
        print(
            f"{name:9s} of {len(values)}: IoU median {np.median(values):.4f}  mean {values.mean():.4f}  "
            f"worst {values.min():.4f}  >= 0.95: {(values >= 0.95).sum()}   edge median {np.median(pooled):.2f}  "
            f"p95 {np.percentile(pooled, 95):.2f}  worst {pooled.max():.1f} px at 400 px"
            + (f"  elsewhere mean {np.mean(stray):.4f}  most {max(stray):.4f}" if stray else "")
        )
    if options.sheet:
        write_sheet(options.sheet, cells)


if __name__ == "__main__":
    main()

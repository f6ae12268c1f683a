"""Measure the outline's error on drawn floors, by floor and fabric.

    PYTHONPATH=src:fixtures python benchmarks/floors.py

Draws one pair of leggings beside a card on each floor in each cloth (1600 x 1200 pixels, about 0.7 mm a pixel) and
prints, as a table in Markdown, the 95th percentile of the distance from the true edge [mm], and in brackets the mean,
outwards positive.
"""

import argparse

import cv2
import numpy as np
import scenes

from outgrown.errors import OutlineError
from outgrown.outline import find_contour

WIDTH, HEIGHT = 1600, 1200
FLOORS = ("table", "boards", "parquet", "tiles", "carpet", "sheet", "rug")
FABRICS = {
    "plain blue": scenes.Fabric((44, 78, 112)),
    "flowers": scenes.Fabric((150, 60, 40), "flowers", ((226, 190, 120), (60, 40, 90)), 34.0),
    "stripes": scenes.Fabric((92, 92, 96), "stripes", ((205, 205, 200),), 16.0, 0.9),
}
CARD = scenes.Thing("id-1", (170.0, -60.0), 84.0, "chip", (196, 84, 60), (240, 180, 96))


def draw(floor, fabric):
    shot = scenes.Shot(
        WIDTH, HEIGHT, 26.0, height_mm=800.0, tilt_deg=4.0, lean_deg=70.0, roll_deg=92.0, look_at_mm=(30.0, 0.0)
    )
    shape = scenes.garments.rippled(scenes.garments.leggings_folded(1040.0, waist_slope_mm=8.0), 0.2, seed=1)
    lying = scenes.Floor(floor, seed=1, turn_deg=20.0)
    return scenes.render(
        scenes.Scene(shot, shape, fabric=fabric, things=(CARD,), floor=lying, seed=1, cloth_per_mm=2.0)
    )


def measure(rendered):
    """Return distances outwards from the true edge [mm]."""
    truth = rendered.truth
    rings = [np.asarray(one["corners_px"]) for one in truth.references]
    found = find_contour(rendered.pixels, reference_rings_px=rings).ring_px
    ring = truth.ring_px.astype(np.float32)[:, None]
    mm = np.sqrt(cv2.contourArea(truth.shape.ring_mm.astype(np.float32)) / cv2.contourArea(ring))
    return mm * np.array([-cv2.pointPolygonTest(ring, (float(x), float(y)), True) for x, y in found])


def main():
    argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter).parse_args()
    cv2.setNumThreads(2)
    print("| floor | " + " | ".join(FABRICS) + " |\n|---|" + "---|" * len(FABRICS), flush=True)
    for floor in FLOORS:
        cells = []
        for fabric in FABRICS.values():
            try:
                away = measure(draw(floor, fabric))
                cells.append(f"{np.percentile(np.abs(away), 95):.1f} ({away.mean():+.2f})")
            except OutlineError as error:
                cells.append(error.problem)
        print(f"| {floor} | " + " | ".join(cells) + " |", flush=True)


if __name__ == "__main__":
    main()

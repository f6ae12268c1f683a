"""Measure the outline's error on drawn floors, by floor and fabric.

    PYTHONPATH=src:fixtures python benchmarks/floors.py
    PYTHONPATH=src:fixtures python benchmarks/floors.py --floor

Draws one pair of leggings beside a card on each floor in each cloth (1600 x 1200 pixels, about 0.7 mm a pixel) and
prints, as a table in Markdown, the 95th percentile of the distance from the true edge [mm], and in brackets the mean,
outwards positive. With --floor a second photo of the empty floor is given, from another place and in other light.
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


FROM = {"height_mm": 800.0, "tilt_deg": 4.0, "lean_deg": 70.0, "roll_deg": 92.0, "look_at_mm": (30.0, 0.0)}
LATER = {"height_mm": 840.0, "tilt_deg": 6.0, "lean_deg": 40.0, "roll_deg": 89.0, "look_at_mm": (15.0, 12.0)}


def draw(floor, fabric, bare=False):
    shot = scenes.Shot(WIDTH, HEIGHT, 26.0, **(LATER if bare else FROM))
    light = {"white": (1.05, 1.0, 0.95), "gradient": 0.35} if bare else {}
    shape = (
        None
        if bare
        else scenes.garments.rippled(scenes.garments.leggings_folded(1040.0, waist_slope_mm=8.0), 0.2, seed=1)
    )
    lying = scenes.Floor(floor, seed=1, turn_deg=20.0)
    return scenes.render(
        scenes.Scene(shot, shape, fabric=fabric, things=(CARD,), floor=lying, seed=1, cloth_per_mm=2.0, **light)
    )


def measure(rendered, floor_pixels=None):
    """Return distances outwards from the true edge [mm]."""
    truth = rendered.truth
    rings = [np.asarray(one["corners_px"]) for one in truth.references]
    found = find_contour(rendered.pixels, reference_rings_px=rings, floor_pixels=floor_pixels).ring_px
    ring = truth.ring_px.astype(np.float32)[:, None]
    mm = np.sqrt(cv2.contourArea(truth.shape.ring_mm.astype(np.float32)) / cv2.contourArea(ring))
    return mm * np.array([-cv2.pointPolygonTest(ring, (float(x), float(y)), True) for x, y in found])


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--floor", action="store_true", help="with a photo of the empty floor")
    with_floor = parser.parse_args().floor
    cv2.setNumThreads(2)
    print("| floor | " + " | ".join(FABRICS) + " |\n|---|" + "---|" * len(FABRICS), flush=True)
    for floor in FLOORS:
        cells = []
        bare = draw(floor, FABRICS["plain blue"], bare=True).pixels if with_floor else None
        for fabric in FABRICS.values():
            try:
                away = measure(draw(floor, fabric), bare)
                cells.append(f"{np.percentile(np.abs(away), 95):.1f} ({away.mean():+.2f})")
            except OutlineError as error:
                cells.append(error.problem)
        print(f"| {floor} | " + " | ".join(cells) + " |", flush=True)


if __name__ == "__main__":
    main()

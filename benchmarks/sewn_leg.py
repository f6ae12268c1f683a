"""A leg with different rises is 'sewn', folded both ways, seen and recovered: how near is the pattern to the first?

    python benchmarks/sewn_leg.py rings [--cases 10]
    python benchmarks/sewn_leg.py photos [--set "one sheet"] [--seed 0]

`rings` gives the reader rippled rings of the folded leg (1 mm at most, with noise of 0.4 mm), `photos` draws and traces
photos of them. The seam line's error is the distance from the true one after the best rigid move, never scaled; girths
are compared at a tenth, three, five, seven and nine tenths of the inseam's height.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import click
import numpy as np
from ring_error import measure_ring_error

ROOT = Path(__file__).resolve().parents[1]
sys.path += [str(ROOT / "tests"), str(ROOT / "fixtures")]
CORNERS = ("waist-side", "hem-outer", "hem-inner", "crotch", "waist-centre")
SHARES = (0.1, 0.3, 0.5, 0.7, 0.9)


def compare(pattern, front, back) -> dict[str, float]:
    """Return the errors of a joined leg: seam line p95 and worst [mm], girths [%], rises [mm]."""
    from pieces.test_front_and_back import girth, seam_ring, true_ring

    from outgrown.garment.garment import EdgeName
    from outgrown.geometry.polylines import length_mm

    piece, truth = pattern.pieces[0], true_ring(front, back)
    ring = seam_ring(piece)
    error = measure_ring_error(ring, truth)
    crotch = min(front.inseam_height, back.inseam_height)
    girths = [100.0 * (girth(ring, crotch * s) / girth(truth, crotch * s) - 1.0) for s in SHARES]
    rises = {edge.part: length_mm(edge.points_mm) for edge in piece.edges if edge.name is EdgeName.RISE}
    return {
        "p95": float(np.percentile(error, 95)),
        "worst": float(error.max()),
        "girth": float(np.abs(girths).max()),
        "front rise": rises["front"] - length_mm(front.edges()["rise"]),
        "back rise": rises["back"] - length_mm(back.edges()["rise"]),
    }


def pairs():
    """Return the pairs by name, their inseams equally long."""
    from pieces.test_front_and_back import PAIRS, matching_back

    return {name: (front, matching_back(front, back)) for name, (front, back) in PAIRS.items()}


def as_shape(leg):
    """Return the folded leg as a garment to photograph."""
    from scenes.garments import Shape

    edges, corners, at = leg.edges(), {}, 0
    for corner, line in zip(CORNERS, edges.values(), strict=True):
        corners[corner] = at
        at += len(line) - 1
    names = tuple((name, CORNERS[i], CORNERS[(i + 1) % 5]) for i, name in enumerate(edges))
    return Shape("leggings-folded", leg.ring(), corners=corners, edges=names)


@click.group()
def main() -> None:
    """Print tables."""


@main.command()
@click.option("--cases", default=10, show_default=True)
def rings(cases: int) -> None:
    """Recover the leg from rippled rings."""
    from pieces.test_front_and_back import read
    from shapes import Shot

    from outgrown.pieces.choices import Choices
    from outgrown.pieces.drafting import draft_pattern

    print(f"{'':18} p95 median / most  worst  girth median / p95 / most %  rises median / most")
    for name, (front, back) in pairs().items():
        rows = []
        for seed in range(cases):
            rng = np.random.default_rng(seed)
            shots = [
                Shot(rng.uniform(0, 360), (80.0, -40.0), side, 0.4, 1.0, 2 * seed + 11 + side, 1.0)
                for side in (False, True)
            ]
            pattern = draft_pattern(read(front, shots[0]), Choices(), back=read(back, shots[1]))
            rows.append(compare(pattern, front, back))
        p95, worst, girth = (np.array([row[key] for row in rows]) for key in ("p95", "worst", "girth"))
        rise = np.abs([[row["front rise"], row["back rise"]] for row in rows])
        print(
            f"{name:18} {np.median(p95):4.2f} / {p95.max():4.2f}  {worst.max():5.2f}  "
            f"{np.median(girth):4.2f} / {np.percentile(girth, 95):4.2f} / {girth.max():4.2f}  "
            f"{np.median(rise):4.2f} / {rise.max():4.2f}"
        )


@main.command()
@click.option("--set", "references", default="one sheet", show_default=True)
@click.option("--seed", default=0, show_default=True)
@click.option("--pair", "only", default=None, help="One pair alone.")
def photos(references: str, seed: int, only: str | None) -> None:
    """Recover the leg from drawn photos of it, folded with the fronts out and with the backs out."""
    import cv2
    import scenes
    from accuracy import lay_out
    from scenes.garments import rippled

    from outgrown import steps
    from outgrown.errors import OutgrownError
    from outgrown.garment.garment import Laid
    from outgrown.garment.taking import Taken
    from outgrown.photo import read_photo
    from outgrown.pieces.choices import Choices

    cv2.setNumThreads(1)
    for number, (name, halves) in enumerate(pairs().items()):
        if only not in (None, name):
            continue
        seen = []
        try:
            for side, leg in enumerate(halves):
                place = 100 * seed + 10 * number + side
                shape = rippled(as_shape(leg), 0.25, seed=place)
                scene = lay_out(references, place, 0.0, 8.0, None, shape)
                with tempfile.TemporaryDirectory() as folder:
                    path = Path(folder) / "photo.jpg"
                    scenes.write_jpeg(scenes.render(scene), path)
                    traced = steps.trace_outline(read_photo(path), thickness_mm=scene.fabric.thickness_mm)
                taken = Taken("leggings", Laid.FOLDED, True, True)
                seen.append((traced, steps.read_traced_garment(traced, taken)))
            found = compare(steps.draft(*seen[0], Choices(), seen[1]), *halves)
        except OutgrownError as error:
            print(f"{name:18} refused: {error}", flush=True)
            continue
        print(
            f"{name:18} p95 {found['p95']:4.2f}  worst {found['worst']:4.2f}  girth {found['girth']:4.2f} %  rises "
            f"{found['front rise']:+5.2f} {found['back rise']:+5.2f} mm  stated p95 "
            f"{seen[0][0].expected_error_mm[1]:.2f} {seen[1][0].expected_error_mm[1]:.2f}",
            flush=True,
        )


if __name__ == "__main__":
    main()

"""How exact the outline is: references x distance x tilt, on invented cameras and on drawn photos.

    python benchmarks/accuracy.py geometric [--cases 40]
    python benchmarks/accuracy.py photos [--cases 6] [--jobs 2] [--set NAME ...] [--k1 0.05] [--lens FILE] [--no-lines]
    python benchmarks/accuracy.py lens --k1 0.05 FILE

Errors are millimetres on the garment after the best rigid move, never scaled. A photo's error is the 95th percentile
along its outline; the table gives the median over photos of the median, p95 and worst point, the worst photo's p95,
and in how many photos the stated p95 was not exceeded.
"""

from __future__ import annotations

import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path

import click
import numpy as np
from invented import CARD, CENTRE, FOCAL_PX, FOUR, RING, SHEET, TWO, error_mm, invent_camera, see
from ring_error import measure_ring_error

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "fixtures"))

SETS = {
    "one card": (("id-1", "right", 0.0),),
    "one sheet": (("a4", "right", 0.0),),
    "two cards": (("id-1", "right", 0.9), ("id-1", "left", -0.9)),
    "four cards": (("id-1", "right", 0.9), ("id-1", "right", -0.9), ("id-1", "left", 0.9), ("id-1", "left", -0.9)),
    "four targets": tuple(
        (f"target-square-{letter}", side, at)
        for letter, side, at in zip("abcd", ("right", "right", "left", "left"), (0.9, -0.9, 0.9, -0.9), strict=True)
    ),
}
FLOORS = ("boards", "tiles", "carpet", "concrete", "parquet", "sheet")


def lay_out(name: str, seed: int, k1: float, tilt_deg: float, floor: str | None, shape=None):
    """Return a scene: `shape`, or a leg of about 1 m, with the references of set `name` round it, in the picture."""
    import scenes
    from scenes import garments
    from scenes.things import Thing

    rng = np.random.default_rng([seed, 99])
    shape = shape or garments.rippled(garments.leggings_folded(1560.0), 0.25, seed=seed)
    scene = scenes.random_scene(
        seed,
        garment="leggings-folded",
        references=tuple("id-1" for _ in SETS[name]),
        floor_kind=floor or FLOORS[seed % len(FLOORS)],
        tilt_deg=tilt_deg,
        k1=k1,
        decoy=False,
    )
    half = np.ptp(shape.ring_mm, axis=0) / 2
    things = []
    for number, (kind, side, at) in enumerate(SETS[name]):
        base = scene.things[number]
        wide = {"id-1": 50.0, "a4": 150.0}.get(kind, 60.0)
        x = (half[0] + wide + 25) * (1 if side == "right" else -1)
        turn = float(rng.normal(90 if kind == "a4" else 0, 8))
        if kind == "id-1":
            things.append(replace(base, at_mm=(x, at * half[1]), turn_deg=turn))
        else:
            things.append(Thing(kind, (x, at * half[1]), turn, seed=seed))
    scene = replace(scene, shape=shape, at_mm=(0.0, 0.0), turn_deg=0.0, things=tuple(things))
    corners = np.concatenate(
        [shape.placed((0, 0), 0, scene.mirrored).ring_mm, *(thing.corners_mm() for thing in things)]
    )
    middle = (corners.min(0) + corners.max(0)) / 2
    shot = replace(scene.shot, look_at_mm=(float(middle[0]), float(middle[1])))
    border = np.array([shot.width_px, shot.height_px]) * 0.04
    for height in np.arange(700, 3000, 30.0):
        shot = replace(shot, height_mm=float(height))
        px = shot.to_px(corners)
        if (px > border).all() and (px < np.array([shot.width_px, shot.height_px]) - border).all():
            break
    return replace(scene, shot=shot)


def measure_photo(job: tuple[str, int, float, float, str | None, bool, str | None, bool]) -> dict[str, object]:
    """Draw one photo, measure it, and return the errors."""
    import cv2
    import scenes

    from outgrown import steps
    from outgrown.errors import OutgrownError
    from outgrown.photo import read_photo

    cv2.setNumThreads(1)
    name, seed, k1, tilt, floor, exif, lens, no_lines = job
    if no_lines:
        steps.find_floor_lines = lambda *_, **__: []
    scene = lay_out(name, seed, k1, tilt, floor)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"{name.replace(' ', '-')}-{seed}.jpg"
        rendered = scenes.render(scene)
        scenes.write_jpeg(rendered, path, exif=exif)
        start = time.perf_counter()
        try:
            options = {} if lens is None else {"profile": at_focal_length(read_lens(lens), scene.shot.f35_mm)}
            if any(kind.startswith("target") for kind, _, _ in SETS[name]):
                options["bar_mm"] = 150.0  # as measured after printing
            traced = steps.trace_outline(read_photo(path), thickness_mm=scene.fabric.thickness_mm, **options)
        except OutgrownError as error:
            return {"name": name, "seed": seed, "floor": scene.floor.kind, "refused": str(error)}
    error = measure_ring_error(np.asarray(traced.outline.ring_mm), np.asarray(rendered.truth.ring_mm))
    return {
        "name": name,
        "seed": seed,
        "floor": scene.floor.kind,
        "median": float(np.median(error)),
        "p95": float(np.percentile(error, 95)),
        "worst": float(error.max()),
        "stated": traced.expected_error_mm[1],
        "references": len(traced.references),
        "k1": float(traced.camera.lens.distortion[0]),
        "seconds": time.perf_counter() - start,
        "findings": [f.code for f in traced.findings],
    }


def read_lens(path: str):
    """Return the lens profile in `path`."""
    from outgrown.drawer.lens_shelf import read_lens as read

    return read(Path(path))


SHEET_35_MM = 26.0


def at_focal_length(profile, f35_mm: float):
    """Return the profile of a lens that distorts as the sheet's did, at the focal length a scene was drawn with."""
    return replace(profile, focal_px=profile.focal_px * f35_mm / SHEET_35_MM)


# Photos of the lens sheet: tilt and lean [degrees], height [mm], roll [degrees], where the axis meets the sheet [mm].
SHEET_VIEWS = (
    (3, 30, 165, 4, (0, 0)),
    (24, 0, 210, 0, (-25, 0)),
    (26, 180, 205, 0, (25, 0)),
    (28, 90, 200, 180, (0, -15)),
    (4, 40, 165, 90, (10, 0)),
)


def learn_lens(k1: float, path: Path) -> None:
    """Draw photos of the lens sheet through a lens of distortion `k1`, learn the lens from them, and keep it."""
    import scenes

    from outgrown import steps
    from outgrown.photo import read_photo

    seen = []
    with tempfile.TemporaryDirectory() as folder:
        for number, (tilt, lean, height, roll, at) in enumerate(SHEET_VIEWS):
            shot = scenes.Shot(2016, 1512, SHEET_35_MM, height, tilt, lean, roll, at, k1)
            scene = scenes.Scene(
                shot=shot, shape=None, things=(scenes.Thing("lens-sheet"),), floor=scenes.Floor("sheet"), seed=number
            )
            photo = Path(folder) / f"{number}.jpg"
            scenes.write_jpeg(scenes.render(scene), photo)
            seen.append(read_photo(photo))
    path.write_text(steps.describe_lens(steps.learn_lens(seen)), encoding="utf-8")


def print_rows(title: str, rows: list[dict[str, object]]) -> None:
    good = [row for row in rows if "p95" in row]
    refused = len(rows) - len(good)
    if not good:
        print(f"| {title} | {len(rows)} | - | - | - | - | - | - | {refused} |")
        return

    def mid(key: str) -> float:
        return float(np.median([row[key] for row in good]))

    covered = np.mean([row["p95"] <= row["stated"] for row in good])
    worst = max(row["p95"] for row in good)
    print(
        f"| {title} | {len(rows)} | {mid('median'):.2f} | {mid('p95'):.2f} | {mid('worst'):.2f} | {worst:.2f} "
        f"| {mid('stated'):.2f} | {100 * covered:.0f} % | {refused} |"
    )


HEAD = (
    "| references | photos | median mm | p95 mm | worst point mm | worst photo's p95 mm "
    "| stated p95 mm | covered | refused |"
    "\n|---|---|---|---|---|---|---|---|---|"
)


@click.group()
def main() -> None:
    """Print accuracy tables."""


@main.command()
@click.option("--cases", default=6, show_default=True, help="Photos of each set.")
@click.option("--jobs", default=2, show_default=True)
@click.option("--set", "names", multiple=True, type=click.Choice(list(SETS)), help="Only these.")
@click.option("--k1", default=0.0, show_default=True, help="The lens's true radial distortion.")
@click.option("--floor", type=click.Choice(FLOORS), help="Only this floor.")
@click.option("--no-exif", is_flag=True, help="Leave the focal length out of the file.")
@click.option("--lens", help="A lens profile to use.")
@click.option("--no-lines", is_flag=True, help="As on a floor without straight lines.")
@click.option("--seed", default=0, show_default=True)
def photos(cases, jobs, names, k1, floor, no_exif, lens, no_lines, seed) -> None:
    """Draw photos of a 1 m garment and measure them, the whole chain."""
    print(HEAD)
    with ProcessPoolExecutor(jobs) as pool:
        for name in names or SETS:
            work = [
                (name, seed + number, k1, (0.0, 6.0, 12.0, 18.0)[number % 4], floor, not no_exif, lens, no_lines)
                for number in range(cases)
            ]
            rows = list(pool.map(measure_photo, work))
            for row in rows:
                click.echo(f"  {row}", err=True)
            said = [", no EXIF"] * no_exif + [", lens known"] * bool(lens) + [", no lines"] * no_lines
            print_rows(f"{name}, k1 {k1:+.2f}{''.join(said)}", rows)
            sys.stdout.flush()


@main.command()
@click.option("--k1", default=0.0, show_default=True, help="The lens's true radial distortion.")
@click.argument("path", type=click.Path(path_type=Path))
def lens(k1, path) -> None:
    """Learn a lens from drawn photos of the lens sheet, for `photos --lens`."""
    learn_lens(k1, path)


@main.command()
@click.option("--cases", default=40, show_default=True, help="Cameras of each row.")
def geometric(cases: int) -> None:
    """Invented cameras, exact edges with noise: the adjustment alone."""
    from outgrown.camera.adjust import adjust
    from outgrown.camera.doubt import measure_doubt
    from outgrown.camera.lens import Lens
    from outgrown.camera.lens_prior import LensPrior

    print(HEAD)
    rng = np.random.default_rng(1)
    for name, laid, focal_doubt in (
        ("one card", CARD, 0.014),
        ("one card, no EXIF", CARD, 0.12),
        ("one sheet", SHEET, 0.014),
        ("one sheet, no EXIF", SHEET, 0.12),
        ("two cards", TWO, 0.014),
        ("four cards", FOUR, 0.014),
    ):
        for low, high in ((0, 8), (8, 20)):
            for height in (1150.0, 1600.0):
                rows: list[dict[str, object]] = []
                for _ in range(cases):
                    truth = invent_camera(rng, rng.normal() * 0.01, rng.uniform(low, high), height)
                    seen = [see(truth, kind, at, rng.uniform(0, 6), rng, shift_px=0.1) for kind, at in laid]
                    focal = FOCAL_PX if focal_doubt < 0.1 else FOCAL_PX * np.exp(rng.normal() * 0.1)
                    camera = adjust(seen, Lens(focal, CENTRE), LensPrior(focal, focal_doubt)).camera
                    error = error_mm(camera, truth)
                    doubt = measure_doubt(camera, truth.to_px(RING), np.full(len(RING), 0.1), 0.0, 0.0)
                    rows.append(
                        {
                            "median": float(np.median(error)),
                            "p95": float(np.percentile(error, 95)),
                            "worst": float(error.max()),
                            "stated": doubt.expected_error_mm()[1],
                        }
                    )
                print_rows(f"{name}, {height / 1000:.2f} m, {low}-{high} deg", rows)


if __name__ == "__main__":
    main()

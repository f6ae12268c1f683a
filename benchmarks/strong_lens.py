"""One card and a lens that distorts: true and stated error by what is known of the lens.

    python benchmarks/strong_lens.py geometric [--cases 40]
    python benchmarks/strong_lens.py photos [--cases 4]

`geometric` invents cameras, cards and joints of the floor; `photos` draws photos and measures each with the lens's
profile, by the joints of its floor, with both and with neither. Errors are the 95th percentile along the outline after
the best rigid move [mm]; covered counts those that the stated p95 was not exceeded by.
"""

from __future__ import annotations

import math
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import click
import numpy as np
from accuracy import at_focal_length, lay_out, learn_lens, read_lens
from invented import CARD, CENTRE, RING, error_mm, invent_camera, see

from outgrown.camera.doubt import measure_doubt
from outgrown.camera.line_bow import FloorLine
from outgrown.camera.profile import FOCUS_DOUBT, LEAST_K1_DOUBT, Doubts, LensProfile
from outgrown.camera.solve import solve_camera
from outgrown.photo import Photo

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "fixtures"))

WIDTH, HEIGHT = 4032, 3024
PIXELS = np.broadcast_to(np.zeros((1, 1, 3), np.uint8), (HEIGHT, WIDTH, 3))
FOCAL_DOUBT = 0.014
K1 = (-0.05, -0.02, 0.0, 0.02, 0.05)
PHONES_K1 = (0.002, 0.007, 0.010, 0.011, -0.019, 0.021, 0.023, 0.029, 0.048)
"""Main lenses of nine phones as the sensor sees through them (see `LensPrior`)."""
MEANS = ("profile", "joints", "two or three joints", "neither")
HEAD = (
    "| k1 | known by | cases | p95 mm, median | worst in 20 | stated p95 mm | covered |\n|---|---|---|---|---|---|---|"
)


def see_card(truth, rng: np.random.Generator, shift_px: float = 0.15):
    """Return a card whose sides are shifted and turned, and whose size is off, by what is stated of them."""
    at, turn = CARD[0][1], rng.uniform(0, 6)
    size = 1 + rng.normal() * 0.0008
    card = see(truth, CARD[0][0], at, turn, rng, shift_px=shift_px, turn_px=shift_px / 2, size=size)
    return replace(card, edges=tuple(replace(edge, shift_px=shift_px) for edge in card.edges))


def invent_joints(truth, rng: np.random.Generator, most: int = 24, sigma_px: float = 0.3) -> list[FloorLine]:
    """Return joints of boards or tiles in any direction: not quite parallel, wavering by 0.12 mm, under a garment."""
    way, wide = rng.uniform(0, math.pi), rng.uniform(90, 220)
    families = [(way, wide)] + [(way + math.pi / 2, wide * rng.choice([1, 3]))] * int(rng.random() < 0.5)
    along = np.linspace(-1300, 1300, 1000)
    straight = replace(truth, lens=replace(truth.lens, distortion=(0.0, 0.0, 0.0, 0.0, 0.0)))
    found = []
    for way, wide in families:
        tangent, normal = np.array([math.cos(way), math.sin(way)]), np.array([-math.sin(way), math.cos(way)])
        for number in range(-12, 13):
            waves = sum(
                rng.normal() * np.sin(2 * math.pi * along / long + rng.uniform(0, 7)) for long in (500, 1000, 1800)
            )
            off = number * wide + along * rng.normal() * 0.0008 + waves * 0.12 / math.sqrt(1.5)
            floor = along[:, None] * tangent + off[:, None] * normal
            px = truth.to_px(floor)
            inside = (px > 13).all(axis=1) & (px < (WIDTH - 13, HEIGHT - 13)).all(axis=1)
            # Far outside the picture a strong lens folds the plane back into it.
            inside &= np.abs(straight.to_px(floor) - px).max(axis=1) < 900
            px = px[inside]
            length = float(np.linalg.norm(px[-1] - px[0])) if len(px) else 0.0
            if length < 0.2 * math.hypot(WIDTH, HEIGHT):
                continue
            steps = np.arange(0, length, 16.0)
            px = np.column_stack([np.interp(steps, np.linspace(0, length, len(px)), px[:, axis]) for axis in (0, 1)])
            turned = np.gradient(px, axis=0)
            normals = np.column_stack([turned[:, 1], -turned[:, 0]]) / np.linalg.norm(turned, axis=1, keepdims=True)
            hidden = (np.abs(truth.to_mm(px)) < (450, 130)).all(axis=1)
            px, normals = px[~hidden], normals[~hidden]
            if len(px) >= 20:
                px = px + normals * rng.normal(size=(len(px), 1)) * sigma_px
                found.append(FloorLine(px, normals, sigma_px, float(np.linalg.norm(px[-1] - px[0]))))
    return [found[index] for index in rng.permutation(len(found))[:most]]


def invent_case(k1: float, means: str, rng: np.random.Generator) -> tuple[float, float]:
    """Return (true, stated) p95 of one invented photo."""
    truth = invent_camera(rng, k1, min(abs(rng.normal() * 7), 20.0))
    focal = truth.lens.focal_px * math.exp(rng.normal() * FOCAL_DOUBT)
    photo, profile = Photo(PIXELS, focal_px=focal, focal_doubt=FOCAL_DOUBT), None
    if means == "profile":
        focal = truth.lens.focal_px * math.exp(rng.normal() * FOCUS_DOUBT)
        bent = (k1 + rng.normal() * LEAST_K1_DOUBT, 0.0, 0.0, 0.0, 0.0)
        profile = LensProfile(WIDTH, HEIGHT, focal, CENTRE, bent, doubts=Doubts(1e-4, 0.1, 1e-4, 0.1))
        photo = replace(photo, focal_px=focal, focal_doubt=FOCUS_DOUBT)
    card = see_card(truth, rng)
    most = {"joints": 24, "two or three joints": int(rng.integers(2, 4))}.get(means, 0)
    lines = invent_joints(truth, rng, most) if most else []
    camera = solve_camera(photo, [card], lines, profile).camera
    doubt = measure_doubt(camera, truth.to_px(RING), np.full(len(RING), 0.1), 0.0, 0.0)
    return float(np.percentile(error_mm(camera, truth), 95)), doubt.expected_error_mm()[1]


def print_row(name: str, means: str, cases: list[tuple[float, float]]) -> None:
    true, stated = np.array(cases).T
    print(
        f"| {name} | {means} | {len(cases)} | {np.median(true):.2f} | {np.percentile(true, 95):.2f} "
        f"| {np.median(stated):.1f} | {100 * np.mean(true <= stated):.0f} % |",
        flush=True,
    )


@click.group()
def main() -> None:
    """Print tables of one card seen through lenses that distort."""


@main.command()
@click.option("--cases", default=40, show_default=True, help="Photos of each row.")
@click.option("--means", multiple=True, type=click.Choice(MEANS), help="Only these.")
def geometric(cases: int, means: tuple[str, ...]) -> None:
    """Invented cameras, cards and joints: the adjustment alone."""
    print(HEAD)
    for each in means or MEANS:
        for k1 in (*K1, None):
            rng = np.random.default_rng([MEANS.index(each), 9 if k1 is None else K1.index(k1)])
            drawn = [float(rng.choice(PHONES_K1)) if k1 is None else k1 for _ in range(cases)]
            found = [invent_case(one, each, rng) for one in drawn]
            print_row("nine phones" if k1 is None else f"{k1:+.2f}", each, found)


@main.command()
@click.option("--cases", default=4, show_default=True, help="Photos of each k1: boards, tiles, carpet, concrete.")
@click.option("--seed", default=0, show_default=True)
def photos(cases: int, seed: int) -> None:
    """Drawn photos, the whole chain."""
    print(HEAD)
    for k1 in (one for one in K1 if one):
        rows: dict[str, list[tuple[float, float]]] = {}
        with tempfile.TemporaryDirectory() as folder:
            kept = Path(folder) / "lens.json"
            learn_lens(k1, kept)
            for number in range(seed, seed + cases):
                for means, case in measure_photo(k1, number, read_lens(str(kept)), Path(folder)).items():
                    rows.setdefault(means, []).append(case)
                    click.echo(f"  {k1:+.2f} {number} {means}: {case[0]:.2f}, stated {case[1]:.2f}", err=True)
        for means, found in rows.items():
            print_row(f"{k1:+.2f}", means, found)


def measure_photo(k1: float, seed: int, profile: LensProfile, folder: Path) -> dict[str, tuple[float, float]]:
    """Draw one photo of one card, and return (true, stated) p95 by what is used of the lens."""
    import scenes
    from ring_error import measure_ring_error

    from outgrown import steps
    from outgrown.errors import OutgrownError
    from outgrown.photo import read_photo

    scene = lay_out("one card", seed, k1, (0.0, 6.0, 12.0, 18.0)[seed % 4], None)
    rendered = scenes.render(scene)
    path = folder / f"{seed}.jpg"
    scenes.write_jpeg(rendered, path)
    photo = read_photo(path)
    own = at_focal_length(profile, scene.shot.f35_mm)
    find_lines = steps.find_floor_lines
    count = 0

    def counted(*given, **named):
        nonlocal count
        lines = find_lines(*given, **named)
        count = len(lines)
        return lines

    found = {}
    try:
        for means, known, lines in (
            ("profile and joints", own, counted),
            ("joints", None, counted),
            ("profile", own, lambda *_, **__: []),
            ("neither", None, lambda *_, **__: []),
        ):
            if "joints" in means and means != "profile and joints" and count < 3:
                continue
            steps.find_floor_lines = lines
            try:
                traced = steps.trace_outline(photo, thickness_mm=scene.fabric.thickness_mm, profile=known)
            except OutgrownError as error:
                click.echo(f"  {k1:+.2f} {seed} {means}: refused, {error}", err=True)
                continue
            if "joints" in means and count < 3:
                continue
            off = measure_ring_error(np.asarray(traced.outline.ring_mm), np.asarray(rendered.truth.ring_mm))
            found[means] = (float(np.percentile(off, 95)), traced.expected_error_mm[1])
    finally:
        steps.find_floor_lines = find_lines
    return found


if __name__ == "__main__":
    main()

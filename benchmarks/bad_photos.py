"""Say what each of two dozen bad photos is told.

    python benchmarks/bad_photos.py [--only NAME]

Photos that cannot be measured well are drawn or spoiled, given to `outgrown outline`, and what it says is printed:
whether it refuses, and the sentences. Nothing may be written for a photo that is refused.
"""

from __future__ import annotations

import io
import struct
import subprocess
import sys
import tempfile
import zlib
from dataclasses import replace
from pathlib import Path

import click
import cv2
import numpy as np
from PIL import Image

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "fixtures"))
WIDTH, HEIGHT = 3000, 2250


def read_demo() -> np.ndarray:
    return np.asarray(Image.open(ROOT / "fixtures" / "card.jpg").convert("RGB"))


def as_jpeg(pixels: np.ndarray, quality: int = 92) -> bytes:
    held = io.BytesIO()
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA405] = 26
    Image.fromarray(pixels).save(held, "JPEG", quality=quality, exif=exif)
    return held.getvalue()


def draw_scene(change=lambda scene: scene, **fixed) -> bytes:
    import scenes

    options = dict(garment="leggings-folded", references=("id-1",), floor_kind="boards", decoy=False, tilt_deg=4.0)
    scene = scenes.random_scene(8, width_px=WIDTH, height_px=HEIGHT, **(options | fixed))
    return as_jpeg(scenes.render(change(scene)).pixels)


def shake(pixels: np.ndarray, length: int) -> np.ndarray:
    kernel = np.eye(length, dtype=np.float32) / length
    return cv2.filter2D(pixels, -1, kernel)


def claim_200_megapixels() -> bytes:
    head = struct.pack(">IIBBBBB", 20000, 10000, 8, 2, 0, 0, 0)
    chunk = b"IHDR" + head
    return b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + chunk + struct.pack(">I", zlib.crc32(chunk))


def put_card(scene, **changes):
    return replace(scene, things=(replace(scene.things[0], **changes), *scene.things[1:]))


def put_under_garment(scene):
    ring = scene.shape.placed(scene.at_mm, scene.turn_deg, scene.mirrored).ring_mm
    return put_card(scene, at_mm=tuple(ring.mean(axis=0)))


def lift_second(scene):
    """Two cards, one of them on a box 60 mm high."""
    first = scene.things[0]
    ring = scene.shape.placed(scene.at_mm, scene.turn_deg, scene.mirrored).ring_mm
    far = 2 * ring.mean(axis=0) - np.array(first.at_mm)
    return replace(scene, things=(first, replace(first, at_mm=tuple(far), thickness_mm=60.0)))


def go_far(scene):
    return replace(scene, shot=replace(scene.shot, height_mm=3.2 * scene.shot.height_mm))


def leave_out_garment(scene):
    return replace(scene, shape=None)


def make_photos() -> dict[str, tuple[str, object]]:
    """Return what makes each photo, by name."""
    demo = read_demo

    def small(side):
        picture = demo()
        share = side / max(picture.shape)
        return cv2.resize(picture, None, fx=share, fy=share, interpolation=cv2.INTER_AREA)

    def stretched():
        picture = demo()
        return cv2.resize(picture, (picture.shape[1], round(picture.shape[0] * 0.9)), interpolation=cv2.INTER_AREA)

    rng = np.random.default_rng(1)
    return {
        "no reference": lambda: draw_scene(references=()),
        "only a phone beside it": lambda: draw_scene(lambda s: put_card(s, kind="phone")),
        "nothing but the card": lambda: draw_scene(leave_out_garment),
        "card under the garment": lambda: draw_scene(put_under_garment),
        "second card on a box": lambda: draw_scene(lift_second),
        "tilted by 50 degrees": lambda: draw_scene(tilt_deg=50.0),
        "white on white": lambda: draw_scene(floor_kind="sheet"),
        "too dark": lambda: as_jpeg((demo() * 0.03).astype(np.uint8)),
        "all white": lambda: as_jpeg(np.full((HEIGHT, WIDTH, 3), 255, np.uint8)),
        "overexposed": lambda: as_jpeg(np.clip(demo().astype(np.float32) * 4.0, 0, 255).astype(np.uint8)),
        "out of focus": lambda: as_jpeg(cv2.GaussianBlur(demo(), (0, 0), 14)),
        "shaken": lambda: as_jpeg(shake(demo(), 45)),
        "noise": lambda: as_jpeg(rng.integers(0, 256, (HEIGHT, WIDTH, 3)).astype(np.uint8)),
        "small copy from a chat": lambda: as_jpeg(small(800), 60),
        "thumbnail": lambda: as_jpeg(small(160)),
        "from too far": lambda: draw_scene(go_far),
        "garment cut off": lambda: as_jpeg(demo()[: int(0.55 * demo().shape[0])]),
        "squeezed in an editor": lambda: as_jpeg(stretched()),
        "text file": lambda: b"not a photo\n",
        "empty file": lambda: b"",
        "half a file": lambda: as_jpeg(demo())[:200_000],
        "one pixel": lambda: as_jpeg(np.zeros((1, 1, 3), np.uint8)),
        "says 200 megapixels": claim_200_megapixels,
    }


@click.command()
@click.option("--only", help="Only the photo of this name.")
def main(only: str | None) -> None:
    """Print the table."""
    print("| photo | what happens | what is said |\n|---|---|---|")
    for name, make in make_photos().items():
        if only not in (None, name):
            continue
        with tempfile.TemporaryDirectory() as folder:
            path, target = Path(folder) / "photo.jpg", Path(folder) / "outline.json"
            path.write_bytes(make())
            command = [sys.executable, "-m", "outgrown", "outline", str(path), "--json", str(target)]
            result = subprocess.run(command, capture_output=True, text=True, check=False)
            written = target.exists()
        output = result.stderr if result.returncode else result.stdout
        lines = [line.replace(str(path), "photo.jpg").strip() for line in output.splitlines()]
        if result.returncode == 2 and not written:
            happens, said = "refused", [line for line in lines if line and not line.startswith(("Usage", "Try"))]
        elif result.returncode == 0 and written:
            happens, said = "measured", [line for line in lines if line and not line.startswith("Written")]
        else:
            happens, said = f"WRONG: exit status {result.returncode}, written: {written}", lines[-3:]
        print(f"| {name} | {happens} | {' '.join(said)} |", flush=True)


if __name__ == "__main__":
    main()

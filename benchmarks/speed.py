"""Time and memory of the commands on a 12-megapixel photo, as a ratio to plain OpenCV in the same run.

The baseline decodes the photo, warps it once and runs one grabCut round over it at full size, seeded by its border.
All that follows the outline (garment, pieces, pattern.pdf, .svg and .json) stands beside a plain PDF page with the
outline as one polyline, both in the first run of a process and in later ones.

    python benchmarks/speed.py [PHOTO] [--runs 3]
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import click

ROOT = Path(__file__).resolve().parents[1]

BASELINE = """
import sys
import cv2
import numpy as np
picture = cv2.imread(sys.argv[1])
height, width = picture.shape[:2]
flat = cv2.warpPerspective(picture, np.eye(3), (width, height))
mask = np.zeros((height, width), np.uint8)
frame = (width // 20, height // 20, width * 9 // 10, height * 9 // 10)
cv2.grabCut(flat, mask, frame, np.zeros((1, 65)), np.zeros((1, 65)), 1, cv2.GC_INIT_WITH_RECT)
"""

AFTER = """
import io
import sys
import time
from pathlib import Path
from reportlab.pdfgen.canvas import Canvas
from outgrown import steps
from outgrown.photo import read_photo
from outgrown.pieces.choices import Choices
from outgrown.pieces.fabric import Fabric
traced = steps.trace_outline(read_photo(Path(sys.argv[1])))
for _ in range(int(sys.argv[2])):
    start = time.perf_counter()
    canvas = Canvas(io.BytesIO(), invariant=1, pageCompression=1)
    path = canvas.beginPath()
    path.moveTo(*traced.outline.ring_mm[0])
    for x, y in traced.outline.ring_mm[1:]:
        path.lineTo(x, y)
    canvas.drawPath(path)
    canvas.save()
    plain = time.perf_counter()
    garment = steps.read_traced_garment(traced, steps.take_traced(traced))
    pattern = steps.finish(steps.draft(traced, garment, Choices(waist_mm=520.0)), Fabric(waist_mm=520.0))
    steps.draw_pattern_files(pattern)
    print(plain - start, time.perf_counter() - plain)
"""


def time_after_outline(photo: Path, runs: int) -> list[tuple[float, float]]:
    """Return for each run the times [s] of a plain PDF page and of all outputs that follow the outline."""
    command = [sys.executable, "-c", AFTER, str(photo), str(runs)]
    lines = subprocess.run(command, capture_output=True, text=True, check=True).stdout.splitlines()
    return [(float(one), float(other)) for one, other in map(str.split, lines)]


def run_once(command: list[str]) -> tuple[float, float]:
    """Return wall time [s] and peak memory [MB] of one run of `command`."""
    start = time.perf_counter()
    with tempfile.TemporaryFile() as output:
        process = subprocess.Popen(command, stdout=output, stderr=output)
        _, status, usage = os.wait4(process.pid, 0)
        wall = time.perf_counter() - start
        if os.waitstatus_to_exitcode(status) != 0:
            output.seek(0)
            raise SystemExit(output.read().decode(errors="replace"))
    return wall, usage.ru_maxrss / (1024 if sys.platform != "darwin" else 1024**2)


@click.command()
@click.argument("photo", type=click.Path(exists=True, path_type=Path), default=ROOT / "fixtures" / "demo.jpg")
@click.option("--runs", default=3, show_default=True)
def main(photo: Path, runs: int) -> None:
    """Print medians and ratios."""
    with tempfile.TemporaryDirectory() as folder:
        jobs = {
            "plain OpenCV": [sys.executable, "-c", BASELINE, str(photo)],
            "outgrown outline": [
                *(sys.executable, "-m", "outgrown", "outline", str(photo)),
                *("--json", f"{folder}/outline.json", "--replace"),
            ],
            "outgrown pattern": [
                *(sys.executable, "-m", "outgrown", "pattern", str(photo)),
                *("--out", f"{folder}/pattern", "--replace"),
            ],
        }
        figures: dict[str, list[tuple[float, float]]] = {name: [] for name in jobs}
        for _ in range(runs):
            for name, command in jobs.items():
                figures[name].append(run_once(command))
    base = statistics.median(wall for wall, _ in figures["plain OpenCV"])
    print(f"{photo.name}, {runs} runs, medians")
    for name, rows in figures.items():
        wall = statistics.median(w for w, _ in rows)
        peak = statistics.median(m for _, m in rows)
        print(f"{name:18} {wall:6.2f} s  {wall / base:5.2f} x  {peak:6.0f} MB")
    first, *later = time_after_outline(photo, runs + 1)
    for name, rows in {"first": [first], "later": later}.items():
        plain, whole = (statistics.median(column) for column in zip(*rows, strict=True))
        times = f"{1000 * whole:4.0f} ms  {whole / plain:5.1f} x a plain page ({1000 * plain:.0f} ms)"
        print(f"outline to files, {name}: {times}")


if __name__ == "__main__":
    main()

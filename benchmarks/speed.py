"""Time and memory of the commands on a 12-megapixel photo, as a ratio to plain OpenCV in the same run.

The baseline decodes the photo, warps it once and runs one grabCut round over it at full size, seeded by its border.

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


if __name__ == "__main__":
    main()

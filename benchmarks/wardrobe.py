"""Many photos at once: time and memory of `outgrown pattern PHOTO...` beside the same photos one command after another.

    python benchmarks/wardrobe.py [--photos 24] [--jobs 2]

Photos are those in fixtures/, 12 megapixels, each copy made different by a byte at its end. Memory is that of all
processes together, shared pages counted once (Linux only: proportional set size, looked at 10 times a second).
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import click

ROOT = Path(__file__).resolve().parents[1]
PHOTOS = ("card", "a4", "letter", "demo")


def tree(root: int) -> list[int]:
    """Return the process `root` and all that it started, directly or not."""
    parents = {}
    for place in Path("/proc").glob("[0-9]*"):
        try:
            parents[int(place.name)] = int(place.joinpath("stat").read_text().rpartition(")")[2].split()[1])
        except (OSError, ValueError):
            continue
    found = [root]
    for pid in found:
        found += [child for child, parent in parents.items() if parent == pid]
    return found


def memory_mb(pids: list[int], what: str) -> list[float]:
    """Return `what` (Pss, Rss) of each process [MB]."""
    sizes = []
    for pid in pids:
        try:
            text = Path(f"/proc/{pid}/smaps_rollup").read_text()
        except OSError:
            continue
        sizes += [int(line.split()[1]) / 1024 for line in text.splitlines() if line.startswith(f"{what}:")]
    return sizes


def run(words: list[str]) -> tuple[float, float, float]:
    """Return wall time [s], peak memory of all processes and of the largest one [MB] of an `outgrown` command."""
    peaks = [0.0, 0.0]
    start = time.perf_counter()
    with tempfile.TemporaryFile() as output:
        process = subprocess.Popen([sys.executable, "-m", "outgrown", *words], stdout=output, stderr=output)
        done = threading.Event()

        def look() -> None:
            while not done.wait(0.1):
                pids = tree(process.pid)
                peaks[0] = max(peaks[0], sum(memory_mb(pids, "Pss")))
                peaks[1] = max(peaks[1], *memory_mb(pids, "Rss"), 0.0)

        watcher = threading.Thread(target=look)
        watcher.start()
        status = process.wait()
        done.set()
        watcher.join()
        if status:
            output.seek(0)
            raise SystemExit(output.read().decode(errors="replace"))
    return time.perf_counter() - start, peaks[0], peaks[1]


@click.command()
@click.option("--photos", "count", default=24, show_default=True)
@click.option("--jobs", default=2, show_default=True)
def main(count: int, jobs: int) -> None:
    """Print times, speed-up and memory; the patterns must be the same either way."""
    click.echo(f"{count} photos, {os.cpu_count()} cores, load before: {os.getloadavg()[0]:.2f}")
    with tempfile.TemporaryDirectory(prefix="wardrobe-") as place:
        folder = Path(place)
        photos = []
        for number in range(count):
            photos.append(folder / f"photo{number:02d}.jpg")
            content = (ROOT / "fixtures" / f"{PHOTOS[number % len(PHOTOS)]}.jpg").read_bytes()
            photos[-1].write_bytes(content + bytes([number]))
        names = [str(photo) for photo in photos]
        start = time.perf_counter()
        singles = [run(["pattern", name, "--out", str(folder / "single" / Path(name).stem)]) for name in names]
        base = time.perf_counter() - start
        report("a command each", base, base, *(max(column) for column in list(zip(*singles, strict=True))[1:]))
        for at_once in (1, jobs):
            out = folder / f"jobs{at_once}"
            took = run(["pattern", *names, "--out", str(out), "--jobs", str(at_once)])
            report(f"--jobs {at_once}", took[0], base, *took[1:])
            for photo in photos:
                one, other = (kept(folder / "single" / photo.stem), kept(out / photo.stem))
                if one != other:
                    raise SystemExit(f"{photo.name}: not the same pattern")
        again = run(["pattern", *names, "--out", str(out)])
        report("all made before", again[0], base, *again[1:])


def kept(folder: Path) -> dict:
    return json.loads((folder / "pattern.json").read_bytes())


def report(what: str, took: float, base: float, together: float, largest: float) -> None:
    click.echo(
        f"{what:16} {took:6.1f} s  {base / took:5.2f} x as fast   "
        f"all processes {together:5.0f} MB, the largest {largest:5.0f} MB"
    )


if __name__ == "__main__":
    main()

"""How soon the page answers in a real browser: from drag to redrawn pattern, from a 12-megapixel photo to its outline.

    python benchmarks/page_in_browser.py [--drags 60] [--photo fixtures/card.jpg]

The pattern's time runs from the pointer's move to the frame after the one in which the pattern was put into the page;
the photo's from choosing the file to the outline on the screen, beside `outgrown outline` on the same photo.
"""

import os
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import click
import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "tests"))
READY = "Does the line follow the edge?"
LISTEN = """() => {
  globalThis.lags = [];
  outgrown.garment.outCard.addEventListener("drawn", (event) =>
    requestAnimationFrame(() => requestAnimationFrame(() => lags.push(performance.now() - event.detail))));
}"""


@click.command()
@click.option("--drags", default=60, show_default=True)
@click.option("--photo", default=str(ROOT / "fixtures" / "card.jpg"), show_default=True)
def main(drags: int, photo: str) -> None:
    """Print times in ms."""
    from browser.conftest import find_browser
    from playwright.sync_api import sync_playwright

    env = {**os.environ, "PYTHONPATH": str(ROOT / "src"), "OPENBLAS_NUM_THREADS": "1"}
    with tempfile.TemporaryDirectory() as folder:
        begun = time.perf_counter()
        outline = [sys.executable, "-m", "outgrown", "outline", photo, "--json", "outline.json"]
        subprocess.run(outline, env=env, cwd=folder, check=True, capture_output=True)
        alone = time.perf_counter() - begun
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    served = subprocess.Popen(
        [sys.executable, "-m", "outgrown", "page", "--no-browser", "--port", str(port)],
        env=env,
        stdout=subprocess.DEVNULL,
    )
    try:
        time.sleep(2.0)
        with sync_playwright() as play:
            browser = play.chromium.launch(executable_path=find_browser(), args=["--no-sandbox"])
            page = browser.new_page(viewport={"width": 1440, "height": 900})
            page.goto(f"http://127.0.0.1:{port}/")
            begun = time.perf_counter()
            page.get_by_label("Choose a photo").set_input_files(photo)
            page.get_by_role("heading", name=READY).wait_for(timeout=120_000)
            print(f"photo to outline on the screen {time.perf_counter() - begun:.2f} s; outgrown outline {alone:.2f} s")
            page.get_by_role("button", name="Pull the edge").click()
            page.evaluate(LISTEN)
            box = page.locator("[data-corner='crotch'] circle").bounding_box()
            x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
            page.mouse.move(x, y)
            page.mouse.down()
            for step in range(drags):
                page.mouse.move(x - 6 * np.sin(step), y + 3 * np.cos(step))
                page.wait_for_timeout(120)
            page.mouse.up()
            page.wait_for_timeout(1500)
            lags = np.array(page.evaluate("lags"))
            low, high, most = np.median(lags), np.percentile(lags, 95), lags.max()
            print(f"drag to redrawn pattern, {len(lags)} times: median {low:.0f}, p95 {high:.0f}, most {most:.0f} ms")
            browser.close()
    finally:
        served.terminate()
        served.wait(10)


if __name__ == "__main__":
    main()

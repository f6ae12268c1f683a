"""A real browser, where there is one. In CI it has to be there; elsewhere its tests are left out, which pytest says."""

import os
import shutil
import socket
import subprocess
import sys
import time
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

import pytest

ROOT = Path(__file__).resolve().parents[2]
PHOTO = ROOT / "fixtures" / "card.jpg"
NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
SIZES = {"desktop": {"width": 1440, "height": 900}, "phone": {"width": 360, "height": 740}}


def find_browser():
    named = os.environ.get("OUTGROWN_TEST_BROWSER")
    return named or next((found for name in NAMES if (found := shutil.which(name))), None)


@pytest.fixture(scope="session")
def browser():
    path = find_browser()
    if path is None:
        why = "the browser tests need Chromium (Debian: apt-get install chromium)"
        if os.environ.get("CI"):
            pytest.fail(why)
        pytest.skip(why)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        opened = play.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def address(tmp_path_factory):
    """Where the page is served, by the command as a person runs it, with a drawer of its own."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    drawer = tmp_path_factory.mktemp("kept") / "drawer"
    env = {**os.environ, "OUTGROWN_DRAWER": str(drawer), "PYTHONPATH": str(ROOT / "src")}
    command = [sys.executable, "-m", "outgrown", "page", "--no-browser", "--port", str(port)]
    served = subprocess.Popen(command, env=env, cwd=tmp_path_factory.mktemp("here"), stdout=subprocess.DEVNULL)
    try:
        until = time.monotonic() + 30
        while time.monotonic() < until:
            try:
                with urlopen(f"http://127.0.0.1:{port}/", timeout=2):
                    break
            except URLError:
                time.sleep(0.1)
        yield f"http://127.0.0.1:{port}"
    finally:
        served.terminate()
        served.wait(10)


@pytest.fixture
def open_page(browser, address):
    """Open the page at a size; afterwards nothing may have gone wrong in it, and nothing asked of elsewhere.

    Answers of a status may be refusals that a test is about: 412 and 422 with `may_refuse`, or those it names.
    """
    troubles, asked, contexts = [], set(), []

    def hear(said, may_refuse):
        codes = (412, 422) if may_refuse is True else may_refuse or ()
        is_refusal = any(f"a status of {code}" in said.text for code in codes)
        if said.type == "error" and not is_refusal:
            troubles.append(said.text)

    def open_(size="desktop", scheme="light", at="", checks_csp=True, may_refuse=False):
        context = browser.new_context(
            viewport=SIZES[size],
            has_touch=size == "phone",
            color_scheme=scheme,
            accept_downloads=True,
            bypass_csp=not checks_csp,
        )
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: troubles.append(str(error)))
        page.on("console", lambda said: hear(said, may_refuse))
        page.on("request", lambda request: asked.add(request.url.split("/")[2] if "//" in request.url else "own"))
        page.goto(f"{address}/{at}")
        page.locator("h1").first.wait_for()
        return page

    yield open_
    for context in contexts:
        context.close()
    assert not troubles
    assert asked <= {address.removeprefix("http://"), "own"}

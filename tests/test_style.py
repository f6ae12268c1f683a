"""The style and type checks, so that one command checks everything."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


@pytest.mark.parametrize(
    "command",
    [
        ["-m", "ruff", "check", "."],
        ["-m", "ruff", "format", "--check", "src", "tests", "benchmarks", "fixtures"],
        ["-m", "mypy"],
    ],
    ids=["ruff check", "ruff format", "mypy"],
)
def test_style_and_types_are_clean(command):
    done = subprocess.run([sys.executable, *command], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr

"""Kills, several writers and a full disk, in small; `benchmarks/drawer.py` does the same at length."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

BENCHMARK = Path(__file__).resolve().parents[2] / "benchmarks" / "drawer.py"


@pytest.mark.skipif(not hasattr(os, "fork"), reason="processes are forked")
@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("kills", "--count", "15", "--longest", "0.05"), "nothing lost, nothing half-written"),
        (("writers", "--operations", "24"), "nothing lost"),
        (("full", "--no-disk"), "nothing lost, nothing half-written"),
    ],
    ids=["kills", "two writers", "full disk"],
)
def test_nothing_is_lost_and_nothing_half_written(words, said, tmp_path):
    there = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path), "TMPDIR": str(tmp_path)}
    done = subprocess.run(
        [sys.executable, str(BENCHMARK), *words], env=there, capture_output=True, text=True, timeout=120, check=False
    )
    assert done.returncode == 0, done.stderr
    assert said in done.stdout

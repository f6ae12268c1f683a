"""Capacity: how many photos can be worked on at once on this computer."""

import ctypes
import os
import sys
from pathlib import Path

ONE_JOB_BYTES = 500_000_000
"""One process at a photo of 12 megapixels; measured by benchmarks/wardrobe.py."""


def choose_jobs(photos: int) -> int:
    """Return how many processes to use: one a core, no more than memory allows or there are photos."""
    free = available_bytes()
    fitting = photos if free is None else free // ONE_JOB_BYTES
    return max(1, min(photos, _cores(), fitting))


def available_bytes() -> int | None:
    """Return the memory that can be taken without harm to others [bytes], or None where the system does not tell."""
    told = [_of_windows() if sys.platform == "win32" else _of_unix(), _of_group()]
    known = [amount for amount in told if amount is not None]
    return min(known) if known else None


def _cores() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _of_unix() -> int | None:
    try:
        lines = dict(line.split(":", 1) for line in Path("/proc/meminfo").read_text(encoding="ascii").splitlines())
        return int(lines["MemAvailable"].split()[0]) * 1024
    except (OSError, ValueError, KeyError, IndexError):
        pass
    try:  # no word of what is free: half of what there is
        return os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE") // 2
    except (OSError, ValueError, AttributeError):
        return None


def _of_group() -> int | None:
    """Return what a container or group of processes may still take."""
    folder = Path("/sys/fs/cgroup")
    try:
        most = (folder / "memory.max").read_text(encoding="ascii").strip()
        return None if most == "max" else int(most) - int((folder / "memory.current").read_text(encoding="ascii"))
    except (OSError, ValueError):
        return None


class _MemoryStatus(ctypes.Structure):
    """MEMORYSTATUSEX of the Windows programming interface."""

    _fields_ = (
        ("length", ctypes.c_ulong),
        ("load", ctypes.c_ulong),
        *((name, ctypes.c_ulonglong) for name in ("total", "available", "c", "d", "e", "f", "g")),
    )


def _of_windows() -> int | None:
    status = _MemoryStatus(length=ctypes.sizeof(_MemoryStatus))
    library = getattr(ctypes, "windll", None)
    if library is None or not library.kernel32.GlobalMemoryStatusEx(ctypes.byref(status)):
        return None
    return int(status.available)

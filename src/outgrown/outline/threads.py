"""Threads: work of one kind shared among as many threads as OpenCV may use; results stay in order."""

from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

import cv2

MOST = 4
"""More would only wait for memory."""

Item = TypeVar("Item")
Result = TypeVar("Result")


def share_out(work: Callable[[Item], Result], items: Iterable[Item]) -> list[Result]:
    """Return `work` of every item, in their order; the same whatever the number of threads.

    numpy and OpenCV let other threads run while they count. Whoever has but one thread for OpenCV, a process among
    several, has one here too.
    """
    jobs = list(items)
    threads = min(MOST, cv2.getNumThreads(), len(jobs))
    if threads < 2:
        return [work(job) for job in jobs]
    with ThreadPoolExecutor(threads) as pool:
        return list(pool.map(work, jobs))


def do_both(one: Callable[[], Item], other: Callable[[], Result]) -> tuple[Item, Result]:
    """Return what two pieces of work return, done at the same time where there are threads."""
    if cv2.getNumThreads() < 2:
        return one(), other()
    with ThreadPoolExecutor(1) as pool:
        waiting = pool.submit(other)
        return one(), waiting.result()

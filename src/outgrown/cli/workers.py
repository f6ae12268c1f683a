"""Workers: jobs in processes of their own, so that one that crashes or takes all memory fails alone.

A worker is started anew (never forked), ignores Ctrl-C, writes nothing, and ends with the process that started it.
"""

import contextlib
import multiprocessing
import os
import signal
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from typing import Any, Generic, TypeVar

from ..errors import OutgrownError
from ..progress import Progress

T = TypeVar("T")

_ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "OPENCV_FOR_THREADS_NUM")
"""Processes share the cores; threads within them would only wait for each other."""
_GLANCE_S = 0.2
"""How often a wish to stop is looked for."""


@dataclass(frozen=True)
class Outcome(Generic[T]):
    """What became of one job.

    Attributes:
        index: of the job.
        result: what the work returned, or None.
        error: why there is none, or None.
    """

    index: int
    result: T | None
    error: OutgrownError | None


class _Worker:
    """One process and the job it has."""

    def __init__(self, work: Callable[..., Any]) -> None:
        context = multiprocessing.get_context("spawn")
        self.connection, theirs = context.Pipe()
        self.process = context.Process(target=_serve, args=(theirs, work), daemon=True)
        self.index: int | None = None
        with _environment():
            self.process.start()
        theirs.close()

    def give(self, index: int, job: Any) -> None:
        """Start a job."""
        self.index = index
        with contextlib.suppress(OSError):  # one that is dead already is found so while waiting
            self.connection.send(job)

    def end(self) -> None:
        """End the process, whatever it is doing; it has nothing of its own to finish."""
        self.process.terminate()
        self.process.join()
        self.connection.close()


def run_jobs(
    work: Callable[[Any, Progress], T],
    jobs: Sequence[Any],
    count: int,
    progress: Callable[[int, str, float], None],
    is_stopped: Callable[[], bool] = lambda: False,
) -> Iterator[Outcome[T]]:
    """Yield the outcome of each job as it comes.

    Args:
        work: a function of a module, called as `work(job, progress)` in a worker; job and result must be picklable.
        jobs: one argument of `work` each.
        count: processes at once.
        progress: told (index, step, share) of each job.
        is_stopped: asked often; once True, the workers are ended and nothing more is yielded.
    """
    waiting = list(enumerate(jobs))[::-1]
    workers: list[_Worker] = []
    try:
        while waiting or any(worker.index is not None for worker in workers):
            while waiting and len(workers) < count:
                workers.append(_Worker(work))
                workers[-1].give(*waiting.pop())
            ready = wait([worker.connection for worker in workers], timeout=_GLANCE_S)
            if is_stopped():
                return
            for worker in [worker for worker in workers if worker.connection in ready]:
                outcome = _hear(worker, progress)
                if outcome is None:
                    continue
                if not worker.process.is_alive() or not waiting:
                    workers.remove(worker)
                    worker.end()
                else:
                    worker.give(*waiting.pop())
                yield outcome
                if is_stopped():
                    return
    finally:
        for worker in workers:
            worker.end()


def _hear(worker: _Worker, progress: Callable[[int, str, float], None]) -> Outcome[Any] | None:
    """Return the outcome of the worker's job, or None where it only told how far it is."""
    index = worker.index
    assert index is not None
    try:
        what, *words = worker.connection.recv()
    except (EOFError, OSError):
        worker.process.join(timeout=5.0)
        return Outcome(index, None, _crashed(worker.process.exitcode))
    if what == "progress":
        progress(index, *words)
        return None
    worker.index = None
    return Outcome(index, words[0], None) if what == "done" else Outcome(index, None, words[0])


def _crashed(exit_status: int | None) -> OutgrownError:
    killed = exit_status is not None and exit_status < 0
    name = signal.Signals(-exit_status).name if killed and exit_status is not None else f"exit status {exit_status}"
    return OutgrownError(
        f"The process that worked on it was ended from outside or crashed ({name}), perhaps for want of memory.",
        "Try this photo again with --jobs 1, or save a smaller copy of it.",
    )


def _serve(connection: Connection, work: Callable[[Any, Progress], Any]) -> None:
    """Do the jobs that come until the other side is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    last = 0.0

    def tell(step: str, share: float) -> None:
        nonlocal last
        if time.monotonic() - last > _GLANCE_S:
            last = time.monotonic()
            connection.send(("progress", step, share))

    while True:
        try:
            job = connection.recv()
        except (EOFError, OSError):
            return
        try:
            answer = ("done", work(job, tell))
        except OutgrownError as error:
            answer = ("failed", OutgrownError(error.problem, error.advice))
        except MemoryError:
            answer = ("failed", _no_memory())
        except (BrokenPipeError, ConnectionResetError):
            return
        except Exception as error:
            answer = ("failed", _ours(error))
        try:
            connection.send(answer)
        except OSError:
            return


def _no_memory() -> OutgrownError:
    return OutgrownError("There is not enough memory for this photo.", "Save a smaller copy and try again.")


def _ours(error: Exception) -> OutgrownError:
    """Return the sentence for a fault of the program, with the file that holds what happened."""
    from ..faults import write_fault

    return OutgrownError(f"That was our fault, not yours; what happened is in {write_fault(error)}.")


@contextlib.contextmanager
def _environment() -> Iterator[None]:
    """Let processes started meanwhile use one thread each."""
    before = {name: os.environ.get(name) for name in _ONE_THREAD}
    os.environ.update(dict.fromkeys(_ONE_THREAD, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value

"""Workshop: a bounded queue of long tasks and the processes that do them.

A task runs in a process of its own, so it can be stopped at once and may crash without taking the page with it: what
the person gave lies on disk, and the next process starts anew from it.
"""

import contextlib
import logging
import multiprocessing
import os
import threading
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from multiprocessing.connection import Connection
from typing import Any

from ..errors import OutgrownError
from ..faults import write_fault
from .tasks import TASKS

MOST_WAITING = 12
"""More tasks than this are not taken; each may need a minute."""


class State(StrEnum):
    """How far a task has come."""

    WAITING = "waiting"
    WORKING = "working"
    DONE = "done"
    REFUSED = "refused"
    STOPPED = "stopped"
    CRASHED = "crashed"


ENDED = (State.DONE, State.REFUSED, State.STOPPED, State.CRASHED)


class BusyError(OutgrownError, RuntimeError):
    """Too much is waiting already."""


@dataclass(eq=False)
class Ticket:
    """One task given to the workshop; read it as often as you like.

    Attributes:
        task: its name in `TASKS`.
        values: what it is given.
        state: how far it has come.
        doing: a few words.
        share: of the task that is done, 0..1.
        result: when done.
        problem: why it was refused, one sentence.
        advice: what to do about it, one sentence.
        ended: set when there is nothing more to wait for.
    """

    task: str
    values: Mapping[str, Any]
    state: State = State.WAITING
    doing: str = "waiting for its turn"
    share: float = 0.0
    result: Any = None
    problem: str = ""
    advice: str = ""
    ended: threading.Event = field(default_factory=threading.Event)

    def end(self, state: State, problem: str = "", advice: str = "", result: Any = None) -> None:
        """Say how it ended; only the first time counts."""
        if not self.ended.is_set():
            self.problem, self.advice, self.result = problem, advice, result
            self.state = state
            self.ended.set()


def _busy() -> BusyError:
    return BusyError("Too many photos are being worked on.", "Wait until some are done and try again.")


class Workshop:
    """Processes that do tasks, one each at a time.

    Args:
        benches: how many tasks are done side by side.
        most_waiting: how many may wait.
    """

    def __init__(self, benches: int | None = None, most_waiting: int = MOST_WAITING) -> None:
        self._waiting: deque[Ticket] = deque()
        self._most_waiting = most_waiting
        self._change = threading.Condition()
        self._is_open = True
        count = benches or min(2, os.cpu_count() or 1)
        self._benches = [_Bench() for _ in range(count)]
        self._threads = [
            threading.Thread(target=self._serve, args=(bench,), name=f"bench {number}", daemon=True)
            for number, bench in enumerate(self._benches)
        ]
        for thread in self._threads:
            thread.start()

    def give(self, task: str, values: Mapping[str, Any]) -> Ticket:
        """Queue a task and return its ticket.

        Raises:
            BusyError: too many are waiting.
        """
        ticket = Ticket(task, values)
        with self._change:
            if len(self._waiting) >= self._most_waiting:
                raise _busy()
            self._waiting.append(ticket)
            self._change.notify()
        return ticket

    def check_room(self) -> None:
        """Refuse now what would be refused later, before a photo is taken.

        Raises:
            BusyError: too many are waiting.
        """
        with self._change:
            if len(self._waiting) >= self._most_waiting:
                raise _busy()

    def stop(self, ticket: Ticket) -> None:
        """Stop a task, waiting or at work; a task that has ended stays as it is."""
        with self._change:
            with contextlib.suppress(ValueError):
                self._waiting.remove(ticket)
            ticket.end(State.STOPPED, "Stopped.", "Start it again when you like.")
            for bench in self._benches:
                if bench.ticket is ticket:
                    bench.kill()

    def close(self) -> None:
        """Stop everything."""
        with self._change:
            self._is_open = False
            for ticket in self._waiting:
                ticket.end(State.STOPPED, "The program is ending.")
            self._waiting.clear()
            for bench in self._benches:
                if bench.ticket is not None:
                    bench.ticket.end(State.STOPPED, "The program is ending.")
                bench.kill()
            self._change.notify_all()
        for thread in self._threads:
            thread.join(5.0)
        for bench in self._benches:
            bench.end()

    def processes(self) -> list[int]:
        """Return the process numbers at work or idle."""
        return [pid for bench in self._benches if (pid := bench.pid()) is not None]

    def _serve(self, bench: "_Bench") -> None:
        while True:
            with self._change:
                while self._is_open and not self._waiting:
                    self._change.wait()
                if not self._is_open:
                    return
                ticket = self._waiting.popleft()
                bench.ticket = ticket
                ticket.state = State.WORKING
            bench.work(ticket)
            with self._change:
                bench.ticket = None


class _Bench:
    """One process, started when first needed and again after it was killed."""

    def __init__(self) -> None:
        self.ticket: Ticket | None = None
        self._process: multiprocessing.process.BaseProcess | None = None
        self._line: Connection[Any, Any] | None = None
        self._starting = threading.Lock()

    def pid(self) -> int | None:
        process = self._process
        return process.pid if process is not None and process.is_alive() else None

    def kill(self) -> None:
        process = self._process
        if process is not None:
            process.kill()

    def end(self) -> None:
        """End the process and wait until it has."""
        self._forget()

    def work(self, ticket: Ticket) -> None:
        try:
            line = self._open_line()
            line.send((ticket.task, dict(ticket.values)))
            while not ticket.ended.is_set():
                kind, *said = line.recv()
                if kind == "progress":
                    ticket.doing, ticket.share = said
                elif kind == "done":
                    ticket.end(State.DONE, result=said[0])
                elif kind == "refused":
                    ticket.end(State.REFUSED, *said)
                else:
                    logging.getLogger(__name__).error("That was our fault; what happened is in %s", said[0])
                    ticket.end(State.CRASHED, "That was our fault, not yours.", "Try again; your photo is safe.")
            if ticket.state is State.STOPPED:
                self._forget()
        except (EOFError, OSError):
            self._forget()
            ticket.end(
                State.CRASHED,
                "The work broke off: perhaps there was not enough memory.",
                "Your photo is safe. Close other programs and try again, or use a smaller copy of the photo.",
            )

    def _open_line(self) -> "Connection[Any, Any]":
        if self._line is None or self._process is None or not self._process.is_alive():
            self._forget()
            context = multiprocessing.get_context("spawn")
            self._line, theirs = context.Pipe()
            self._process = context.Process(target=_do_tasks, args=(theirs,), daemon=True)
            self._process.start()
            theirs.close()
        return self._line

    def _forget(self) -> None:
        if self._process is not None:
            self._process.kill()
            self._process.join(5.0)
        if self._line is not None:
            self._line.close()
        self._process = self._line = None


def _do_tasks(line: "Connection[Any, Any]") -> None:
    """Do one task after another, in a process of its own, until the line is closed."""
    # Read when numpy is loaded: many small products of matrices wait for one another in threads.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    while True:
        try:
            task, values = line.recv()
        except (EOFError, OSError, KeyboardInterrupt):
            return

        def progress(step: str, share: float) -> None:
            line.send(("progress", step, share))

        try:
            line.send(("done", TASKS[task](values, progress)))
        except OutgrownError as error:
            line.send(("refused", error.problem, error.advice))
        except MemoryError:
            line.send(("refused", "There is not enough memory for this photo.", "Save a smaller copy and try again."))
        except (EOFError, OSError, KeyboardInterrupt):
            return
        except Exception as error:
            line.send(("fault", write_fault(error)))

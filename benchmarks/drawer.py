"""What the drawer bears: kills at random moments, several writers at once, a full disk; and how long a long list takes.

    python benchmarks/drawer.py kills [--count 500]
    python benchmarks/drawer.py writers [--writers 2] [--operations 200]
    python benchmarks/drawer.py full [--room 2m]      a small tmpfs as root, else a limit on the size of files
    python benchmarks/drawer.py list [--patterns 2000]

Each ends with an error where something was lost or half-written. Processes are forked, so not on Windows.
"""

from __future__ import annotations

import json
import os
import random
import resource
import shutil
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import click
from PIL import Image

from outgrown.drawer.entry import DRAWING, HEADER, PATTERN, Entry, State, digest
from outgrown.drawer.keeping import (
    empty_bin,
    note,
    prepare_pattern,
    put_in,
    put_in_bin,
    put_in_held,
    rename,
    take_from_bin,
)
from outgrown.drawer.listing import list_entries
from outgrown.drawer.packing import pack, unpack
from outgrown.drawer.place import Drawer, writing
from outgrown.drawer.searching import Wanted, find_entries
from outgrown.errors import TargetError

ROOT = Path(__file__).resolve().parents[1]
SAMPLE = ROOT / "tests" / "drawer" / "kept" / "schema-1.json"
_PACKED = 3
_SHORT_S = 0.003
"""A change that needs no drawing takes about so long."""
_CHANGES = ("keep",) * 4 + ("unpack",) * 2 + ("rename", "note", "restore") + ("bin",) * 4 + ("empty",) * 2


def sample(number: int) -> bytes:
    """Return a pattern.json unlike those of other numbers."""
    kinds = ("leggings", "skirt", "shorts", "t-shirt")
    document = json.loads(SAMPLE.read_bytes())
    document |= {
        "title": f"{kinds[number % 4].capitalize()} no. {number}",
        "for_whom": f"{('Mika', 'Zoë', 'Bo')[number % 3]}, {92 + 6 * (number % 7)} cm",
        "made_on": f"{2020 + number % 7}-{1 + number % 12:02d}-{1 + number % 28:02d}",
    }
    document["provenance"]["taken"] = {"kind": kinds[number % 4], "laid": "folded"}
    return json.dumps(document, ensure_ascii=False).encode("utf-8")


class Lost(SystemExit):
    """The drawer does not hold what it must."""


def read_state(drawer: Drawer) -> dict[str, Entry]:
    """Return ID -> entry of drawer and bin, every file read and found whole.

    Raises:
        Lost: one is not, or the cache tells another story than the files.
    """
    seen = {}
    for is_binned in (False, True):
        entries = list_entries(drawer, is_binned=is_binned)
        if entries != list_entries(drawer, is_binned=is_binned, use_cache=False):
            raise Lost("the cache differs from the files")
        for entry in entries:
            folder = drawer.folder / entry.place
            json.loads((folder / HEADER).read_bytes())
            Image.open(folder / DRAWING).load()
            if (
                entry.state is not State.GOOD
                or entry.trouble
                or digest((folder / PATTERN).read_bytes()) != entry.sha256
            ):
                raise Lost(f"{entry.place} is not whole: {entry.trouble}")
            if entry.id in seen:
                raise Lost(f"{entry.id} is in the drawer and in the bin")
            seen[entry.id] = entry
    return seen


def work(drawer: Drawer, packed: Path, told: int, seed: int) -> None:
    """Change the drawer at random for ever, telling the file `told` before and after each change."""
    rng = random.Random(seed)
    samples = [prepare_pattern(sample(n)) for n in range(4)]

    def tell(*words: object) -> None:
        os.write(told, (json.dumps(words) + "\n").encode())

    tell("ready")
    while True:
        inside, binned = list_entries(drawer), list_entries(drawer, is_binned=True)
        made: list[tuple[str, str]] = []
        what = rng.choice(_CHANGES)
        if what == "keep" and len(inside) < 60:
            name = f"Kept {rng.random()}"
            tell(what, name)
            kept = put_in(drawer, replace(rng.choice(samples), name=name))
            made = [(kept.entry.id, name)]
        elif what == "rename" and inside:
            entry, name = rng.choice(inside), f"Renamed {rng.random()}"
            tell(what, entry.id, name)
            rename(drawer, entry, name)
        elif what == "note" and inside:
            entry, words = rng.choice(inside), f"Noted {rng.random()}"
            tell(what, entry.id, words)
            note(drawer, entry, words, is_instead=True)
        elif what == "bin" and inside:
            entry = rng.choice(inside)
            tell(what, entry.id)
            put_in_bin(drawer, entry)
        elif what == "restore" and binned:
            entry = rng.choice(binned)
            tell(what, entry.id)
            take_from_bin(drawer, entry)
        elif what == "unpack" and len(inside) < 60:
            tell(what)
            made = [(kept.entry.id, kept.entry.name) for kept in unpack(drawer, packed).kept if kept.is_new]
        elif what == "empty" and len(binned) > 10:
            tell(what, [entry.id for entry in binned])
            empty_bin(drawer, binned)
        else:
            continue
        tell("done", made)


def judge(before: dict[str, Entry], after: dict[str, Entry], told: list[list]) -> str:
    """Return what was going on when the process was killed; `after` must follow from `before` and what was `told`.

    Raises:
        Lost: it does not.
    """
    known = {ident: (entry.name, entry.notes, bool(entry.binned_on)) for ident, entry in before.items()}
    change: list = ["between"]
    for words in told[1:]:
        if words[0] == "done":
            known = changed(known, change, words[1])
            change = ["between"]
        else:
            change = words
    now = {ident: (entry.name, entry.notes, bool(entry.binned_on)) for ident, entry in after.items()}
    new = set(now) - set(known)
    if len(new) > {"keep": 1, "unpack": _PACKED}.get(change[0], 0):
        raise Lost(f"{new} appeared, while: {change[0]}")
    wanted = known if change[0] in ("keep", "unpack", "between") else changed(known, change, [])
    for ident, state in known.items():
        if now.get(ident) not in (state, wanted.get(ident)):
            raise Lost(f"{ident} is neither as before nor as after, while: {change[0]}")
    return str(change[0])


def changed(known: dict[str, tuple], change: list, made: list) -> dict[str, tuple]:
    """Return what is known of the patterns after a whole change that made the patterns `made` (ID, name)."""
    what, *words = change
    if what == "empty":
        return {ident: state for ident, state in known.items() if ident not in words[0]}
    after = known | {ident: (name, "", False) for ident, name in made}
    if what not in ("keep", "unpack"):
        name, notes, binned = known[words[0]]
        after[words[0]] = (
            words[1] if what == "rename" else name,
            words[1] if what == "note" else notes,
            {"bin": True, "restore": False}.get(what, binned),
        )
    return after


def kill_once(drawer: Drawer, packed: Path, seed: int, longest_s: float) -> tuple[list[list], bool]:
    """Fork a process that works and kill it; return what it told, and whether it left something unfinished."""
    reading, telling = os.pipe()
    child = os.fork()
    if not child:
        try:
            os.close(reading)
            work(drawer, packed, telling, seed)
        except BaseException as error:
            os.write(telling, (json.dumps(["failed", repr(error)]) + "\n").encode())
        finally:
            os._exit(1)
    os.close(telling)
    with os.fdopen(reading, "rb") as file:
        rng = random.Random(seed)
        first = b"".join(file.readline() for _ in range(1 + rng.randrange(1, 20, 2)))  # up to the start of a change
        time.sleep(rng.uniform(0.0, longest_s if rng.random() < 0.3 else _SHORT_S))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        lines = (first + file.read()).splitlines()
    left = drawer.staging.is_dir() and any(drawer.staging.iterdir())
    told = [json.loads(line) for line in lines]
    if any(words[0] == "failed" for words in told):
        raise Lost(f"a change failed: {told[-1][1]}")
    return told, left


@click.group()
def main() -> None:
    """Run one of the measurements."""


@contextmanager
def new_drawer(folder: Path | None = None) -> Iterator[Drawer]:
    with tempfile.TemporaryDirectory(prefix="drawer-", dir=folder) as place:
        yield Drawer(Path(place) / "drawer")


@main.command()
@click.option("--count", default=500, show_default=True)
@click.option("--longest", default=0.15, show_default=True, help="Kill after at most so many seconds of work.")
@click.option("--seed", default=1, show_default=True)
def kills(count: int, longest: float, seed: int) -> None:
    """Kill a working process at random moments, `--count` times within a change; read everything after each kill."""
    with new_drawer() as drawer, new_drawer() as other:
        for number in range(10, 10 + _PACKED):
            put_in(other, prepare_pattern(sample(number)))
        packed = other.folder / "packed.zip"
        pack(other, list_entries(other), packed)
        state: dict[str, Entry] = {}
        during: dict[str, int] = {}
        unfinished = changes = rounds = 0
        while sum(during.values()) - during.get("between", 0) < count:
            told, left = kill_once(drawer, packed, seed * 100_000 + rounds, longest)
            after = read_state(drawer)
            going_on = judge(state, after, told)
            during[going_on] = during.get(going_on, 0) + 1
            unfinished += left
            changes += sum(words[0] == "done" for words in told)
            state = after
            rounds += 1
        with writing(drawer):
            left_over = list(drawer.staging.iterdir())
        if left_over:
            raise Lost("what killed processes left was not cleared")
    told_during = ", ".join(f"{what} {n}" for what, n in sorted(during.items(), key=lambda pair: -pair[1]))
    click.echo(f"{rounds} kills, {count} of them within a change, {changes} whole changes beside them: {told_during}")
    click.echo(f"{unfinished} left something unfinished, cleared later; nothing lost, nothing half-written")


@main.command()
@click.option("--writers", "count", default=2, show_default=True)
@click.option("--operations", default=200, show_default=True)
def writers(count: int, operations: int) -> None:
    """Let several processes write at once, each into patterns of its own and all into one they share."""
    with new_drawer() as drawer:
        shared = put_in(drawer, prepare_pattern(sample(99))).entry
        start = time.perf_counter()
        children = []
        for writer in range(count):
            child = os.fork()
            if not child:
                try:
                    _write_much(drawer, shared, writer, operations)
                    os._exit(0)
                except BaseException as error:
                    click.echo(repr(error), err=True)
                finally:
                    os._exit(1)
            children.append(child)
        if any(os.waitpid(child, 0)[1] for child in children):
            raise Lost("a writer failed")
        took = time.perf_counter() - start
        state = read_state(drawer)
        notes = state[shared.id].notes.splitlines()
        if sorted(notes) != sorted(f"{w} {n}" for w in range(count) for n in range(0, operations, 4)):
            raise Lost("a note is lost")
        named = sorted(entry.name for ident, entry in state.items() if ident != shared.id)
        if named != sorted(f"W{w} {n} again" for w in range(count) for n in range(1, operations, 4)):
            raise Lost("a pattern is lost")
        if sum(bool(entry.binned_on) for entry in state.values()) != count * len(range(3, operations, 4)):
            raise Lost("a pattern is not in the bin")
    click.echo(f"{count} writers, {operations} changes each, {took:.1f} s: nothing lost")


def _write_much(drawer: Drawer, shared: Entry, writer: int, operations: int) -> None:
    one = prepare_pattern(sample(writer))
    entry = shared
    for number in range(operations):
        if number % 4 == 0:
            note(drawer, shared, f"{writer} {number}")
        elif number % 4 == 1:
            entry = put_in(drawer, replace(one, name=f"W{writer} {number}")).entry
        elif number % 4 == 2:
            entry = rename(drawer, entry, f"{entry.name} again")
        else:
            put_in_bin(drawer, entry)


@main.command()
@click.option("--room", default="2m", show_default=True, help="Size of the small disk.")
@click.option("--no-disk", is_flag=True, help="Only limit the size of files, as where nothing may be mounted.")
def full(room: str, no_disk: bool) -> None:
    """Fill a small disk, and read everything after each change that failed."""
    place = Path(tempfile.mkdtemp(prefix="drawer-full-"))
    mount = ["mount", "-t", "tmpfs", "-o", f"size={room}", "tmpfs", str(place)]
    mounted = (
        hasattr(os, "geteuid") and os.geteuid() == 0 and subprocess.run(mount, capture_output=True).returncode == 0
    )
    if not mounted:  # no file may grow beyond half a pattern from the third pattern on
        click.echo("no small disk can be mounted here; a limit on the size of files does instead")
    try:
        drawer = Drawer(place / "drawer")
        one = prepare_pattern(sample(0))
        kept: dict[str, str] = {}
        refused = 0
        while refused < 5:
            if not mounted and len(kept) == 3:
                resource.setrlimit(resource.RLIMIT_FSIZE, (len(one.content) // 2, resource.RLIM_INFINITY))
            name = f"Kept {len(kept)}"
            try:
                kept[put_in(drawer, replace(one, name=name)).entry.id] = name
            except TargetError as error:
                refused += 1
                said = str(error)
            if {ident: entry.name for ident, entry in read_state(drawer).items()} != kept:
                raise Lost("not exactly what was kept is there")
        outcomes = []
        for number, entry in enumerate(list(read_state(drawer).values())[:3]):
            for change in (
                lambda e=entry, n=number: rename(drawer, e, f"Renamed {n}"),
                lambda e=entry: note(drawer, e, "a long note " * 20_000),
                lambda e=entry: put_in_bin(drawer, e),
            ):
                try:
                    change()
                    outcomes.append("done")
                except TargetError:
                    outcomes.append("refused")
                if set(read_state(drawer)) != set(kept):
                    raise Lost("something is lost")
        binned = list_entries(drawer, is_binned=True)
        deleted = empty_bin(drawer, binned)
        if not mounted:
            resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        put_in(drawer, replace(one, name="Room again"))
        if len(read_state(drawer)) != len(kept) - deleted + 1:
            raise Lost("something is lost")
    finally:
        if mounted:
            subprocess.run(["umount", str(place)], check=True)
        shutil.rmtree(place, ignore_errors=True)
    click.echo(f"{len(kept)} patterns kept until the disk was full; then: {said}")
    click.echo(f"on the full disk: {outcomes.count('done')} changes done, {outcomes.count('refused')} refused whole")
    click.echo(f"{deleted} deleted from the bin, and there was room again; nothing lost, nothing half-written")


@main.command("list")
@click.option("--patterns", "count", default=2000, show_default=True)
@click.option("--runs", default=7, show_default=True)
def long_list(count: int, runs: int) -> None:
    """Time the list and a search, beside reading every entry.json plainly."""
    with new_drawer() as drawer:
        fsync, os.fsync = os.fsync, lambda _: None
        ready = prepare_pattern(sample(0))
        with writing(drawer):
            for number in range(count):
                put_in_held(drawer, replace(ready, content=sample(number), notes=f"Note {number}."), (), ())
        os.fsync = fsync
        size = sum(path.stat().st_size for path in drawer.patterns.rglob("*.json"))
        click.echo(f"{count} patterns, {size / 1e6:.0f} MB of pattern.json and entry.json")

        def plain() -> int:
            return len([json.loads((f / HEADER).read_bytes()) for f in drawer.patterns.iterdir()])

        def no_cache() -> int:
            drawer.cache.unlink(missing_ok=True)
            return len(list_entries(drawer))

        def search() -> int:
            return len(
                find_entries(list_entries(drawer), Wanted(("no. 1", "note"), "zoe", "skirt", "2022", "", (104, 116)))
            )

        def command(*words: str) -> int:
            with tempfile.TemporaryFile() as output:
                run = [sys.executable, "-m", "outgrown", "drawer", *words, "--drawer", str(drawer.folder)]
                subprocess.run(run, check=True, stdout=output)
            return count

        def command_help() -> int:
            run = [sys.executable, "-m", "outgrown", "drawer", "--help"]
            subprocess.run(run, check=True, stdout=subprocess.DEVNULL)
            return count

        jobs = {
            "plain: every entry.json": plain,
            "list, no cache": no_cache,
            "list": lambda: len(list_entries(drawer)),
            "search": search,
            "outgrown drawer list": lambda: command("list"),
            "outgrown drawer find": lambda: command("find", "note", "zoe", "--size", "110"),
            "outgrown drawer --help": lambda: command_help(),
        }
        base = 0.0
        for name, job in jobs.items():
            cold = _cold(job) if _drop_caches() else None
            warm = statistics.median(_time(job) for _ in range(runs))
            base = base or warm
            told = "" if cold is None else f"   first, disk unread {1000 * cold:5.0f} ms"
            click.echo(f"{name:26} {1000 * warm:5.0f} ms  {warm / base:5.2f} x plain{told}")


def _time(job) -> float:
    start = time.perf_counter()
    job()
    return time.perf_counter() - start


def _drop_caches() -> bool:
    """Make the system forget what it read of the disk, where this is allowed."""
    try:
        os.sync()
        Path("/proc/sys/vm/drop_caches").write_text("3")
    except OSError:
        return False
    return True


def _cold(job) -> float:
    _drop_caches()
    return _time(job)


if __name__ == "__main__":
    main()

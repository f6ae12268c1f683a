"""A whole wardrobe: many photos, each made into a pattern of its own, several at a time."""

import contextlib
import signal
import threading
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import click

from ..drawer.folder import check_target, write_folder
from ..drawer.place import Drawer
from ..errors import OutgrownError
from ..progress import Progress
from ..units import Units
from .bar import progress_bar
from .capacity import choose_jobs
from .drawer_words import keep_folder
from .made_from import There, describe_origin, look_into, read_facts
from .making import FILES, Made, make_files
from .photos import check_there, name_folders
from .tables import shorten, write_table
from .workers import run_jobs

_OF_ONE_PHOTO = {
    "back": "--back",
    "reference_at_px": "--reference-at",
    "reference_corners_px": "--reference-corners",
    "no_references_px": "--no-reference",
    "garment_at_px": "--garment",
    "floor_at_px": "--floor-at",
    "pulls_px": "--pull",
    "corners_px": "--corner",
}
"""Options that tell something of one photo."""
_WIDEST = 40
_BACK_HINT = (
    "Two photos made two patterns. If they show the front and the back of one pair: "
    "outgrown pattern FRONT.jpg --back BACK.jpg"
)


class WardrobeError(OutgrownError, ValueError):
    """Not every photo gave a pattern."""


class StoppedError(OutgrownError, InterruptedError):
    """The person stopped the work."""

    exit_status = 130


@dataclass(frozen=True)
class _Row:
    """A line of the summary."""

    photo: Path
    garment: str = ""
    error_mm: float | None = None
    told: str = ""
    warnings: tuple[str, ...] = ()
    is_well: bool = True


def make_wardrobe(
    photos: Sequence[Path],
    out: Path | None,
    options: Mapping[str, Any],
    *,
    jobs: int | None = None,
    may_replace: bool = False,
    keep_in: Drawer | None = None,
) -> None:
    """Make a pattern of each photo in a folder of its own, and write a summary.

    Args:
        photos: of different garments.
        out: folder of the folders; None for where we are.
        options: of `make_files`, the same for all.
        jobs: processes at once; None for as many as fit.
        may_replace: make again and write over what is there.
        keep_in: put each pattern into this drawer too.

    Raises:
        WardrobeError: an option belongs to one photo, or not every photo gave a pattern.
        StoppedError: the person stopped the work; every folder written is whole.
    """
    for name, option in _OF_ONE_PHOTO.items():
        if options.get(name):
            raise WardrobeError(
                f"{option} tells something of one photo, and {len(photos)} photos are given.",
                "Give that photo alone.",
            )
    folders = [Path(out or "") / name for name in name_folders(photos)]
    is_named = options.get("title") is not None
    rows: dict[int, _Row] = {}
    origins = [describe_origin(photo, options) for photo in photos]
    for index, (photo, folder, origin) in enumerate(zip(photos, folders, origins, strict=True)):
        row = None if may_replace or not origin else _row_of_what_is_there(photo, folder, origin)
        if row is not None:
            rows[index] = _kept_too(row, folder, keep_in, is_named) if row.is_well else row
    todo = [index for index in range(len(photos)) if index not in rows]
    given = [(photos[index], {**options, "made_from": origins[index]}) for index in todo]
    with progress_bar() as progress, _asking_first() as is_stopped:
        told = _Progress(progress, photos, todo, len(rows))
        for outcome in run_jobs(_make, given, jobs or choose_jobs(len(todo)), told, is_stopped):
            index = todo[outcome.index]
            rows[index] = _finish(photos[index], folders[index], outcome.result, outcome.error, may_replace)
            if rows[index].is_well:
                rows[index] = _kept_too(rows[index], folders[index], keep_in, is_named)
            told.finish(outcome.index)
        was_stopped = is_stopped()
    if rows:
        click.echo(
            "\n".join(_summary([rows[index] for index in sorted(rows)], Units(options.get("units") or Units.MM)))
        )
    well = sum(row.is_well for row in rows.values())
    if was_stopped and len(rows) < len(photos):
        raise StoppedError(
            f"Stopped after {len(rows)} of {len(photos)} photos; what is written is whole.",
            "The same command goes on where it stopped.",
        )
    if len(photos) == 2 and well:
        click.echo(f"\n- {_BACK_HINT}")
    if well < len(photos):
        raise WardrobeError(
            f"{len(photos) - well} of {len(photos)} photos gave no pattern.",
            "The table says why; the same command then makes only what is missing.",
        )


def _make(job: tuple[Path, dict[str, Any]], progress: Progress) -> Made:
    """Make one pattern, in a worker."""
    photo, options = job
    check_there(photo)
    return make_files(photo, progress, **options)


def _row_of_what_is_there(photo: Path, folder: Path, origin: Mapping[str, str]) -> _Row | None:
    """Return the row of a photo that needs no work or may not be worked on, or None."""
    there = look_into(folder, origin, None)
    if there is There.SAME:
        garment, error_mm = read_facts(folder)
        return _Row(photo, garment, error_mm, f"{folder} (made before; --replace makes it again)")
    if there is not There.NOTHING:
        told = f"“{folder}” holds {there.value}. Say --replace to write over it, or another --out."
        return _Row(photo, told=told, is_well=False)
    try:
        check_target(folder, FILES)
    except OutgrownError as error:
        return _Row(photo, told=str(error), is_well=False)
    return None


def _finish(photo: Path, folder: Path, made: Made | None, error: OutgrownError | None, may_replace: bool) -> _Row:
    """Write what a worker made, and return its row."""
    if made is not None:
        # pattern.json last: where files are replaced one by one, it vouches for the others.
        files = {name: made.files[name] for name in sorted(made.files, key=lambda name: name == "pattern.json")}
        try:
            write_folder(folder, files, may_replace)
        except OutgrownError as failed:
            error = failed
        else:
            return _Row(photo, made.garment, made.error_mm, str(folder), made.warnings)
    return _Row(photo, told=str(error), is_well=False)


def _kept_too(row: _Row, folder: Path, keep_in: Drawer | None, is_named: bool) -> _Row:
    """Put the pattern in `folder` into the drawer where this is wished; the photos' names tell the nameless apart."""
    if keep_in is None:
        return row
    try:
        keep_folder(
            folder, keep_in, name=None if is_named else f"{row.garment}, {row.photo.stem}", is_known_by_content=True
        )
    except OutgrownError as error:
        return replace(row, told=f"{folder}, but it was not kept: {error}", is_well=False)
    return row


def _summary(rows: Sequence[_Row], units: Units) -> list[str]:
    table = [
        (
            shorten(str(row.photo), _WIDEST),
            row.garment,
            "" if row.error_mm is None else units.said(f"{row.error_mm:.1f} mm"),
            row.told if row.is_well else f"! {units.said(row.told)}",
        )
        for row in rows
    ]
    lines = write_table(("photo", "garment", "error", "pattern in, or what to do"), table, right=(2,))
    warned = [row for row in rows if row.warnings]
    if warned:
        lines += ["", "Before you cut:"]
        lines += [f"  {row.photo.name}: {said.removeprefix('! ')}" for row in warned for said in row.warnings]
    return lines


class _Progress:
    """One bar for all photos."""

    def __init__(self, bar: Progress, photos: Sequence[Path], todo: Sequence[int], before: int) -> None:
        self._bar, self._photos, self._todo, self._before = bar, photos, todo, before
        self._shares: dict[int, float] = {}
        self._done: set[int] = set()

    def __call__(self, index: int, step: str, share: float) -> None:
        """Draw that a photo has come so far."""
        self._shares[index] = share
        whole = len(self._done) + sum(s for i, s in self._shares.items() if i not in self._done)
        photo = self._photos[self._todo[index]]
        told = f"{self._before + len(self._done)} of {len(self._photos)} done; {photo.name}: {step}"
        self._bar(shorten(told, 50), (self._before + whole) / len(self._photos))

    def finish(self, index: int) -> None:
        """Draw that a photo is done."""
        self._done.add(index)
        self(index, "done", 1.0)


@contextlib.contextmanager
def _asking_first() -> Iterator[Any]:
    """Yield a function that tells whether Ctrl-C was pressed; nothing is broken off by it meanwhile."""
    stopped = threading.Event()
    if threading.current_thread() is not threading.main_thread():
        yield stopped.is_set
        return
    before = signal.signal(signal.SIGINT, lambda *_: stopped.set())
    try:
        yield stopped.is_set
    finally:
        signal.signal(signal.SIGINT, before)

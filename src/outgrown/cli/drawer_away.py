"""`outgrown drawer`: carrying patterns elsewhere, putting them away, and looking after them."""

import sys
from datetime import date, timedelta
from pathlib import Path

import click

from ..drawer.entry import State
from ..drawer.listing import list_entries
from ..drawer.place import find_drawer
from ..errors import ArchiveError, OutgrownError
from .drawer_words import called, count_patterns, drawer_option


@click.command()
@click.argument("target", metavar="FILE", type=click.Path(path_type=Path))
@click.argument("names", nargs=-1, metavar="[NAME]...")
@click.option("--replace", "may_replace", is_flag=True, help="Write over what is there.")
@drawer_option
def pack(target: Path, names: tuple[str, ...], may_replace: bool, drawer_folder: Path | None) -> None:
    """Pack patterns into one file to carry elsewhere.

    FILE becomes a zip of plain files, of the patterns named, or of all.
    """
    from ..drawer.opening import find_entry
    from ..drawer.packing import pack as pack_entries

    where = find_drawer(drawer_folder)
    named = {entry.id: entry for entry in (find_entry(where, name) for name in names)}
    there = list(named.values()) if names else list_entries(where)
    good = [entry for entry in there if names or entry.state is not State.DAMAGED]
    if not good:
        raise ArchiveError(f"There is nothing to pack in {where.folder}.", "Name the drawer with --drawer.")
    pack_entries(where, good, target, may_replace)
    click.echo(f"Packed {count_patterns(len(good))}: {target}")
    for entry in there:
        if entry not in good:
            click.echo(f"! Left out: {called(entry)}. {entry.trouble}")


@click.command()
@click.argument("source", metavar="FILE", type=click.Path(path_type=Path))
@drawer_option
def unpack(source: Path, drawer_folder: Path | None) -> None:
    """Bring the patterns of a packed file in.

    Nothing in the drawer is written over.
    """
    from ..drawer.packing import unpack as unpack_file
    from .bar import progress_bar

    where = find_drawer(drawer_folder)
    with progress_bar() as progress:
        done = unpack_file(where, source, progress)
    new = [kept.entry for kept in done.kept if kept.is_new]
    click.echo(f"Brought in {count_patterns(len(new))}; {len(done.kept) - len(new)} there already.")
    for entry in new:
        click.echo(f"  {called(entry)}")
    for ident, why in done.refused:
        click.echo(f"! {ident}: {why}")
    if done.refused:
        raise ArchiveError(
            f"{count_patterns(len(done.refused))} could not be brought in.", "Pack them again where they came from."
        )


@click.command("bin")
@click.argument("names", nargs=-1, required=True, metavar="NAME...")
@drawer_option
def put_away(names: tuple[str, ...], drawer_folder: Path | None) -> None:
    """Put patterns into the bin.

    `outgrown drawer restore` takes them out again.
    """
    from ..drawer.keeping import put_in_bin
    from ..drawer.opening import find_entry

    where = find_drawer(drawer_folder)
    for entry in [find_entry(where, name) for name in names]:
        put_in_bin(where, entry)
        click.echo(f"In the bin: {called(entry)}. “outgrown drawer restore {entry.id}” takes it out again.")


@click.command()
@click.argument("names", nargs=-1, required=True, metavar="NAME...")
@drawer_option
def restore(names: tuple[str, ...], drawer_folder: Path | None) -> None:
    """Take patterns out of the bin."""
    from ..drawer.keeping import take_from_bin
    from ..drawer.opening import find_entry

    where = find_drawer(drawer_folder)
    for entry in [find_entry(where, name, is_binned=True) for name in names]:
        take_from_bin(where, entry)
        click.echo(f"Back in the drawer: {called(entry)}.")


@click.command("empty-bin")
@click.option(
    "--older-than",
    "days",
    type=click.IntRange(min=0),
    default=0,
    metavar="DAYS",
    help="Only what has lain in it so long.",
)
@click.option("--yes", "is_sure", is_flag=True, help="Do not ask.")
@drawer_option
def empty_the_bin(days: int, is_sure: bool, drawer_folder: Path | None) -> None:
    """Delete for good what lies in the bin."""
    from ..drawer.keeping import empty_bin

    where = find_drawer(drawer_folder)
    last = (date.today() - timedelta(days=days)).isoformat()
    entries = [entry for entry in list_entries(where, is_binned=True) if entry.binned_on <= last]
    if not entries:
        click.echo("There is nothing to delete.")
        return
    for entry in entries:
        click.echo(f"  {called(entry)}, in the bin since {entry.binned_on}")
    if not is_sure and not _is_asked(f"Delete {count_patterns(len(entries))} for good?"):
        click.echo("Nothing was deleted.")
        return
    click.echo(f"Deleted {count_patterns(empty_bin(where, entries))}.")


@click.command()
@drawer_option
def check(drawer_folder: Path | None) -> None:
    """Read every pattern wholly; say which are damaged."""
    from ..drawer.checking import check_drawer
    from .bar import progress_bar

    where = find_drawer(drawer_folder)
    with progress_bar() as progress:
        count, found = check_drawer(where, progress)
    for entry, trouble in found:
        click.echo(f"! {called(entry)}: {trouble}")
    click.echo(f"Read {count_patterns(count)}; to look at: {len(found)}.")
    if found:
        raise ArchiveError("Not every pattern in the drawer is well.", "The lines above say what to do.")


def _is_asked(question: str) -> bool:
    if not sys.stdin.isatty():
        raise OutgrownError("Nobody is there to ask, so nothing was deleted.", "Say --yes to delete without asking.")
    return click.confirm(question)

"""`outgrown drawer`: the patterns a person keeps."""

import re
from pathlib import Path

import click

from ..drawer.entry import State
from ..drawer.listing import list_entries
from ..drawer.place import find_drawer
from ..drawer.searching import Wanted, find_entries
from .drawer_away import check, empty_the_bin, pack, put_away, restore, unpack
from .drawer_compare import compare
from .drawer_words import called, drawer_option, keep_folder, plain, tell_entries, write_entries_json
from .name_type import NAME

_json_option = click.option("--json", "as_json", is_flag=True, help="As JSON, for scripts.")
_replace_option = click.option("--replace", "may_replace", is_flag=True, help="Write over what is there.")


class _InOrder(click.Group):
    """Lists its commands in the order a person needs them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names."""
        return list(self.commands)


@click.group(cls=_InOrder, context_settings={"help_option_names": ["-h", "--help"]})
def drawer() -> None:
    """Keep patterns in one folder, and find them again.

    NAME is a pattern's name in the drawer, a part of it, or its ID. Every command that takes a kept pattern takes NAME
    too: `outgrown grow NAME --longer 2cm`.
    """


@drawer.command()
@click.argument("places", nargs=-1, required=True, metavar="FOLDER...", type=click.Path(path_type=Path))
@click.option("--name", type=NAME, default=None, help="Name in the drawer. Default: the pattern's.")
@click.option(
    "--for", "for_whom", type=NAME, default=None, metavar="WHO", help="For whom, or which size. Default: the pattern's."
)
@click.option("--note", default="", help="A note to keep with it.")
@drawer_option
def keep(
    places: tuple[Path, ...], name: str | None, for_whom: str | None, note: str, drawer_folder: Path | None
) -> None:
    """Put patterns made before into the drawer.

    FOLDER is the folder of a pattern, or its pattern.json.
    """
    for place in places:
        click.echo(keep_folder(place, find_drawer(drawer_folder), name=name, for_whom=for_whom, notes=note))


@drawer.command("list")
@click.option("--binned", "is_binned", is_flag=True, help="What lies in the bin.")
@_json_option
@drawer_option
def list_all(is_binned: bool, as_json: bool, drawer_folder: Path | None) -> None:
    """List what is in the drawer, the newest first."""
    where = find_drawer(drawer_folder)
    entries = list_entries(where, is_binned=is_binned)
    empty = f"The bin of the drawer {where.folder} is empty." if is_binned else f"The drawer {where.folder} is empty."
    tell_entries(entries, as_json, empty)


@drawer.command()
@click.argument("words", nargs=-1)
@click.option("--for", "for_whom", default="", metavar="WHO", help="For whom it was made.")
@click.option("--garment", default="", metavar="KIND", help="Which garment, e.g. leggings.")
@click.option("--since", default="", metavar="DATE", help="Made on this day or later: 2026, 2026-03 or 2026-03-14.")
@click.option("--until", default="", metavar="DATE", help="Made on this day or before.")
@click.option("--size", default="", metavar="CM", help="Body height it was made for: 110, or 104-116.")
@_json_option
@drawer_option
def find(
    words: tuple[str, ...],
    for_whom: str,
    garment: str,
    since: str,
    until: str,
    size: str,
    as_json: bool,
    drawer_folder: Path | None,
) -> None:
    """Find patterns by words, person, garment, date, size.

    WORDS are looked for in names, persons, garments, photos and notes; all that is said must hold.
    """
    wanted = Wanted(words, for_whom, garment, _day(since), _day(until), _sizes(size))
    if wanted == Wanted():
        raise click.UsageError("Say what to look for.", click.get_current_context())
    where = find_drawer(drawer_folder)
    entries = list_entries(where)
    tell_entries(
        find_entries(entries, wanted), as_json, f"None of the {len(entries)} patterns in {where.folder} is like that."
    )


@drawer.command()
@click.argument("name")
@_json_option
@drawer_option
def show(name: str, as_json: bool, drawer_folder: Path | None) -> None:
    """Show one pattern with its measurements and notes."""
    from ..drawer.opening import find_entry, open_entry
    from ..paper.words import choose_units
    from .wording import write_cut_list, write_findings, write_measurements

    where = find_drawer(drawer_folder)
    entry = find_entry(where, name)
    folder = where.folder / entry.place
    if as_json:
        click.echo(write_entries_json([entry]))
        return
    facts = [
        ("for", entry.for_whom),
        ("garment", entry.garment),
        ("pieces", ", ".join(entry.pieces)),
        ("made", entry.made_on),
        ("kept", entry.kept_on),
        ("photo", entry.photo),
        ("ID", entry.id),
        ("folder", str(folder)),
    ]
    lines = [entry.name, *(f"  {what:<8} {said}" for what, said in facts if said)]
    if entry.state is State.GOOD:
        pattern = open_entry(where, entry).pattern
        units = choose_units(pattern)
        lines += (
            ["Measured, lying flat:", *write_measurements(pattern.measurements, units)] if pattern.measurements else []
        )
        lines += ["To cut:", *write_cut_list(pattern), *write_findings(pattern.findings, units)]
    if entry.notes:
        lines += ["Notes:", *(f"  {line}" for line in entry.notes.splitlines())]
    if entry.trouble:
        lines.append(f"! {entry.trouble}")
    click.echo("\n".join(map(plain, lines)))


@drawer.command()
@click.argument("name")
@click.option("--out", "folder", type=click.Path(path_type=Path), help="Folder for the files. Default: ./NAME/")
@click.option(
    "--paper", default=None, metavar="SIZE", help="Paper of the printer: a4, letter, a3, a0 ... Default: as kept."
)
@_replace_option
@drawer_option
def take(name: str, folder: Path | None, paper: str | None, may_replace: bool, drawer_folder: Path | None) -> None:
    """Write a pattern's files out again, for any paper.

    The pages to print, the drawing and pattern.json; the pattern stays in the drawer.
    """
    from .. import steps
    from ..drawer.folder import check_target, write_folder
    from ..drawer.opening import find_entry, open_entry
    from .wording import write_files

    where = find_drawer(drawer_folder)
    opened = open_entry(where, find_entry(where, name))
    folder = folder or Path(opened.name)
    check_target(folder, ("pattern.pdf", "pattern.svg", "pattern.json"), may_replace)
    files = steps.draw_pattern_files(opened.pattern, paper)
    write_folder(folder, files, may_replace)
    click.echo("\n".join(write_files(folder, files)))


@drawer.command()
@click.argument("name")
@click.argument("new_name", type=NAME)
@click.option("--for", "for_whom", type=NAME, default=None, metavar="WHO", help="For whom it is now.")
@drawer_option
def rename(name: str, new_name: str, for_whom: str | None, drawer_folder: Path | None) -> None:
    """Give a pattern another name.

    What is printed from the drawer bears it.
    """
    from ..drawer import keeping
    from ..drawer.opening import find_entry

    where = find_drawer(drawer_folder)
    entry = find_entry(where, name)
    renamed = keeping.rename(where, entry, new_name, for_whom)
    click.echo(f"{called(entry)} is now {called(renamed)}.")


@drawer.command()
@click.argument("name")
@click.argument("text", nargs=-1, required=True)
@click.option("--instead", "is_instead", is_flag=True, help="In place of the notes there are. Default: a line more.")
@drawer_option
def note(name: str, text: tuple[str, ...], is_instead: bool, drawer_folder: Path | None) -> None:
    """Write a note beside a pattern.

    It is plain text, in notes.txt.
    """
    from ..drawer import keeping
    from ..drawer.opening import find_entry

    where = find_drawer(drawer_folder)
    noted = keeping.note(where, find_entry(where, name), " ".join(text), is_instead=is_instead)
    click.echo(f"Notes of {called(noted)}:")
    click.echo("\n".join(plain(f"  {line}") for line in noted.notes.splitlines()) or "  (none)")


def _day(text: str) -> str:
    if text and not re.fullmatch(r"\d{4}(-(0[1-9]|1[0-2])(-(0[1-9]|[12]\d|3[01]))?)?", text):
        raise click.UsageError(f"“{text}” is not a date; write it like 2026, 2026-03 or 2026-03-14.")
    return text


def _sizes(text: str) -> tuple[int, int] | None:
    if not text:
        return None
    match = re.fullmatch(r"(\d{2,3})(?:\s*[-–]\s*(\d{2,3}))?\s*(?:cm)?", text.strip())
    if not match:
        raise click.UsageError(f"“{text}” is not a body height in cm; write it like 110 or 104-116.")
    low, high = int(match[1]), int(match[2] or match[1])
    return min(low, high), max(low, high)


for command in (compare, pack, unpack, put_away, restore, empty_the_bin, check):
    drawer.add_command(command)

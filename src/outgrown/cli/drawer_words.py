"""The drawer's option and what the terminal says of kept patterns; shared by the commands that keep or open one."""

import json
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from ..drawer.entry import Entry, State
from ..drawer.listing import list_entries
from ..drawer.place import DRAWER_VARIABLE, Drawer
from ..errors import ArchiveError
from .tables import shorten, write_table

_WIDEST = 44
_SCHEMA = "outgrown-drawer-list/1"

keep_option = click.option(
    "--keep", "is_kept", is_flag=True, help="Put the pattern into the drawer too (see “outgrown drawer”)."
)
drawer_option = click.option(
    "--drawer",
    "drawer_folder",
    type=click.Path(path_type=Path, file_okay=False),
    envvar=DRAWER_VARIABLE,
    show_envvar=True,
    help="The drawer's folder. Default: “outgrown” among your documents.",
)


def keep_folder(
    place: Path,
    to: Drawer,
    *,
    name: str | None = None,
    for_whom: str | None = None,
    notes: str = "",
    is_known_by_content: bool = False,
) -> str:
    """Put the pattern in `place` into the drawer and return the sentence that says so.

    Args:
        place: its folder or its pattern.json.
        to: the drawer.
        name: in the drawer; None for the pattern's.
        for_whom: None for what the pattern says.
        notes: to keep with it.
        is_known_by_content: leave it at that where the same pattern is there under any name.
    """
    from ..drawer.entry import digest
    from ..drawer.keeping import prepare_pattern, put_in
    from ..drawer.opening import read_pattern_files

    content, check_picture = read_pattern_files(place)
    if is_known_by_content:
        known = [entry for entry in list_entries(to) if entry.sha256 == digest(content)]
        if known:
            return f"{called(known[0])} is in the drawer already."
    try:
        bringing = prepare_pattern(content, check_picture, name=name, for_whom=for_whom, notes=notes)
    except ArchiveError as error:
        raise ArchiveError(f"{place}: {error.problem}", error.advice) from error
    kept = put_in(to, bringing)
    if not kept.is_new:
        return f"{called(kept.entry)} is in the drawer already."
    return f"Kept {called(kept.entry)} in the drawer {to.folder}."


def write_entries_json(entries: Sequence[Entry]) -> str:
    """Return the entries as JSON, schema `outgrown-drawer-list/1`; see docs/drawer.md."""
    document = {"schema": _SCHEMA, "patterns": [_json_of(entry) for entry in entries]}
    return json.dumps(document, ensure_ascii=False, indent=1)


def plain(line: str) -> str:
    """Return a line of what may be a stranger's text without anything a terminal would obey."""
    return "".join(c if c.isprintable() or c in "\u200c\u200d" else " " for c in line)


def tell_entries(entries: Sequence[Entry], as_json: bool, empty: str) -> None:
    """Write the entries as a table, or as JSON; `empty` where there is none."""
    if as_json:
        click.echo(write_entries_json(entries))
        return
    if not entries:
        click.echo(empty)
        return
    rows = [
        (
            shorten(entry.name, _WIDEST),
            shorten(entry.for_whom, _WIDEST // 2),
            {State.GOOD: shorten(entry.garment, _WIDEST // 2), State.NEWER: "(newer)", State.DAMAGED: "(damaged)"}[
                entry.state
            ],
            entry.made_on[:10],
            "" if entry.error_mm is None else f"{entry.error_mm:.1f} mm",
            *((entry.binned_on,) if entry.binned_on else ()),
            entry.id,
        )
        for entry in entries
    ]
    binned = ("in the bin",) if entries[0].binned_on else ()
    lines = write_table(("name", "for", "garment", "made", "error", *binned, "ID"), rows, right=(4,))
    lines += [f"! {called(entry)}: {entry.trouble}" for entry in entries if entry.trouble]
    click.echo("\n".join(lines))


def _json_of(entry: Entry) -> dict[str, Any]:
    return asdict(entry) | {
        "place": entry.place.encode("utf-8", "replace").decode("utf-8"),
        "state": entry.state.value,
        "sizes_cm": list(entry.sizes),
    }


def called(entry: Entry) -> str:
    """Return how a sentence calls the entry: name, for whom, and its ID."""
    return f"“{entry.name}{f', {entry.for_whom}' if entry.for_whom else ''}” ({entry.id})"


def count_patterns(number: int) -> str:
    """Return `1 pattern`, `2 patterns`."""
    return f"{number} pattern{'' if number == 1 else 's'}"

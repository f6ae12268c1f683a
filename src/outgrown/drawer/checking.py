"""Checking: every pattern in the drawer read wholly, as opening it would."""

from ..errors import ArchiveError
from ..progress import Progress, silent
from .entry import PATTERN, Entry, State, digest
from .listing import list_entries
from .opening import open_entry
from .place import Drawer


def check_drawer(drawer: Drawer, progress: Progress = silent) -> tuple[int, list[tuple[Entry, str]]]:
    """Return how many patterns there are, and those that need a look, each with what was seen and what to do."""
    entries = list_entries(drawer, use_cache=False)
    found = []
    for count, entry in enumerate(entries):
        progress("reading the patterns", count / len(entries))
        trouble = entry.trouble
        if entry.state is State.GOOD:
            try:
                open_entry(drawer, entry)
                if digest((drawer.folder / entry.place / PATTERN).read_bytes()) != entry.sha256:
                    trouble = (
                        "Its pattern.json is no longer the one that was kept. If you changed it yourself, “outgrown "
                        "drawer rename” takes it as it is; else bring it in again from a copy."
                    )
            except ArchiveError as error:
                trouble = str(error)
            except OSError as error:
                trouble = f"It cannot be read ({(error.strerror or 'it failed').lower()})."
        if trouble:
            found.append((entry, trouble))
    return len(entries), found

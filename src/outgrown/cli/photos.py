"""Photos named on the command line, and a folder's name for each."""

import filecmp
import glob
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path

from ..errors import PhotoError


def find_photos(words: Sequence[str]) -> list[Path]:
    """Return the photos named, each once, in the order given.

    What the shell left as a pattern (`*.jpg`, on Windows) is expanded here, sorted; a name that is there is taken as it
    is, and one that matches nothing stays, to be refused by name.
    """
    found: dict[Path, Path] = {}
    for word in words:
        paths = [Path(word)]
        if not _is_there(paths[0]) and glob.has_magic(word):
            paths = [Path(name) for name in sorted(glob.glob(word, recursive=True))] or paths  # noqa: PTH207
        for path in paths:
            found.setdefault(path.absolute(), path)
    return list(found.values())


def check_there(photo: Path) -> None:
    """Refuse a pattern of names that nothing is called like.

    Raises:
        PhotoError: nothing is.
    """
    if glob.has_magic(str(photo)) and not _is_there(photo):
        raise PhotoError(f"No photo is called like “{photo}”.", "Check the name and the folder.")


def check_different(front: Path, back: Path | None) -> None:
    """Refuse one file given as both photos of a pair, before time is spent on it.

    Raises:
        PhotoError: they have the same content.
    """
    if back is None:
        return
    try:
        is_same = filecmp.cmp(front, back, shallow=False)
    except (OSError, ValueError):
        return  # told by name when it is read
    if is_same:
        raise PhotoError(
            f"“{front.name}” and “{back.name}” are the same file, given as fronts and backs."
            if front.name != back.name
            else f"“{front.name}” was given as fronts and as backs.",
            "Fold the pair with its backs out and photograph it again, or leave --back out.",
        )


def name_folders(photos: Sequence[Path]) -> list[str]:
    """Return a folder name for each photo: its own without the ending, told apart where two would share one.

    Names that differ in case alone share one on some systems. `a/x.jpg` and `b/x.jpg` become `a-x` and `b-x`, `x.jpg`
    and `x.png` in one folder `x-jpg` and `x-png`; what is still the same is numbered.
    """
    forms: tuple[Callable[[Path], str], ...] = (
        lambda p: p.stem,
        lambda p: f"{p.stem}-{p.suffix[1:].lower()}",
        lambda p: f"{p.absolute().parent.name}-{p.stem}",
        lambda p: f"{p.absolute().parent.name}-{p.stem}-{p.suffix[1:].lower()}",
    )
    names = [forms[0](photo) or "pattern" for photo in photos]
    count = Counter(map(str.casefold, names))
    for name in [name for name, times in count.items() if times > 1]:
        group = [index for index, other in enumerate(names) if other.casefold() == name]
        for form in forms[1:]:
            told = [form(photos[index]) for index in group]
            if len({one.casefold() for one in told}) == len(group):
                for index, one in zip(group, told, strict=True):
                    names[index] = one
                break
    taken: set[str] = set()
    for index, name in enumerate(names):
        number = 1
        while names[index].casefold() in taken:
            number += 1
            names[index] = f"{name}-{number}"
        taken.add(names[index].casefold())
    return names


def _is_there(path: Path) -> bool:
    try:
        return path.exists()
    except (OSError, ValueError):
        return False

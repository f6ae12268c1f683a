"""Nesting: several sizes of one pattern on one print, the largest whole, the others as cut lines inside it."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from shapely import LineString, Polygon

from ..arrays import Floats, frozen
from ..errors import PieceError
from ..findings import Finding
from .leg_shape import find_axis, find_levels, is_leg
from .piece import CutListRow, Finish, InnerLine, Pattern, Piece
from .unused import NOT_USED

CUT_LINE_WORDS = "cut line, "
"""The name of another size's cut line begins so."""
_COUNTS = ("no bar", "one bar", "two bars", "three bars", "four bars", "five bars")
MOST_SIZES = len(_COUNTS)
_OF_THE_PHOTO = (NOT_USED, "would-help-most")
"""Findings that tell of the first making, and are not said again when a size is grown."""
_ON_FOLD_MM = 0.05
_SHARED_MM = 0.5


def nest_patterns(patterns: Sequence[Pattern], names: Sequence[str]) -> Pattern:
    """Return one pattern with the cut lines of all.

    The largest is drawn whole; the others lie in it as cut lines and turning lines, at the crotch level and the
    side of legs, at the middle of other pieces. Cut list rows that differ say their size.

    Args:
        patterns: sizes of one pattern, the same pieces in the same order.
        names: what each size is called.

    Raises:
        PieceError: fewer than two, too many, or not the same pieces.
    """
    if not 2 <= len(patterns) <= MOST_SIZES or len(names) != len(patterns):
        raise PieceError(
            f"{len(patterns)} sizes cannot be drawn in one another.", f"Nest two to {MOST_SIZES} sizes in one print."
        )
    if len(set(names)) != len(names):
        raise PieceError("Two of the sizes are called the same.", "Give sizes that differ.")
    kinds = {tuple(piece.name for piece in pattern.pieces) for pattern in patterns}
    if len(kinds) > 1:
        raise PieceError("These patterns have different pieces.", "Nest sizes of one and the same pattern.")
    areas = [sum(Polygon(piece.cut_ring_mm).area for piece in pattern.pieces) for pattern in patterns]
    order = sorted(range(len(patterns)), key=lambda i: -areas[i])
    ordered = [names[i] for i in order]
    main, others, mine = patterns[order[0]], [(patterns[i], names[i]) for i in order[1:]], ordered[0]
    pieces = tuple(
        replace(
            piece,
            inner_lines=(
                *_own_lines(piece, [other.pieces[i] for other, _ in others], mine),
                *_lines_of(piece, [(other.pieces[i], name) for other, name in others]),
            ),
            labels=(
                *(label for label in piece.labels if label not in (main.for_whom, f"for {main.for_whom}")),
                *_say_bars(ordered),
            ),
        )
        for i, piece in enumerate(main.pieces)
    )
    choices = {**main.choices, "for_whom": ", ".join(names), "nested": ordered}
    grown = {name: one.choices["grown"] for one, name in zip(patterns, names, strict=True) if "grown" in one.choices}
    if len(grown) > 1:
        choices["grown_sizes"] = grown
    return replace(
        main,
        for_whom=", ".join(names),
        pieces=pieces,
        cut_list=_merge_rows([patterns[i] for i in order], ordered),
        choices=choices,
        findings=_merge_findings([patterns[i] for i in order], ordered),
    )


def take_largest(pattern: Pattern) -> Pattern:
    """Return the largest of the sizes nested in a pattern, alone, as it was before; a pattern of one size as it is.

    What all sizes share stays; what is said of another size is left out.
    """
    names = [str(name) for name in pattern.choices.get("nested") or ()]
    if not names:
        return pattern
    mine, others = names[0], names[1:]

    def own(said: str) -> str | None:
        if said.startswith(CUT_LINE_WORDS) or any(said.endswith(f", {name}") for name in others):
            return None
        return said.removesuffix(f", {mine}")

    bars = _say_bars(names)
    pieces = tuple(
        replace(
            piece,
            inner_lines=tuple(replace(line, name=name) for line in piece.inner_lines if (name := own(line.name))),
            labels=tuple(label for label in piece.labels if label not in bars),
        )
        for piece in pattern.pieces
    )
    told = []
    for finding in pattern.findings:
        sizes = [name for name in names if finding.text.startswith(_size_words(name))]
        if not sizes or sizes[0] == mine:
            told.append(replace(finding, text=finding.text.removeprefix(_size_words(mine))))
    return replace(
        pattern,
        for_whom=mine,
        pieces=pieces,
        cut_list=tuple(replace(row, name=name) for row in pattern.cut_list if (name := own(row.name))),
        choices={k: v for k, v in pattern.choices.items() if k not in ("nested", "grown_sizes")} | {"for_whom": mine},
        findings=tuple(told),
    )


def list_growths(pattern: Pattern) -> list[tuple[str, Mapping[str, Any]]]:
    """Return how each size of a pattern was grown (`choices["grown"]`) by what it is called; empty where none was.

    A size that is alone has no name here.
    """
    nested = pattern.choices.get("grown_sizes")
    if nested:
        return list(nested.items())
    grown = pattern.choices.get("grown")
    return [("", grown)] if grown else []


def _merge_findings(patterns: Sequence[Pattern], names: Sequence[str]) -> tuple[Finding, ...]:
    """Return what is to be known of all sizes; what is so of some only says of which."""
    said = [{finding.sentence() for finding in pattern.findings} for pattern in patterns]
    merged = []
    for number, (pattern, name) in enumerate(zip(patterns, names, strict=True)):
        for finding in pattern.findings:
            if all(finding.sentence() in one for one in said):
                merged += [finding] if number == 0 else []
            elif number == 0 or finding.code not in _OF_THE_PHOTO:
                merged.append(replace(finding, text=f"{_size_words(name)}{finding.text}"))
    return tuple(merged)


def _say_bars(names: Sequence[str]) -> list[str]:
    """Return the labels that tell whose cut line bears how many bars, the largest size first."""
    return ["bars across the cut line:", *(f"{name}: {count}" for name, count in zip(names, _COUNTS, strict=False))]


def _size_words(name: str) -> str:
    """Return how a finding begins that is so of one size only."""
    return f"Size {name}: "


def _own_lines(piece: Piece, others: Sequence[Piece], name: str) -> list[InnerLine]:
    """Return the largest size's lines, each with its size but for those that all sizes share."""
    shared = {
        line.name
        for other in others
        for line in other.inner_lines
        if _is_shared(InnerLine(line.name, line.points_mm + _anchor(piece) - _anchor(other)), piece)
    }
    return [line if line.name in shared else replace(line, name=f"{line.name}, {name}") for line in piece.inner_lines]


def _lines_of(piece: Piece, others: Sequence[tuple[Piece, str]]) -> list[InnerLine]:
    lines = []
    for other, name in others:
        shift = _anchor(piece) - _anchor(other)
        lines.append(InnerLine(f"{CUT_LINE_WORDS}{name}", frozen(_open_ring(other) + shift)))
        moved = [InnerLine(line.name, frozen(line.points_mm + shift)) for line in other.inner_lines]
        lines += [replace(line, name=f"{line.name}, {name}") for line in moved if not _is_shared(line, piece)]
    return lines


def _is_shared(line: InnerLine, piece: Piece) -> bool:
    """Tell whether the largest size's line of that name runs here anyhow, as the side of a leg without side seam."""
    return any(
        own.name == line.name and LineString(own.points_mm).buffer(_SHARED_MM).covers(LineString(line.points_mm))
        for own in piece.inner_lines
    )


def _anchor(piece: Piece) -> Floats:
    """Return the point that sizes have in common."""
    if is_leg(piece):
        return np.array([find_axis(piece), find_levels(piece).crotch])
    middle = np.asarray(0.5 * (piece.cut_ring_mm.min(axis=0) + piece.cut_ring_mm.max(axis=0)))
    folds = [edge.points_mm[:, 0].mean() for edge in piece.edges if edge.finish is Finish.FOLD]
    return np.array([folds[0], middle[1]]) if folds else middle


def _open_ring(piece: Piece) -> Floats:
    """Return the ring to cut along as a line, without what lies on an upright fold."""
    ring = piece.cut_ring_mm
    folds = [edge.points_mm[:, 0].mean() for edge in piece.edges if edge.finish is Finish.FOLD]
    on_fold = np.zeros(len(ring), dtype=bool)
    for x in folds:
        on_fold |= np.abs(ring[:, 0] - x) < _ON_FOLD_MM
    # The first point of the cut run is the last one on the fold.
    starts = np.flatnonzero(on_fold & ~np.roll(on_fold, -1))
    if len(starts) != 1:
        return np.vstack([ring, ring[:1]])
    turned = np.roll(np.arange(len(ring)), -int(starts[0]))
    run = [turned[0]]
    for index in (*turned[1:], turned[0]):
        run.append(index)
        if on_fold[index]:
            break
    return np.asarray(ring[run])


def _merge_rows(patterns: Sequence[Pattern], names: Sequence[str]) -> tuple[CutListRow, ...]:
    """Return the rows of all sizes: once where they are the same, else one for each size."""
    merged: list[CutListRow] = []
    for number, row in enumerate(patterns[0].cut_list):
        alike = [pattern.cut_list[number] for pattern in patterns if number < len(pattern.cut_list)]
        if all(other.length_mm == row.length_mm and other.width_mm == row.width_mm for other in alike):
            merged.append(row)
        else:
            merged += [replace(r, name=f"{r.name}, {n}") for r, n in zip(alike, names, strict=False)]
    return tuple(merged)

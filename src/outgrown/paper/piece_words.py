"""Piece words: where the words of a piece stand between its lines."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from ..arrays import Floats
from ..geometry.polylines import distances_to_line_mm, length_mm, part_between, point_at
from ..geometry.room import RoomFinder, meets_box
from ..pieces.nesting import CUT_LINE_WORDS
from ..pieces.piece import Finish, Piece
from . import styles
from .arrows import left_of, unit
from .cut_line import StretchKind, bracket_mm, is_named, split_ring
from .lettering import (
    ASCENT_SHARE,
    DESCENT_SHARE,
    LINE_SHARE,
    break_words,
    clean_words,
    limit_lines,
    measure_words_mm,
    shorten_words,
)
from .recording import Words
from .size_lines import layer_name, layers_of, size_lines, size_of
from .surface import Anchor, Lettering
from .words import capitalised

_WIDTHS_MM = (130.0, 105.0, 85.0, 75.0, 160.0, 65.0, 220.0, 50.0, 300.0)
"""Widths tried for a label at full size, the best looking first."""
_NARROW_MM = 85.0
"""Narrower, words would be broken."""
_SMALLEST_READABLE = 0.5
_WHOLE_AT_LEAST = 0.7
_LINES_AT_MOST = 3
_LINES_RUN_ON = 12
_ALONG = (0.5, 0.38, 0.62, 0.26, 0.74, 0.14, 0.86)
"""Where along a line its words are tried."""

_ALONG_TOO = (0.44, 0.56, 0.32, 0.68, 0.2, 0.8, 0.08, 0.92)
_GAP_MM = 1.6
"""Between a line and the words along it."""
_NARROW_GAPS_MM = (1.6, 0.9, 0.4)
"""The same for the size alone, where turning lines of several sizes lie too close for all their words."""
_OFF_MM = tuple(float(off) for off in range(6, 64, 3))
"""How far off a line its name is tried, at the end of a leader."""
_LEADER_GAP_MM, _LEADER_CLEAR_MM = 1.2, 2.0
"""Between a leader and its name; and how wide a strip of it is kept from other words and leaders."""
_ON_LINE, _OWN_MM = (0.65, 0.5), 0.05
"""Words on a line have so much of their size; so near to it a segment is its own."""
_OFF_LINE = (0.8, 0.65, 0.5)
"""Names at the end of a leader have so much of their size."""

_SHORTER = (
    ("then back over the outside here", "then back out"),
    ("mock cuff: turn in here first", "turn in first"),
    ("turn the waist down here", "turn down"),
    ("turn the hem up here", "turn up"),
)
"""What turning lines are called, and what is said where a line is short."""


@dataclass(frozen=True, eq=False)
class Leader:
    """A thin line from another line to its name, where there is no room along it.

    Attributes:
        points_mm: (2, 2) from the line to the name.
        names: the group that it belongs to, or nothing.
    """

    points_mm: Floats
    names: tuple[str, ...]


class _Writer:
    """Places words between lines, remembering what it has written."""

    def __init__(self, segments: Floats, keep_clear: Floats) -> None:
        self.segments = segments
        self.keep_clear = keep_clear
        self.written: list[Words] = []
        self.leaders: list[Leader] = []

    def write(self, words: str, at_mm: Floats, lettering: Lettering, names: tuple[str, ...] = ()) -> None:
        line = Words(words, (float(at_mm[0]), float(at_mm[1])), lettering, names)
        self.written.append(line)
        self.segments = np.concatenate([self.segments, line.filled_mm()])

    def write_along(
        self,
        words: str,
        path_mm: Floats,
        size_mm: float,
        sides: Sequence[int] = (1, -1),
        gap_mm: float = _GAP_MM,
        names: tuple[str, ...] = (),
    ) -> bool:
        """Write along a line, on its left (1) or right (-1), at the first place where nothing is touched."""
        words = clean_words(words)
        if not words:
            return True
        path = np.asarray(path_mm, dtype=np.float64)
        whole_mm = length_mm(path)
        places = [(share, side) for share in _ALONG for side in sides]
        for taken in (np.concatenate([self.segments, self.keep_clear]), self.segments):
            for size in (size_mm, size_mm * 0.8, size_mm * 0.65):
                width = measure_words_mm(words, size)
                if width > whole_mm:
                    continue
                for share, side in places:
                    at = np.clip(share * whole_mm, width / 2, whole_mm - width / 2)
                    part = part_between(path, at - width / 2, at + width / 2)
                    if self._try(words, part, size, side, gap_mm, taken, names):
                        return True
        return False

    def write_on(self, words: str, path_mm: Floats, size_mm: float, names: tuple[str, ...]) -> bool:
        """Write on a line itself, at the first place where no other is touched; nothing where there are no words."""
        words = clean_words(words)
        path = np.asarray(path_mm, dtype=np.float64)
        whole_mm = length_mm(path)
        width, height = measure_words_mm(words, size_mm), size_mm * (ASCENT_SHARE + DESCENT_SHARE)
        if not words or width > whole_mm:
            return False
        away = distances_to_line_mm(self.segments.reshape(-1, 2), path).reshape(-1, 2).max(axis=1)
        others = self.segments[away > _OWN_MM]
        for share in (*_ALONG, *_ALONG_TOO):
            at = np.clip(share * whole_mm, width / 2, whole_mm - width / 2)
            part = part_between(path, at - width / 2, at + width / 2)
            if self._try(words, part, size_mm, 1, -0.5 * height, others, names):
                return True
        return False

    def write_off(self, words: str, path_mm: Floats, ring_mm: Floats, size_mm: float, names: tuple[str, ...]) -> bool:
        """Write inward of a line, at the end of a leader that crosses no words and stays within `ring_mm`."""
        words = clean_words(words)
        path = np.asarray(path_mm, dtype=np.float64)
        whole_mm = length_mm(path)
        width, height = measure_words_mm(words, size_mm), size_mm * (ASCENT_SHARE + DESCENT_SHARE)
        rim = np.stack([ring_mm, np.roll(ring_mm, -1, axis=0)], axis=1)
        boxes = [np.reshape(line.filled_mm(), (-1, 2, 2)) for line in self.written]
        said = np.concatenate([*boxes, *(leader.points_mm[None] for leader in self.leaders), np.zeros((0, 2, 2))])
        for taken in (np.concatenate([self.segments, self.keep_clear]), self.segments):
            for share, off_mm in product((*_ALONG, *_ALONG_TOO), _OFF_MM):
                here = point_at(path, share * whole_mm)
                way = unit(point_at(path, share * whole_mm + 1) - point_at(path, share * whole_mm - 1))
                inward = left_of(way)
                angle = float(np.degrees(np.arctan2(inward[1], inward[0])))
                whole = off_mm + _LEADER_GAP_MM + width
                middle = here + inward * (whole - width / 2)
                if meets_box(taken, middle, width + 1, height + 0.8, angle):
                    continue
                if meets_box(rim, here + inward * (whole / 2 + 1), whole - 1, 0.1, angle):
                    continue
                if meets_box(said, here + inward * off_mm / 2, off_mm, _LEADER_CLEAR_MM, angle):
                    continue
                if angle > 90.01 or angle <= -89.99:
                    angle -= 180.0 if angle > 0 else -180.0
                turned = np.radians(angle + 90.0)
                up = np.array([np.cos(turned), np.sin(turned)])
                drop = up * (height / 2 - DESCENT_SHARE * size_mm)
                self.write(words, middle - drop, Lettering(size_mm, rotation_deg=angle, anchor=Anchor.MIDDLE), names)
                leader = Leader(np.array([here, here + inward * off_mm]), names)
                self.leaders.append(leader)
                self.segments = np.concatenate([self.segments, leader.points_mm[None]])
                return True
        return False

    def _try(
        self,
        words: str,
        part: Floats,
        size: float,
        side: int,
        gap_mm: float,
        taken: Floats,
        names: tuple[str, ...],
    ) -> bool:
        """Write along a part of a line, as long as the words, unless something is touched; tell whether it was done."""
        way = unit(part[-1] - part[0])
        normal = left_of(way) * side
        # A bent line must not run into its words: go out from the chord as far as the line bulges.
        bulge = max(0.0, *((part - part[0]) @ normal))
        width, height = measure_words_mm(words, size), size * (ASCENT_SHARE + DESCENT_SHARE)
        middle = (part[0] + part[-1]) / 2 + normal * (bulge + gap_mm + height / 2)
        angle = float(np.degrees(np.arctan2(way[1], way[0])))
        if meets_box(taken, middle, width + 1, height + 0.8, angle):
            return False
        if angle > 90.01 or angle <= -89.99:
            angle -= 180.0 if angle > 0 else -180.0
            way = -way
        drop = left_of(way) * (height / 2 - DESCENT_SHARE * size)
        self.write(words, middle - drop, Lettering(size, rotation_deg=angle, anchor=Anchor.MIDDLE), names)
        return True


def place_words(
    piece: Piece,
    segments_mm: Floats,
    lines: Sequence[str],
    keep_clear_mm: Floats,
    sizes: Sequence[str] = (),
    letters: float = 1.0,
) -> tuple[list[Words], list[Leader]]:
    """Return all words of a piece where they touch no line, and leaders to names that find no room along theirs.

    Args:
        piece: where it lies.
        segments_mm: (N, 2, 2) everything drawn.
        lines: written below the piece's name, in reading order.
        keep_clear_mm: (N, 2, 2) lines which words had better not cross.
        sizes: nested in the pattern; words of one size belong to its group.
        letters: how many times their usual size letters have.
    """
    writer = _Writer(segments_mm, keep_clear_mm)
    size = styles.MARK_SIZE_MM * letters
    for stretch in split_ring(piece):
        if stretch.kind is StretchKind.FOLD and not stretch.is_closed:
            writer.write_along("place on fold", bracket_mm(stretch.points_mm, piece)[1:3], size, (1, -1))
        if stretch.kind is StretchKind.FINISHED:
            for words in ("finished edge of the cloth on this line", "finished edge of the cloth", "finished edge"):
                if writer.write_along(words, stretch.points_mm, size, (1,)):
                    break
    writer.write_along("grainline", np.asarray(piece.grainline_mm), size)
    writer.write_along("greatest stretch", np.asarray(piece.stretch_mm), size, gap_mm=3.5)
    nested, unnamed = size_lines(piece), []
    for line in piece.inner_lines:
        # Other sizes' cut lines run counter-clockwise like the ring: their left is the inside of the piece.
        sides = (1,) if line in nested else (1, -1)
        for words, gap_mm in _ways_to_say(line.name, size_of(line.name, sizes)):
            path, names = np.asarray(line.points_mm), layers_of(line.name, sizes)
            if writer.write_along(words, path, size, sides, gap_mm, names):
                break
        else:
            if line not in nested:  # scissors follow cut lines: nothing is written on them
                any(writer.write_on(size_of(line.name, sizes), path, size * share, names) for share in _ON_LINE)
            elif size_of(line.name, sizes):
                unnamed.append((size_of(line.name, sizes), path, names))
    if nested and sizes:
        unnamed = [*_name_largest(writer, piece, sizes[0], size), *unnamed]
    for name, path, names in unnamed:
        any(writer.write_off(name, path, piece.cut_ring_mm, size * share, names) for share in _OFF_LINE)
    _place_label(writer, piece, lines, letters)
    for edge in piece.edges:
        if edge.finish not in (Finish.FOLD, Finish.FINISHED) and not is_named(edge, piece):
            # The edge runs counter-clockwise: its left is the inside of the piece.
            writer.write_along(edge.name.value, edge.points_mm, size * 0.85, (1,), gap_mm=2.0)
    return writer.written, writer.leaders


def _name_largest(
    writer: _Writer, piece: Piece, size: str, size_mm: float
) -> list[tuple[str, Floats, tuple[str, ...]]]:
    """Write the largest size along its cut line; return it with its longest run where there is no room for that."""
    runs = [stretch for stretch in split_ring(piece) if stretch.kind is StretchKind.CUT]
    paths = [np.vstack([run.points_mm, run.points_mm[:1]]) if run.is_closed else run.points_mm for run in runs]
    paths.sort(key=length_mm, reverse=True)
    layer = (layer_name(size),)
    for path, (words, gap_mm) in product(paths, _ways_to_say(f"{CUT_LINE_WORDS}{size}", size)):
        if writer.write_along(words, path, size_mm, (1,), gap_mm, layer):
            return []
    return [(size, path, layer) for path in paths[:1]]


def _ways_to_say(name: str, size: str) -> list[tuple[str, float]]:
    """Return what may be written along an inner line, and how near to it [mm], the best first."""
    shorter = [name.replace(long, short) for long, short in _SHORTER if name.startswith(long)]
    alone = [(size, gap) for gap in _NARROW_GAPS_MM] if size else []
    return [(name, _GAP_MM), *((words, _GAP_MM) for words in shorter), *alone]


def _place_label(writer: _Writer, piece: Piece, lines: Sequence[str], letters: float) -> None:
    """Write the label at the largest size for which there is room, inside one page where that costs little."""
    free = RoomFinder(piece.cut_ring_mm, writer.segments)
    inside_pages = RoomFinder(piece.cut_ring_mm, np.concatenate([writer.segments, writer.keep_clear]))
    name = capitalised(piece.name)
    at_once = " · ".join(lines[1:]).replace(": · ", ": ")
    stacked, run_on, one_line = (
        (name, *lines),
        (name, *lines[:1], at_once),
        ("", f"{name}: {lines[0]}" if lines else name),
    )
    plans = [
        (stacked, (1.0, 0.85, 0.7, 0.6)),
        (run_on, (1.0, 0.85, 0.7, 0.6)),
        ((*one_line, at_once), (0.85, 0.7, 0.6, 0.5)),
        (stacked, (0.5,)),
        (run_on, (0.5,)),
        ((name, *lines[:1]), (1.0, 0.85, 0.7, 0.6, 0.5)),
        (one_line, (0.7, 0.6, 0.5)),
        (("", name), (0.5, 0.4, 0.3)),
    ]
    # Larger letters want wider labels, but take a narrower one rather than shrink by half.
    narrow = [width for width in _WIDTHS_MM if width >= _NARROW_MM] if letters > 1 else []
    widths = dict.fromkeys((*(width * letters for width in _WIDTHS_MM), *narrow))
    for said, scales in plans:
        # Somewhat smaller letters on one page are read more easily than larger ones over two.
        whole = [(scale, inside_pages) for scale in scales if scale >= _WHOLE_AT_LEAST]
        for scale, finder in (*whole, *product(scales, (inside_pages, free))):
            for width in widths:
                rows = _label_rows(said[0], said[1:], width * scale, scale * letters)
                wide = max(measure_words_mm(row, size, bold) for row, size, bold in rows)
                high = sum(size * LINE_SHARE for _, size, _ in rows)
                middle = finder.find(wide, high, clear_mm=max(0.8, 4 * scale if said[0] else 2 * scale))
                if middle is not None:
                    _write_rows(writer, rows, np.asarray(middle), wide, high)
                    return
    _write_below(writer, piece, one_line[1], letters)


def _write_below(writer: _Writer, piece: Piece, words: str, letters: float) -> None:
    """Write the name of a piece too small for it below the piece, where the next one keeps away."""
    low, high = np.min(piece.cut_ring_mm, axis=0), np.max(piece.cut_ring_mm, axis=0)
    size = styles.LABEL_SIZE_MM * _SMALLEST_READABLE * letters
    words = shorten_words(words, float(high[0] - low[0]) + size, size)
    writer.write(words, np.array([low[0], low[1] - 1.4 * size]), Lettering(size))


def _label_rows(name: str, lines: Sequence[str], width_mm: float, scale: float) -> list[tuple[str, float, bool]]:
    """Return (words, size, bold) for each row of a label no wider than `width_mm`."""
    big, small = styles.NAME_SIZE_MM * scale, styles.LABEL_SIZE_MM * scale
    rows = [
        (row, big, True)
        for row in limit_lines(break_words(capitalised(name), width_mm, big, True), _LINES_AT_MOST, width_mm, big, True)
    ]
    for number, line in enumerate(lines):
        most = _LINES_RUN_ON if " · " in line else _LINES_AT_MOST
        broken = limit_lines(break_words(line, width_mm, small, number == 0), most, width_mm, small, number == 0)
        rows += [(row, small, number == 0) for row in broken]
    return rows


def _write_rows(writer: _Writer, rows: list[tuple[str, float, bool]], middle: Floats, wide: float, high: float) -> None:
    y = middle[1] + high / 2
    for words, size, is_bold in rows:
        y -= size * LINE_SHARE
        base = y + size * (LINE_SHARE - ASCENT_SHARE) / 2 + 0.06 * size
        writer.write(words, np.array([middle[0] - wide / 2, base]), Lettering(size, is_bold=is_bold))

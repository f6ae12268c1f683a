"""Printed targets of our own: black frames with markers inside, whose ids say which target it is.

A frame is measured along the middle line of its black bar, midway between its outer and its inner edge: ink that
spreads, the tone curve of the camera and its sharpening move both edges alike, so the middle line stays where it is.
The markers only say which target it is and which way up it lies. Markers come from OpenCV's AprilTag 36h11 dictionary:
its ids lie 11 bits apart, so nothing on a printed cloth is taken for one.
"""

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np

from ..arrays import Flags, Floats, frozen

BAR_MM = 150.0
"""Nominal length of the bar that is measured after printing."""
PRINTED_BARS_MM = (0.85 * BAR_MM, 1.15 * BAR_MM)
"""What a printer may make of the bar: shorter or longer was measured wrongly [mm]."""
BAR_READING_MM = 0.2
"""Standard deviation of reading a household ruler held to the bar (common practice, no source)."""
MEASURED_DOUBT = BAR_READING_MM / BAR_MM
UNMEASURED_DOUBT = 0.01
"""Relative doubt of a print whose bar nobody measured (common practice, no source; a page fitted to the paper is
printed at 94 to 97 %, which this does not cover, and which is said)."""
OWN_DOUBT = 0.001
"""Relative doubt of one target's side against the next on the same pages: a printer's two directions differ by about
this much (common practice, no source)."""
PAPER_MM = 0.1
"""Thickness of printer paper."""

MARKER_CELLS = 8
"""Cells across a marker, its black border included."""
_DICTIONARY = cv2.aruco.DICT_APRILTAG_36h11

SHEET_COLUMNS, SHEET_ROWS = 8, 11
"""Squares of the lens sheet."""
SHEET_SQUARE_MM, SHEET_MARKER_MM = 23.0, 17.0
SHEET_FIRST_ID = 100
"""Ids of the lens sheet lie far from those of the targets."""

Rectangle = tuple[float, float, float, float]
"""Left, lower, right, upper [mm]."""
Cells = tuple[tuple[bool, ...], ...]
"""Rows of cells from the top, True where black."""
Mark = tuple[Floats, bool]
"""A ring (N, 2) [mm] to be filled, and whether black or white; later ones lie over earlier ones."""


@dataclass(frozen=True, eq=False)
class Target:
    """One printed target, its lower left paper corner at (0, 0).

    Attributes:
        name: e.g. `square A`.
        letter: which copy.
        paper_mm: (width, height) along the cutting lines.
        frame: outer edge of the black frame.
        bar_mm: breadth of the frame's black bar.
        markers: id -> lower left corner of the marker [mm].
        marker_mm: side of each marker.
    """

    name: str
    letter: str
    paper_mm: tuple[float, float]
    frame: Rectangle
    bar_mm: float
    markers: dict[int, tuple[float, float]]
    marker_mm: float

    @property
    def size_mm(self) -> tuple[float, float]:
        """Long and short side of the middle line of the frame [mm]."""
        left, lower, right, upper = self.frame
        return right - left - self.bar_mm, upper - lower - self.bar_mm

    def corners_mm(self) -> Floats:
        """Return (4, 2) corners of the frame's middle line, counter-clockwise from the lower left."""
        left, lower, right, upper = self.frame
        half = self.bar_mm / 2
        return frozen(
            [
                (left + half, lower + half),
                (right - half, lower + half),
                (right - half, upper - half),
                (left + half, upper - half),
            ]
        )

    def paper_corners_mm(self) -> Floats:
        """Return (4, 2) corners of the cut-out paper, counter-clockwise from the lower left."""
        width, height = self.paper_mm
        return frozen([(0, 0), (width, 0), (width, height), (0, height)])

    def marker_corners_mm(self, marker: int) -> Floats:
        """Return (4, 2) corners of a marker in OpenCV's order: upper left, upper right, lower right, lower left."""
        x, y = self.markers[marker]
        side = self.marker_mm
        return frozen([(x, y + side), (x + side, y + side), (x + side, y), (x, y)])

    def marks_mm(self) -> list[Mark]:
        """Return what is printed, in the order of printing."""
        left, lower, right, upper = self.frame
        bar = self.bar_mm
        marks = [
            (rectangle_mm(self.frame), True),
            (rectangle_mm((left + bar, lower + bar, right - bar, upper - bar)), False),
        ]
        for marker, at in self.markers.items():
            marks += cell_marks_mm(marker_cells(marker), at, self.marker_mm)
        return marks


def _square(copy: int) -> Target:
    letter = "ABCD"[copy]
    return Target(f"square {letter}", letter, (84.0, 84.0), (6.0, 6.0, 78.0, 78.0), 5.0, {copy: (18.0, 18.0)}, 48.0)


def _strip(copy: int) -> Target:
    letter = "ABCD"[copy]
    markers = {4 + 5 * copy + index: (16.0 + 33.5 * index, 16.0) for index in range(5)}
    return Target(f"strip {letter}", letter, (190.0, 56.0), (6.0, 6.0, 184.0, 50.0), 5.0, markers, 24.0)


SQUARES = tuple(_square(copy) for copy in range(4))
STRIPS = tuple(_strip(copy) for copy in range(4))
TARGETS = SQUARES + STRIPS
TARGET_OF_MARKER = {marker: target for target in TARGETS for marker in target.markers}


def dictionary() -> cv2.aruco.Dictionary:
    """Return OpenCV's marker dictionary."""
    return cv2.aruco.getPredefinedDictionary(_DICTIONARY)


@cache
def marker_cells(marker: int) -> Cells:
    """Return a marker as rows of cells from its top, True where black."""
    drawn = dictionary().generateImageMarker(marker, MARKER_CELLS, borderBits=1)
    return tuple(tuple(bool(cell < 128) for cell in row) for row in drawn)


def rectangle_mm(rectangle: Rectangle) -> Floats:
    """Return the (4, 2) corners of a rectangle, counter-clockwise from the lower left."""
    left, lower, right, upper = rectangle
    return frozen([(left, lower), (right, lower), (right, upper), (left, upper)])


def cell_marks_mm(cells: Cells, lower_left_mm: tuple[float, float], side_mm: float) -> list[Mark]:
    """Return the marks that draw a square of cells: whole areas of one colour, so that no hairlines show between."""
    black = np.array(cells, dtype=bool)
    count = len(black)
    step = side_mm / count
    lower_left = np.array(lower_left_mm)
    x, y = lower_left_mm
    marks: list[Mark] = [(rectangle_mm((x, y, x + side_mm, y + side_mm)), True)]
    rings = _area_rings(~black)
    # Larger areas first: an island lies in a smaller hole of a larger area.
    for ring in sorted(rings, key=lambda ring: -abs(_signed_area(ring))):
        points = np.column_stack([ring[:, 0], count - ring[:, 1]]) * step + lower_left
        marks.append((frozen(points), _signed_area(ring) < 0))
    return marks


def _signed_area(ring: Floats) -> float:
    following = np.roll(ring, -1, axis=0)
    return float(np.sum(ring[:, 0] * following[:, 1] - ring[:, 1] * following[:, 0])) / 2


def _area_rings(inside: Flags) -> list[Floats]:
    """Return the borders of the areas of True cells as rings of grid points (column, row).

    Outer borders have positive signed area, borders of holes negative. Cells that touch at a corner only are apart.
    """
    padded = np.pad(inside, 1)
    ways: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for row, column in zip(*np.nonzero(inside), strict=True):
        r, c = int(row), int(column)
        corners = [(c, r), (c + 1, r), (c + 1, r + 1), (c, r + 1)]
        beyond = [(r - 1, c), (r, c + 1), (r + 1, c), (r, c - 1)]
        for side, (other_row, other_column) in enumerate(beyond):
            if not padded[other_row + 1, other_column + 1]:
                ways.setdefault(corners[side], []).append(corners[(side + 1) % 4])
    rings = []
    while ways:
        start = next(iter(ways))
        ring, at, before = [], start, (0, 0)
        while True:
            choices = ways[at]
            # Where two areas meet at a corner, the turn towards the own cell keeps them apart.
            turns = [before[0] * (to[1] - at[1]) - before[1] * (to[0] - at[0]) for to in choices]
            to = choices.pop(int(np.argmax(turns)))
            if not choices:
                del ways[at]
            step = (to[0] - at[0], to[1] - at[1])
            if step != before:
                ring.append(at)
            at, before = to, step
            if at == start:
                break
        rings.append(np.array(ring, dtype=np.float64))
    return rings


def lens_sheet() -> cv2.aruco.CharucoBoard:
    """Return OpenCV's board for the lens sheet, in millimetres."""
    board = cv2.aruco.CharucoBoard(
        (SHEET_COLUMNS, SHEET_ROWS),
        SHEET_SQUARE_MM,
        SHEET_MARKER_MM,
        dictionary(),
        np.arange(SHEET_FIRST_ID, SHEET_FIRST_ID + SHEET_COLUMNS * SHEET_ROWS // 2),
    )
    return board


def lens_sheet_size_mm() -> tuple[float, float]:
    """Return width and height of the lens sheet's squares together [mm]."""
    return SHEET_COLUMNS * SHEET_SQUARE_MM, SHEET_ROWS * SHEET_SQUARE_MM


def lens_sheet_marks_mm() -> list[Mark]:
    """Return what is printed of the lens sheet, its lower left corner at (0, 0)."""
    height = lens_sheet_size_mm()[1]
    side, room = SHEET_SQUARE_MM, (SHEET_SQUARE_MM - SHEET_MARKER_MM) / 2
    marks: list[Mark] = []
    marker = SHEET_FIRST_ID
    for row in range(SHEET_ROWS):
        for column in range(SHEET_COLUMNS):
            x, y = column * side, height - (row + 1) * side
            if (row + column) % 2 == 0:
                marks.append((rectangle_mm((x, y, x + side, y + side)), True))
            else:
                marks += cell_marks_mm(marker_cells(marker), (x + room, y + room), SHEET_MARKER_MM)
                marker += 1
    return marks

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

from ..arrays import Floats, frozen

BAR_MM = 150.0
"""Nominal length of the bar that is measured after printing."""
BAR_READING_MM = 0.2
"""Standard deviation of reading a household ruler held to the bar (common practice, no source)."""
MEASURED_DOUBT = BAR_READING_MM / BAR_MM
UNMEASURED_DOUBT = 0.01
"""Relative doubt of a print whose bar nobody measured (common practice, no source; a page fitted to the paper is
printed at 94 to 97 %, which this does not cover, and which is said)."""
OWN_DOUBT = 0.0005
"""Relative doubt of one target against the next on the same pages (common practice, no source)."""
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

    def black_mm(self) -> list[Rectangle]:
        """Return the black rectangles that make up the target."""
        left, lower, right, upper = self.frame
        bar = self.bar_mm
        frame = [
            (left, lower, right, lower + bar),
            (left, upper - bar, right, upper),
            (left, lower, left + bar, upper),
            (right - bar, lower, right, upper),
        ]
        marks = [black_cells_mm(marker_cells(m), at, self.marker_mm) for m, at in self.markers.items()]
        return frame + [rectangle for mark in marks for rectangle in mark]


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
def marker_cells(marker: int) -> tuple[tuple[bool, ...], ...]:
    """Return a marker as rows of cells from its top, True where black."""
    drawn = dictionary().generateImageMarker(marker, MARKER_CELLS, borderBits=1)
    return tuple(tuple(bool(cell < 128) for cell in row) for row in drawn)


def black_cells_mm(
    cells: tuple[tuple[bool, ...], ...], lower_left_mm: tuple[float, float], side_mm: float
) -> list[Rectangle]:
    """Return rectangles [mm] that cover the black cells.

    Runs are joined along the rows and again along the columns: drawn over one another they leave no hairline
    between neighbouring cells, whatever draws them.
    """
    black = np.array(cells, dtype=bool)
    count = len(black)
    step = side_mm / count
    x0, y0 = lower_left_mm
    rectangles = []
    for index in range(count):
        for start, stop in _runs(black[index]):
            top = y0 + side_mm - index * step
            rectangles.append((x0 + start * step, top - step, x0 + stop * step, top))
        for start, stop in _runs(black[:, index]):
            left = x0 + index * step
            rectangles.append((left, y0 + side_mm - stop * step, left + step, y0 + side_mm - start * step))
    return rectangles


def _runs(line: np.ndarray) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], line.astype(np.int8), [0]])))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


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


def lens_sheet_black_mm() -> list[Rectangle]:
    """Return the black rectangles of the lens sheet, its lower left corner at (0, 0)."""
    height = lens_sheet_size_mm()[1]
    side, room = SHEET_SQUARE_MM, (SHEET_SQUARE_MM - SHEET_MARKER_MM) / 2
    rectangles: list[Rectangle] = []
    marker = SHEET_FIRST_ID
    for row in range(SHEET_ROWS):
        for column in range(SHEET_COLUMNS):
            x, y = column * side, height - (row + 1) * side
            if (row + column) % 2 == 0:
                rectangles.append((x, y, x + side, y + side))
            else:
                rectangles += black_cells_mm(marker_cells(marker), (x + room, y + room), SHEET_MARKER_MM)
                marker += 1
    return rectangles

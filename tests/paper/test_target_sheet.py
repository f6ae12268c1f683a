"""The printed targets read back from the PDF with OpenCV's own detectors, in millimetres on the page."""

import cv2
import numpy as np
import pytest
from reading import open_pdf, page_sizes_mm

from outgrown.camera.targets import BAR_MM, SQUARES, STRIPS, TARGETS, lens_sheet
from outgrown.errors import PieceError
from outgrown.paper.target_sheet import draw_lens_sheet_pdf, draw_targets_pdf

DPI = 200
PX_MM = DPI / 25.4
ALL = {marker for target in TARGETS for marker in target.markers}


def page_pixels(document, number):
    return np.asarray(document[number].render(scale=DPI / 72).to_pil().convert("L"))


def read_markers(grey):
    """Return id -> (4, 2) corners on the page [mm, y up], by OpenCV's detector as it comes."""
    words = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    corners, ids, _ = cv2.aruco.ArucoDetector(words, parameters).detectMarkers(grey)
    heights = grey.shape[0] / PX_MM
    return {
        int(marker): np.array([(0, heights)]) + (c.reshape(4, 2) + 0.5) / PX_MM * (1, -1)
        for marker, c in zip(ids.ravel(), corners, strict=True)
    }


@pytest.mark.parametrize(("paper", "size"), [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))])
def test_opencv_reads_every_marker_at_its_true_size(paper, size):
    document = open_pdf(draw_targets_pdf(paper))
    assert page_sizes_mm(document) == [pytest.approx(size, abs=0.02)] * 3
    seen = read_markers(page_pixels(document, 0)) | read_markers(page_pixels(document, 1))
    assert set(seen) == ALL
    for target in TARGETS:
        own = np.concatenate([target.marker_corners_mm(m) for m in target.markers])
        there = np.concatenate([seen[m] for m in target.markers])
        shift = (there - own).mean(axis=0)
        assert np.abs(there - own - shift).max() < 0.15, target.name
        # The whole paper lies on the page, clear of the 4 mm most printers leave white.
        paper_ring = target.paper_corners_mm() + shift
        assert paper_ring.min() > 4.0
        assert (paper_ring.max(axis=0) < np.array(size) - 4.0).all()


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_opencv_reads_the_lens_sheet_as_its_board(paper):
    document = open_pdf(draw_lens_sheet_pdf(paper))
    assert len(document) == 1
    board = lens_sheet()
    corners, ids, _, _ = cv2.aruco.CharucoDetector(board).detectBoard(page_pixels(document, 0))
    assert len(ids) == 70
    own = np.asarray(board.getChessboardCorners())[ids.ravel(), :2]
    there = corners.reshape(-1, 2) / PX_MM
    assert np.abs(there - own - (there - own).mean(axis=0)).max() < 0.1


@pytest.mark.parametrize("number", [0, 1])
def test_the_bar_to_measure_is_150_mm_long(number):
    grey = page_pixels(open_pdf(draw_targets_pdf()), number)
    lengths = set()
    for row in grey < 128:
        edges = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(np.int8), [0]])))
        lengths |= {round(float(length) / PX_MM, 1) for length in edges[1::2] - edges[::2]}
    assert any(abs(length - BAR_MM) <= 0.13 for length in lengths)
    frame = (SQUARES, STRIPS)[number][0].frame
    assert any(abs(length - (frame[2] - frame[0])) <= 0.26 for length in lengths)


def test_the_pages_are_alike_to_the_last_byte():
    assert draw_targets_pdf("letter") == draw_targets_pdf("letter")


def test_an_unknown_paper_is_refused():
    with pytest.raises(PieceError, match="a4"):
        draw_targets_pdf("a5")

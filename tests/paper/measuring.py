"""Measures what a file shows against the pattern it was drawn from."""

import numpy as np
from reading import page_paths

from outgrown.paper.cut_line import StretchKind, split_ring

CUT_MM = 0.1  # a tenth of what a careful hand cuts to
FINE_MM = 0.05


def run_mm(points, is_closed=False):
    points = np.vstack([points, points[:1]]) if is_closed else np.asarray(points)
    return float(np.hypot(*np.diff(points, axis=0).T).sum())


def cut_lengths_mm(pattern):
    """Length of every run of every piece's cut line."""
    return [
        run_mm(run.points_mm, run.is_closed)
        for piece in pattern.pieces
        for run in split_ring(piece)
        if run.kind is StretchKind.CUT
    ]


def assert_all_drawn(pattern, paths, stretch=(1.0, 1.0), within_mm=CUT_MM):
    """Every cut line, seam line, grainline and inner line of the pattern is among `paths` at its length.

    `paths` are DrawnPath; `stretch` is what the printer makes of a length in the file.
    """
    scale = np.asarray(stretch)
    drawn = np.array([run_mm(path.points_mm * scale, path.is_closed) for path in paths])
    wanted = cut_lengths_mm(pattern)
    for piece in pattern.pieces:
        wanted += [run_mm(line.points_mm) for line in piece.inner_lines]
    worst = max(float(np.abs(drawn - length).min()) for length in wanted)
    assert worst < within_mm, worst
    return worst


def all_paths(document, first=0):
    return [path for number, page in enumerate(document) if number >= first for path in page_paths(page)]

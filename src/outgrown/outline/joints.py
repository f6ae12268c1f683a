"""Joints: thin dark lines that run straight on across the floor, taken out of the picture before it is read.

The joint between two boards or tiles is the sharpest edge there is. Where it runs close beside the cloth or through the
gap between two legs, the strip of floor this side of it is taken for cloth. A joint is known by the rim of the
picture, where it lies on bare floor, and by running on in the same line.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Bytes, Flags, Floats
from .looks import blur, to_lab
from .masks import Reals, as_reals, dilate

WIDEST_PX = 7
"""A line wider than this is a thing with two edges, and its colour is learned."""
DARKER_LAB = 8.0
"""How much darker than both its sides a joint is; and at least so many times what is usual in the rim."""
TIMES_USUAL = 4.0
RIM_SHARE = 0.09
"""The rim, as a share of the picture's sides: it shows bare floor."""
SEEN_SHARE = 0.7
"""The line must be seen on this share of its way through the rim."""
MOST_LINES = 8
OFF_LINE_PX = 3.0
RUN_PX, RUN_SEEN = 13, 10
"""Of so many steps along the line so many must show it, or it is not erased there."""
OFF_COLOUR_LAB = 22.0
BESIDE_PX, SIDES_LAB = 5.0, 10.0
"""So far to either side of a joint lies floor of about one colour; a shadow along the cloth's edge has cloth on one."""


def erase_joints(small: Bytes, blocked: Flags) -> Bytes:
    """Return the picture with its joints filled from their sides; the same picture where there are none.

    Args:
        small: (h, w, 3) uint8 RGB at working scale.
        blocked: (h, w) True on references.
    """
    lab = to_lab(small)
    light = blur(as_reals(lab[..., 0]), 0.7)
    closed = cv2.morphologyEx(light, cv2.MORPH_CLOSE, np.ones((WIDEST_PX, WIDEST_PX), np.uint8))
    darker = as_reals(closed) - light
    darker[dilate(blocked, 3)] = 0.0
    rim = _make_rim(blocked.shape)
    least = max(DARKER_LAB, TIMES_USUAL * float(np.median(darker[rim])))
    joints = np.zeros(blocked.shape, bool)
    for point, along in _find_lines(darker > least, rim):
        joints |= _follow(lab, _find_even(lab, along) * darker, rim, least, point, along)
    if not joints.any():
        return small
    joints = dilate(joints, 2) & (darker > least / 3)
    return np.asarray(cv2.inpaint(small, dilate(joints, 1).astype(np.uint8), 3, cv2.INPAINT_TELEA), dtype=np.uint8)


def _make_rim(shape: tuple[int, ...]) -> Flags:
    rim = np.ones(shape, bool)
    down, across = (max(4, round(RIM_SHARE * side)) for side in shape)
    rim[down:-down, across:-across] = False
    return rim


def _find_lines(dark: Flags, rim: Flags) -> list[tuple[Floats, Floats]]:
    """Return a point and the unit vector along of lines that lead from the rim inwards, the longest first."""
    shortest = max(12, round(0.7 * RIM_SHARE * min(rim.shape)))
    found = cv2.HoughLinesP(
        (dark & rim).astype(np.uint8), 1, np.pi / 360, max(10, shortest // 2), minLineLength=shortest, maxLineGap=3
    )
    lines: list[tuple[Floats, Floats]] = []
    ends = np.zeros((0, 4)) if found is None else np.asarray(found, dtype=np.float64).reshape(-1, 4)
    for x0, y0, x1, y1 in ends[np.argsort(-np.hypot(ends[:, 2] - ends[:, 0], ends[:, 3] - ends[:, 1]))]:
        point = np.array([x0 + x1, y0 + y1]) / 2
        along = np.array([x1 - x0, y1 - y0]) / np.hypot(x1 - x0, y1 - y0)
        if all(
            abs(float(along @ other)) < np.cos(np.radians(4))
            or abs(float((point - at) @ _across(other))) > 2 * OFF_LINE_PX
            for at, other in lines
        ):
            lines.append((point, along))
        if len(lines) == MOST_LINES:
            break
    return lines


def _find_even(lab: Reals, along: Floats) -> Flags:
    """Return the pixels (h, w) with about the same colour to either side of a line in this direction."""
    x, y = np.round(BESIDE_PX * _across(along)).astype(int)
    soft = blur(lab, 1.5)
    one, other = (np.roll(soft, (sign * y, sign * x), axis=(0, 1)) for sign in (1, -1))
    even: Flags = ((one - other) ** 2).sum(axis=2) < SIDES_LAB**2
    return even


def _across(along: Floats) -> Floats:
    return np.array([-along[1], along[0]])


def _follow(lab: Reals, darker: Reals, rim: Flags, least: float, point: Floats, along: Floats) -> Flags:
    """Return the pixels (h, w) of one joint, or none where the line is not one."""
    nothing = np.zeros(rim.shape, bool)
    y, x = np.nonzero(darker > least / 2)
    places = np.column_stack([x, y]).astype(np.float64)
    for reach in (2 * OFF_LINE_PX, OFF_LINE_PX, OFF_LINE_PX):
        close = np.abs((places - point) @ _across(along)) <= reach
        if close.sum() < RUN_PX:
            return nothing
        # Weighted by how dark they are: the joint's own pixels, not the grain beside it.
        weight = darker[y[close], x[close]].astype(np.float64)
        point = np.average(places[close], axis=0, weights=weight)
        away = (places[close] - point) * np.sqrt(weight)[:, None]
        turned = np.linalg.svd(away, full_matrices=False)[2][0]
        along = turned if turned @ along > 0 else -turned
    close = np.abs((places - point) @ _across(along)) <= OFF_LINE_PX
    x, y = x[close], y[close]
    in_rim = rim[y, x]
    if in_rim.sum() < RUN_PX:
        return nothing
    usual = np.median(lab[y[in_rim], x[in_rim]], axis=0)
    alike = np.sqrt(((lab[y, x] - usual) ** 2).sum(axis=1)) < OFF_COLOUR_LAB
    x, y = x[alike], y[alike]
    step = np.round((np.column_stack([x, y]) - point) @ along).astype(int)
    first, seen = _mark_steps(rim.shape, point, along, step)
    way = np.round(point + np.arange(len(seen))[:, None] * along + first * along).astype(int)
    within = (way >= 0).all(axis=1) & (way[:, 0] < rim.shape[1]) & (way[:, 1] < rim.shape[0])
    on_rim = np.zeros(len(seen), bool)
    on_rim[within] = rim[way[within, 1], way[within, 0]]
    if on_rim.sum() < RUN_PX or seen[on_rim].mean() < 0.5 * SEEN_SHARE:
        return nothing
    dense = np.convolve(seen, np.ones(RUN_PX), "same") >= RUN_SEEN
    joint = nothing.copy()
    kept = dense[step - first]
    joint[y[kept], x[kept]] = True
    return joint


def _mark_steps(
    shape: tuple[int, ...], point: Floats, along: Floats, step: NDArray[np.integer]
) -> tuple[int, NDArray[np.float64]]:
    """Return the first step along a line within the picture, and 1.0 for each from there where the line is seen."""
    corners = np.array([[0, 0], [shape[1], 0], [0, shape[0]], [shape[1], shape[0]]], dtype=np.float64)
    reach = (corners - point) @ along
    first = int(np.floor(reach.min())) - 1
    seen = np.zeros(int(np.ceil(reach.max())) + 2 - first)
    seen[np.clip(step - first, 0, len(seen) - 1)] = 1.0
    return first, seen

"""Invented cameras and exact references: the adjustment's accuracy without drawing a picture."""

from __future__ import annotations

import math

import numpy as np

from outgrown.arrays import frozen
from outgrown.camera.camera import Camera
from outgrown.camera.lens import Lens
from outgrown.camera.reference import EdgeSamples, Kind, Reference

SIZES = {Kind.CARD: (85.60, 53.98, 0.76, 0.0008), Kind.A4: (297.0, 210.0, 0.1, 0.002)}
CENTRE = (2015.5, 1511.5)
FOCAL_PX = 3030.0
_CORNERS = np.array([[-450.0, -120], [450, -200], [450, 120], [-100, 150], [-450, 120]])
RING = np.vstack([np.linspace(_CORNERS[i - 1], _CORNERS[i], 40, endpoint=False) for i in range(5)])
"""A garment of 0.9 m, counter-clockwise [mm]."""
CARD = ((Kind.CARD, (0.0, -260.0)),)
SHEET = ((Kind.A4, (0.0, -330.0)),)
TWO = ((Kind.CARD, (-480.0, -230.0)), (Kind.CARD, (480.0, 230.0)))
FOUR = tuple((Kind.CARD, (x, y)) for x in (-500.0, 500.0) for y in (-260.0, 260.0))


def invent_camera(
    rng: np.random.Generator, k1: float = 0.0, tilt_deg: float | None = None, height_mm: float | None = None
) -> Camera:
    """Return a camera above the garment; its true focal length differs from what EXIF says by its rounding."""
    tilt = math.radians(rng.uniform(0, 20) if tilt_deg is None else tilt_deg)
    way = rng.uniform(0, 2 * math.pi)
    lens = Lens(FOCAL_PX * math.exp(rng.normal() * 0.012), CENTRE, (k1, 0, 0, 0, 0))
    height = rng.uniform(1100, 1500) if height_mm is None else height_mm
    return Camera(lens, (tilt * math.cos(way), tilt * math.sin(way)), height)


def see(
    camera: Camera,
    kind: Kind,
    at_mm: tuple[float, float],
    turn: float,
    rng: np.random.Generator,
    noise_px: float = 0.1,
    shift_px: float = 0.05,
    size: float = 1.0,
    turn_px: float = 0.0,
) -> Reference:
    """Return the reference as `camera` sees it, its edges with noise, a common shift and a turn each.

    `size` is its true size as a share of what it should be; a turn is told by what it moves an edge's ends.
    """
    long, short, thickness, doubt = SIZES[kind]
    own = np.array([[0, 0], [long, 0], [long, short], [0, short]], dtype=float)
    cosine, sine = math.cos(turn), math.sin(turn)
    corners = size * (own - own.mean(axis=0)) @ np.array([[cosine, sine], [-sine, cosine]]) + at_mm
    middle = camera.to_px(np.array([at_mm]), thickness)[0]
    edges = []
    for i in range(4):
        share = np.linspace(0.12, 0.88, 80)
        points = camera.to_px(corners[i] + share[:, None] * (corners[(i + 1) % 4] - corners[i]), thickness)
        along = points[-1] - points[0]
        normal = np.array([along[1], -along[0]]) / np.linalg.norm(along)
        normal = normal if normal @ (points[40] - middle) > 0 else -normal
        off = rng.normal(size=(80, 1)) * noise_px + rng.normal() * shift_px
        if turn_px:
            off = off + rng.normal() * turn_px * (2 * share[:, None] - 1)
        points = points + normal * off
        edges.append(EdgeSamples(frozen(points), frozen(np.tile(normal, (80, 1))), frozen(share), noise_px))
    return Reference(kind, frozen(camera.to_px(corners, thickness)), frozen(own), tuple(edges), doubt, thickness)


def distance_mm(measured: np.ndarray, ring: np.ndarray) -> np.ndarray:
    """Return (N,) how far points lie from their true places across the ring, after the best rigid move [mm]."""
    here, there = measured - measured.mean(axis=0), ring - ring.mean(axis=0)
    turn = math.atan2(float((here[:, 0] * there[:, 1] - here[:, 1] * there[:, 0]).sum()), float((here * there).sum()))
    cosine, sine = math.cos(turn), math.sin(turn)
    off = here @ np.array([[cosine, sine], [-sine, cosine]]) - there
    along = np.roll(ring, -1, axis=0) - np.roll(ring, 1, axis=0)
    normal = np.column_stack([along[:, 1], -along[:, 0]]) / np.linalg.norm(along, axis=1, keepdims=True)
    return np.abs((off * normal).sum(axis=1))


def error_mm(camera: Camera, truth: Camera) -> np.ndarray:
    """Return (N,) the error of RING as `camera` measures what `truth` sees [mm]."""
    return distance_mm(camera.to_mm(truth.to_px(RING)), RING)

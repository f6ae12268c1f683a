"""Camera: where the floor lies before the lens, and how surely that is known."""

import math
from dataclasses import dataclass, field, replace

import numpy as np

from ..arrays import Floats, frozen
from .lens import Lens

PARAMETERS = ("lean_x", "lean_y", "log_distance", "log_focal", "k1")
"""What a camera is told by, in the order of `Camera.covariance`."""


@dataclass(frozen=True, eq=False)
class Camera:
    """A camera above a floor.

    The floor's millimetres: origin where the optical axis meets the floor, y up in the picture, z towards the
    camera. An in-plane turn is left free: the picture's own upright is kept.

    Attributes:
        lens: rays of the pixels.
        lean: rotation vector (x, y) of the floor against straight-down [rad].
        distance_mm: from the lens to the origin [mm].
        covariance: (5, 5) of `PARAMETERS`.
        other: a second pose that fits almost as well (a small flat thing has two), or None.
        other_weight: how likely the second is, 0..0.5.
        by_lens: the camera were its lens of the other kind (see `LensPrior`), with its own covariance, or None.
        by_lens_weight: how likely that is, 0..0.5.
    """

    lens: Lens
    lean: tuple[float, float]
    distance_mm: float
    covariance: Floats = field(default_factory=lambda: frozen(np.zeros((5, 5))))
    other: "Camera | None" = None
    other_weight: float = 0.0
    by_lens: "Camera | None" = None
    by_lens_weight: float = 0.0

    @property
    def tilt_deg(self) -> float:
        """Angle between the optical axis and the floor's perpendicular [deg]."""
        return math.degrees(math.hypot(*self.lean))

    def _axes(self) -> Floats:
        """Return (3, 3), columns: the floor's x, y, z in camera coordinates."""
        axes: Floats = lean_matrix(*self.lean) @ np.diag([1.0, -1.0, -1.0])
        return axes

    def to_mm(self, points_px: Floats, height_mm: float | Floats = 0.0) -> Floats:
        """Return (N, 2) floor positions [mm] of points seen at (N, 2) pixels, `height_mm` above the floor.

        `height_mm` is one number or one for each point.
        Points above the horizon come back as NaN.
        """
        return self._meet_floor(self.lens.to_rays(points_px), height_mm)

    def _meet_floor(self, rays: Floats, height_mm: float | Floats) -> Floats:
        """Return (N, 2) floor positions [mm] where the rays meet the height."""
        axes = self._axes()
        directions = np.column_stack([rays, np.ones(len(rays))])
        start = np.array([0.0, 0.0, self.distance_mm])
        up = axes[:, 2]
        slope = directions @ up
        along = (height_mm + up @ start) / np.where(slope < -1e-9, slope, np.nan)
        there = directions * along[:, None] - start
        result: Floats = there @ axes[:, :2]
        return result

    def measure_mm_along(self, points_px: Floats, ways_px: Floats, height_mm: float | Floats = 0.0) -> Floats:
        """Return (N,) floor millimetres that a pixel along unit ways (N, 2) is worth at (N, 2) pixels."""
        step = self.to_mm(points_px + ways_px / 2, height_mm) - self.to_mm(points_px - ways_px / 2, height_mm)
        length: Floats = np.linalg.norm(step, axis=1)
        return length

    def to_px(self, points_mm: Floats, height_mm: float = 0.0) -> Floats:
        """Return (N, 2) pixels of (N, 2) floor positions [mm] raised by `height_mm`."""
        points_mm = np.asarray(points_mm, dtype=np.float64)
        world = np.column_stack([points_mm, np.full(len(points_mm), height_mm)])
        seen = world @ self._axes().T + np.array([0.0, 0.0, self.distance_mm])
        return self.lens.to_px(seen[:, :2] / seen[:, 2:])

    def height_above_floor_mm(self) -> float:
        """Return the lens's height [mm]."""
        return float(self.distance_mm * math.cos(math.radians(self.tilt_deg)))

    def parameters(self) -> Floats:
        """Return (5,) values of `PARAMETERS`."""
        return np.array(
            [
                *self.lean,
                math.log(self.distance_mm),
                math.log(self.lens.focal_px),
                self.lens.distortion[0],
            ]
        )

    def with_parameters(self, values: Floats) -> "Camera":
        """Return this camera with other `PARAMETERS`; what else the lens has is kept."""
        lens = replace(
            self.lens,
            focal_px=math.exp(values[3]),
            distortion=(float(values[4]), *self.lens.distortion[1:]),
        )
        return replace(self, lens=lens, lean=(float(values[0]), float(values[1])), distance_mm=math.exp(values[2]))

    def sensitivity(self, points_px: Floats, height_mm: float | Floats = 0.0) -> Floats:
        """Return (N, 2, 5): how floor positions [mm] move per unit of each of `PARAMETERS`."""
        centre = self.parameters()
        steps = np.array([1e-5, 1e-5, 1e-6, 1e-6, 1e-6])
        rays = self.lens.to_rays(points_px)
        columns = []
        for index, step in enumerate(steps):
            sides = []
            for sign in (1, -1):
                values = centre.copy()
                values[index] += sign * step
                camera = self.with_parameters(values)
                # Slant and distance leave the rays as they are; only the lens's own unknowns bend them.
                there = rays if index < 3 else camera.lens.to_rays(points_px)
                sides.append(camera._meet_floor(there, height_mm))
            columns.append((sides[0] - sides[1]) / (2 * step))
        stacked: Floats = np.stack(columns, axis=-1)
        return stacked


def lean_matrix(lean_x: float, lean_y: float) -> Floats:
    """Return the (3, 3) rotation for the rotation vector (lean_x, lean_y, 0) [rad] (Rodrigues)."""
    angle = math.hypot(lean_x, lean_y)
    cross = np.array([[0.0, 0.0, lean_y], [0.0, 0.0, -lean_x], [-lean_y, lean_x, 0.0]])
    if angle < 1e-12:
        small: Floats = np.eye(3) + cross
        return small
    result: Floats = np.eye(3) + math.sin(angle) / angle * cross + (1 - math.cos(angle)) / angle**2 * (cross @ cross)
    return result

"""Lens: from pixels to viewing rays and back, in OpenCV's convention."""

from dataclasses import dataclass

import numpy as np

from ..arrays import Floats


@dataclass(frozen=True, eq=False)
class Lens:
    """A pinhole with distortion.

    Attributes:
        focal_px: focal length [px]; pixels are square.
        centre_px: principal point (x, y) [px], pixel centres at whole numbers.
        distortion: k1, k2, p1, p2, k3 as in OpenCV's camera model.
    """

    focal_px: float
    centre_px: tuple[float, float]
    distortion: tuple[float, float, float, float, float] = (0.0, 0.0, 0.0, 0.0, 0.0)

    def to_rays(self, points_px: Floats) -> Floats:
        """Return (N, 2) undistorted directions x / z, y / z for (N, 2) pixels."""
        seen = (np.asarray(points_px, dtype=np.float64) - self.centre_px) / self.focal_px
        if not any(self.distortion):
            return seen
        k1, k2, p1, p2, k3 = self.distortion
        if p1 == p2 == 0:
            # Radial alone: Newton's method on the radius; four rounds are exact for any phone lens.
            far2 = (seen * seen).sum(axis=1)
            near2 = far2.copy()
            for _ in range(4):
                factor = 1 + near2 * (k1 + near2 * (k2 + near2 * k3))
                slope = factor * (factor + 2 * near2 * (k1 + near2 * (2 * k2 + 3 * near2 * k3)))
                near2 = np.maximum(near2 - (near2 * factor * factor - far2) / slope, 0.0)
            undone: Floats = seen / (1 + near2 * (k1 + near2 * (k2 + near2 * k3)))[:, None]
            return undone
        rays = seen.copy()
        # Fixed point of OpenCV's model; phone lenses (|k1| < 0.3) settle to 1e-9 in a dozen rounds.
        for _ in range(14):
            factor, shift = self._distortion_at(rays)
            rays = (seen - shift) / factor
        return rays

    def to_px(self, rays: Floats) -> Floats:
        """Return (N, 2) pixels for (N, 2) directions x / z, y / z."""
        rays = np.asarray(rays, dtype=np.float64)
        if any(self.distortion):
            factor, shift = self._distortion_at(rays)
            rays = rays * factor + shift
        points: Floats = rays * self.focal_px + np.asarray(self.centre_px)
        return points

    def _distortion_at(self, rays: Floats) -> tuple[Floats, Floats]:
        k1, k2, p1, p2, k3 = self.distortion
        x, y = rays[:, 0], rays[:, 1]
        r2 = x * x + y * y
        factor = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
        shift = np.column_stack([2 * p1 * x * y + p2 * (r2 + 2 * x * x), p1 * (r2 + 2 * y * y) + 2 * p2 * x * y])
        return factor[:, None], shift

"""Strip: the photo unrolled along a ring, a row per station, a column per step across the edge."""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Bytes, Flags, Floats
from .stations import sample_along


@dataclass(frozen=True, eq=False)
class Strip:
    """Colour profiles across a ring.

    Attributes:
        points: (N, 2) the stations, in pixels of the image sampled.
        normals: (N, 2) unit, pointing out.
        offsets: (K,) steps along the normal, negative inside [px].
        rgb: (N, K, 3) float32, 0..255.
        depth: (N, K) signed distance to the ring believed so far, negative inside [px].
        usable: (N, K) False outside the photo and on references.
        gap: (N, K) how far each sample is from the empty floor [Lab], where there is a photo of it.
    """

    points: Floats
    normals: Floats
    offsets: Floats
    rgb: Floats
    depth: Floats
    usable: Flags
    gap: Floats | None = None

    def places(self) -> Floats:
        """Return (N, K, 2) where each sample was taken [px]."""
        return self.points[:, None, :] + self.offsets[None, :, None] * self.normals[:, None, :]

    def lab(self) -> Floats:
        """Return (N, K, 3) the colours as CIE L*, a*, b* (float32)."""
        lab: NDArray[Any] = cv2.cvtColor((self.rgb / 255.0).astype(np.float32), cv2.COLOR_RGB2LAB)
        return lab


def unroll(
    image: Bytes,
    points: Floats,
    normals: Floats,
    reach: int,
    depth_map: Floats,
    blocked: Flags | None,
    map_step: float,
) -> Strip:
    """Return the strip `reach` pixels to both sides of the stations.

    Args:
        image: (H, W, 3) uint8 RGB.
        points: (N, 2) stations in pixels of `image`.
        normals: (N, 2) unit normals pointing out.
        reach: how far the strip goes each way [px].
        depth_map: (h, w) signed distance to the ring believed so far, negative inside, in pixels of its own map.
        blocked: (h, w) True on references, same map; or None.
        map_step: pixels of `image` per pixel of `depth_map`.
    """
    offsets = np.arange(-reach, reach + 1, dtype=np.float64)
    places = points[:, None, :] + offsets[None, :, None] * normals[:, None, :]
    rgb: NDArray[Any] = sample_along(image, places).astype(np.float32)
    on_map = (places + 0.5) / map_step - 0.5
    depth = sample_along(depth_map.astype(np.float32), on_map) * map_step
    height, width = image.shape[:2]
    usable = (
        (places[..., 0] > -0.5)
        & (places[..., 0] < width - 0.5)
        & (places[..., 1] > -0.5)
        & (places[..., 1] < height - 0.5)
    )
    if blocked is not None:
        usable &= sample_along(blocked.astype(np.float32), on_map) < 0.5
    return Strip(points, normals, offsets, rgb, depth, usable)

"""Each scene is rendered once, and each outline found once, for all tests of this folder."""

from functools import cache

import cv2
import numpy as np
import pytest
import scenes
from lying import CARD, HEIGHT, PHONE, WIDTH, lit, photograph, reference_rings

from outgrown.outline import find_contour, segment_garment

Fabric = scenes.Fabric
LEFTOVER = {
    "shape": scenes.garments.leftover(3, 600.0, 420.0),
    "things": (scenes.Thing("id-1", (380.0, 0.0), 84.0, "chip", (30, 60, 110)),),
}
FROM_ABOVE = {"roll_deg": 0.0, "height_mm": 900.0}
LAID = {
    "plain on table": {"floor": "table", "fabric": Fabric((44, 78, 112))},
    "fish on boards": {
        "floor": "boards",
        "fabric": Fabric((44, 78, 112), "fish", ((238, 196, 96), (232, 124, 92)), 30.0),
    },
    "plain on tiles": {"floor": "tiles", "fabric": Fabric((120, 44, 56))},
    "leaves on carpet": {
        "floor": "carpet",
        "fabric": Fabric((226, 200, 120), "leaves", ((70, 110, 84), (196, 100, 60)), 34.0),
    },
    "stripes on parquet": {
        "floor": "parquet",
        "fabric": Fabric((92, 92, 96), "stripes", ((205, 205, 200),), 16.0, 0.9),
    },
    "heather on sheet": {"floor": "sheet", "fabric": Fabric((66, 92, 70), "heather")},
    "even light": {"shadow": 0.0},
    "bold stripes on boards": {
        "floor": "boards",
        "fabric": Fabric((236, 234, 228), "stripes", ((34, 34, 38),), 30.0),
    },
    "white stripes on light grey": {"fabric": Fabric((236, 234, 228), "stripes", ((34, 34, 38),), 40.0)},
    "holes on tiles": LEFTOVER
    | {"floor": "tiles", "fabric": Fabric((120, 44, 56)), "shot": FROM_ABOVE | {"look_at_mm": (40.0, 0.0)}},
    "holes on boards": LEFTOVER
    | {"floor": "boards", "fabric": Fabric((66, 92, 70)), "shot": FROM_ABOVE | {"look_at_mm": (40.0, 0.0)}},
    "corner beyond the frame": LEFTOVER | {"shot": FROM_ABOVE | {"look_at_mm": (300.0, 0.0)}},
    "end beyond the frame": {"shot": {"look_at_mm": (30.0, 290.0)}},
    "nothing on table": {"shape": None},
    "nothing on boards": {"shape": None, "floor": "boards"},
    "phone beside": {"floor": "boards", "fabric": Fabric((120, 44, 56)), "things": (CARD, PHONE)},
}


@pytest.fixture(scope="session", autouse=True)
def one_thread():
    before = cv2.getNumThreads()
    cv2.setNumThreads(1)
    yield
    cv2.setNumThreads(before)


@pytest.fixture(scope="session")
def picture():
    """Return the rendered picture of a name in `LAID`."""
    return cache(lambda name: photograph(**LAID[name]))


@pytest.fixture(scope="session")
def contour(picture):
    """Return the contour found in the picture of a name in `LAID`."""

    @cache
    def find(name):
        return find_contour(picture(name).pixels, reference_rings_px=reference_rings(picture(name)))

    return find


@pytest.fixture(scope="session")
def mask(picture):
    """Return the garment's mask in the picture of a name in `LAID`, under a `light` of (floor ring mm, factor)."""

    @cache
    def segment(name, light=None):
        rendered = picture(name)
        pixels = rendered.pixels
        if light is not None:
            ring, factor = light
            pixels = lit(pixels, rendered.truth.shot.to_px(np.array(ring)), factor)
        return segment_garment(pixels, reference_rings_px=reference_rings(rendered)).paint((HEIGHT, WIDTH))

    return segment

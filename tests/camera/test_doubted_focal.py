"""Cards through a lens whose focal length the file leaves open (digital zoom), by hand-made cameras."""

import numpy as np
import pytest

from outgrown.camera.camera import Camera
from outgrown.camera.find.shape import fit_pose
from outgrown.camera.lens import Lens
from outgrown.camera.reference import Kind
from outgrown.photo import Photo

# ISO/IEC 7810:2019, ID-1.
CARD_MM = np.array([[0, 0], [85.6, 0], [85.6, 53.98], [0, 53.98]])
TRUE_PX, HIGH_MM = 6000.0, 2200.0


@pytest.mark.parametrize("stated_without_zoom", [True, False])
def test_a_card_under_digital_zoom_is_not_put_farther_away_than_a_phone_is_held(stated_without_zoom):
    # Zoomed twice; the middle of the two readings is too short or too long by the square root of 2.
    middle_px = TRUE_PX * (2**-0.5 if stated_without_zoom else 2**0.5)
    photo = Photo(np.zeros((3000, 4000, 3), np.uint8), focal_px=middle_px, focal_doubt=float(np.log(2) / 2))
    camera = Camera(Lens(TRUE_PX, (1999.5, 1499.5)), (0.1, -0.1), HIGH_MM)
    pose = fit_pose(camera.to_px(CARD_MM + np.array([60.0, 250.0])), Kind.CARD, photo, corner_doubt_px=0.5)
    assert pose is not None
    assert 1000.0 < pose.height_mm < 1.05 * HIGH_MM

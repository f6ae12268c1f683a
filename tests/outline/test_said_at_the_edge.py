"""What a person says of a spot at the very edge holds at full resolution, too."""

import cv2
import numpy as np

from outgrown.outline import Hints, Side, Stroke, Tracer

FLOOR, CLOTH, PALE = (163, 160, 150), (58, 80, 62), (196, 194, 188)
SIZE = (2000, 1500)
CORNERS = np.array([[400.0, 300], [1010, 330], [960, 1250], [440, 1230]])
IN_CORNER, AT_HEM = (951.0, 1241.0), (700.0, 1236.0)


def draw():
    """Return leggings of dark cloth with pale spots, one in the lower right corner and one across the lower edge."""
    fine = 2
    picture = np.full((SIZE[1] * fine, SIZE[0] * fine, 3), FLOOR, np.uint8)
    cloth = np.zeros(picture.shape[:2], np.uint8)
    cv2.fillPoly(cloth, [np.round((CORNERS + 0.5) * fine - 0.5).astype(np.int32)], 1)
    picture[cloth > 0] = CLOTH
    spots = np.zeros(picture.shape[:2], np.uint8)
    within = [(450 + 90 * k, 380 + 110 * row) for k in range(6) for row in range(7)]
    for x, y in ((958.0, 1250.0), (700.0, 1240.0), *within):
        cv2.circle(spots, (round(x * fine), round(y * fine)), 17 * fine, 1, -1)
    picture[(spots & cloth) > 0] = PALE
    small = cv2.GaussianBlur(cv2.resize(picture, SIZE, interpolation=cv2.INTER_AREA).astype(np.float32), (0, 0), 0.9)
    small += np.random.default_rng(4).normal(size=small.shape) * 3
    return np.clip(np.round(small), 0, 255).astype(np.uint8)


def say(side, place):
    return Hints((Stroke(side, np.array([place])),))


def measure_inside(contour, place):
    """Return how far inside the contour a place lies [px]."""
    return cv2.pointPolygonTest(contour.ring_px.astype(np.float32)[:, None], place, True)


def measure_corner(contour):
    return np.linalg.norm(contour.ring_px - CORNERS[2], axis=1).min()


def test_what_is_said_at_the_edge_is_not_taken_back_when_the_edge_is_followed():
    tracer = Tracer(draw())
    before = tracer.trace()
    # The spot in the corner is lost, the one at the hem is not.
    assert measure_corner(before) > 8
    assert measure_inside(before, IN_CORNER) < 0 < measure_inside(before, AT_HEM)
    told = tracer.trace(say(Side.GARMENT, IN_CORNER))
    assert measure_inside(told, IN_CORNER) > 2
    assert measure_corner(told) < 5
    # Wrongly said, but said.
    cut = tracer.trace(say(Side.FLOOR, AT_HEM))
    assert measure_inside(cut, AT_HEM) < 0
    assert measure_corner(cut) == measure_corner(before)


def test_a_place_hardly_beyond_the_edge_is_passed_by_it():
    tracer = Tracer(draw())
    before = tracer.trace()
    # On the straight left edge, less than a pixel of the small picture away from it.
    for y, off, side in ((600.0, -1.5, Side.GARMENT), (800.0, 2.0, Side.FLOOR)):
        edge = before.ring_px[np.argmin(np.abs(before.ring_px - (400 + 40 * (y - 300) / 930, y)).sum(axis=1))]
        place = edge + np.array([off, 0.0])
        assert (measure_inside(before, place) > 0) == (side is Side.FLOOR)
        after = tracer.trace(say(side, place))
        assert (measure_inside(after, place) > 0) == (side is Side.GARMENT)
        far = np.linalg.norm(before.ring_px - place, axis=1) > 60
        assert max(abs(measure_inside(after, point)) for point in before.ring_px[far][::20]) < 0.1

"""Garments lying on floors, photographed at 1600 by 1200 pixels, with where they truly lie."""

import cv2
import numpy as np
import scenes

WIDTH, HEIGHT = 1600, 1200
CARD = scenes.Thing("id-1", (170.0, -60.0), 84.0, "chip", (196, 84, 60), (240, 180, 96))
PHONE = scenes.Thing("phone", (-170.0, 40.0), 80.0)


def photograph(*, floor="table", fabric=None, things=(CARD,), shape="leggings", seed=1, **other):
    """Return a rendered picture of one garment beside a card; `shot` changes the camera."""
    if shape == "leggings":
        shape = scenes.garments.rippled(scenes.garments.leggings_folded(1040.0, waist_slope_mm=8.0), 0.2, seed=seed)
    shot = {"height_mm": 800.0, "tilt_deg": 4.0, "lean_deg": 70.0, "roll_deg": 92.0, "look_at_mm": (30.0, 0.0)}
    floor = floor if isinstance(floor, scenes.Floor) else scenes.Floor(floor, seed=seed, turn_deg=20.0)
    return scenes.render(
        scenes.Scene(
            scenes.Shot(WIDTH, HEIGHT, 26.0, **shot | other.pop("shot", {})),
            shape,
            fabric=fabric or scenes.Fabric((44, 78, 112), seed=seed),
            things=things,
            floor=floor,
            seed=seed,
            cloth_per_mm=2.0,
            **other,
        )
    )


def reference_rings(rendered):
    return [np.asarray(one["corners_px"]) for one in rendered.truth.references if one["kind"] != "phone"]


def fill(*rings_px, shape=(HEIGHT, WIDTH)):
    """Return the mask (H, W) of rings, to a sixteenth of a pixel."""
    mask = np.zeros(shape, np.uint8)
    for ring in rings_px:
        cv2.fillPoly(mask, [np.round(np.asarray(ring) * 16).astype(np.int32)], 1, shift=4)
    return mask > 0


def true_mask(truth, shape=(HEIGHT, WIDTH)):
    mask = fill(truth.ring_px, shape=shape)
    for hole in truth.holes_px:
        mask &= ~fill(hole, shape=shape)
    return mask


def overlap(mask, other):
    """Return intersection over union."""
    return (mask & other).sum() / (mask | other).sum()


def outwards_px(points, ring):
    """Return (N,) how far each point lies outside the ring (inside: negative) [px]."""
    ring = np.asarray(ring, dtype=np.float32)[:, None]
    return np.array([-cv2.pointPolygonTest(ring, (float(x), float(y)), True) for x, y in points])


def signed_area(ring):
    """Return the shoelace area with y turned up: positive when counter-clockwise as seen."""
    x, y = ring[:, 0], -ring[:, 1]
    return 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def lit(pixels, ring_px, factor, soft_px=1.5):
    """Return the picture with `factor` times the light within the ring, as sun through a window (or its shadow)."""
    share = cv2.GaussianBlur(fill(ring_px).astype(np.float64), (0, 0), soft_px)[..., None]
    light = scenes.to_light(pixels) * (1 + (factor - 1) * share)
    levels = scenes.to_light(np.arange(256, dtype=np.uint8))
    return np.round(np.interp(light, levels, np.arange(256))).astype(np.uint8)


def lay_card(grey, left, top, size_px, level=225.0):
    """Draw a card so long [px], its corners round, into a picture."""
    high, round_px = round(size_px * 53.98 / 85.6), round(size_px * 3.18 / 85.6)
    card_px = np.zeros((high, size_px), np.uint8)
    cv2.rectangle(card_px, (round_px, round_px), (size_px - 1 - round_px, high - 1 - round_px), 255, -1)
    round_it = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * round_px + 1, 2 * round_px + 1))
    grey[top : top + high, left : left + size_px][cv2.dilate(card_px, round_it) > 0] = level

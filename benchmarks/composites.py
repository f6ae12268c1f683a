"""Composites: garments of photos with masks laid on the floors of other such photos, made to mislead.

A garment is cut out, turned, flipped, resized and often recoloured, towards the floor or by another hue; some
get a band of nearly the floor's colour. The floor is another photo's, its garment covered with pieces of that floor.
Shadows, dark joints beside the garment, patches of sun, noise and JPEG are added.
"""

from pathlib import Path

import cv2
import numpy as np
from segmentation import read_pair

GROUPS = 4
LONG, SHORT = 533, 400


class Composer:
    """Makes composites of the photos in a folder, each by its number."""

    def __init__(self, folder: Path):
        paths = sorted(folder.glob("*.jpg"))
        paths = [path for path in paths if path.with_suffix("").with_suffix(".mask.png").exists()]
        self.names = [path.stem for path in paths]
        self.pairs = {path.stem: read_pair(path) for path in paths}
        order = np.random.default_rng(5).permutation(len(paths))
        self.group = {self.names[int(at)]: place % GROUPS for place, at in enumerate(order)}

    def make(self, number):
        """Return a composite (h, w, 3), its mask (255 garment), and the names of garment and floor."""
        draw = np.random.default_rng([number, 3])
        garment = self.names[int(draw.integers(len(self.names)))]
        others = [name for name in self.names if name != garment]
        if draw.random() < 0.5:  # half of them within a group, so that groups can be held out
            others = [name for name in others if self.group[name] == self.group[garment]] or others
        floor = others[int(draw.integers(len(others)))]
        draw = np.random.default_rng([number, 77])
        photo, mask = self.pairs[garment]
        shape = (LONG, SHORT) if draw.random() < 0.6 else (SHORT, LONG)
        ground = _clear_floor(*self.pairs[floor], draw, shape)
        cloth, share = _lay(photo, mask, draw, shape)
        cloth = _recolour(cloth, ground, share > 0.5, draw)
        ground = _shade(ground, share, draw)
        picture = ground * (1 - share[..., None]) + cloth * share[..., None]
        return _finish(picture, draw), np.where(share > 0.5, 255, 0).astype(np.uint8), garment, floor


def _grow(mask, radius):
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * radius + 1, 2 * radius + 1))
    return cv2.dilate(mask.astype(np.uint8), disc) > 0


def _clear_floor(photo, mask, draw, shape):
    """Return a photo's floor (h, w, 3), shifted and mirrored pieces of it laid over its garment."""
    covered = _grow(mask > 0, 9)
    height, width = covered.shape
    out, left = photo.astype(np.float32), covered.copy()
    for _ in range(14):
        best = None
        for _ in range(60):
            flips = (slice(None, None, int(draw.choice([1, -1]))), slice(None, None, int(draw.choice([1, -1]))))
            shift = np.float32([[1, 0, draw.integers(-width, width)], [0, 1, draw.integers(-height, height)]])
            closed = np.ascontiguousarray(covered[flips]).astype(np.uint8)
            closed = cv2.warpAffine(closed, shift, (width, height), borderValue=1) > 0
            gained = int((left & ~closed).sum())
            if best is None or gained > best[0]:
                best = gained, flips, shift, closed
        gained, flips, shift, closed = best
        if not gained:
            break
        piece = cv2.warpAffine(np.ascontiguousarray(photo[flips]).astype(np.float32), shift, (width, height))
        used = left & ~closed
        soft = cv2.GaussianBlur(_grow(used, 2).astype(np.float32), (0, 0), 2.0) * ~closed
        soft = np.where(used, 1, soft)[..., None]
        out, left = out * (1 - soft) + piece * soft, left & closed
        if not left.any():
            break
    if left.any():
        known = np.clip(out, 0, 255).astype(np.uint8)
        out = cv2.inpaint(known, left.astype(np.uint8), 5, cv2.INPAINT_TELEA).astype(np.float32)
    scale = max(shape[0] / height, shape[1] / width) * draw.uniform(1.0, 1.25)
    size = (max(shape[1], int(np.ceil(width * scale))), max(shape[0], int(np.ceil(height * scale))))
    out = cv2.resize(out, size, interpolation=cv2.INTER_CUBIC)
    y, x = (int(draw.integers(0, out.shape[axis] - shape[axis] + 1)) for axis in (0, 1))
    out = out[y : y + shape[0], x : x + shape[1]]
    return out[:: int(draw.choice([1, -1])), :: int(draw.choice([1, -1]))]


def _lay(photo, mask, draw, shape):
    """Return the garment (h, w, 3) turned and placed, and its share (h, w) of every pixel."""
    garment = mask == 255
    y, x = np.nonzero(garment)
    centre = np.array([x.mean(), y.mean()])
    angle = np.deg2rad(draw.choice([0, 0, 90, 180, 270]) + draw.normal(0, 8))
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    turn = turn @ np.diag([draw.choice([1, -1]), 1])
    turned = (np.column_stack([x, y])[::37] - centre) @ turn.T
    low, high = turned.min(0), turned.max(0)
    size = np.array(shape[::-1])
    scale = min(1.15, *(0.9 * size / (high - low))) * draw.uniform(0.72, 1.0)
    room = np.maximum((size - (high - low) * scale) / 2 - 4, 0)
    turn = turn * scale
    middle = size / 2 - (low + high) / 2 * scale + draw.uniform(-0.7, 0.7, 2) * room
    place = np.column_stack([turn, middle - turn @ centre]).astype(np.float32)
    core = cv2.erode(garment.astype(np.uint8), np.ones((3, 3))) > 0
    bled = cv2.inpaint(photo, (_grow(garment, 5) & ~core).astype(np.uint8), 3, cv2.INPAINT_TELEA)
    cloth = cv2.warpAffine(bled, place, shape[::-1], flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    share = cv2.warpAffine(garment.astype(np.float32), place, shape[::-1], flags=cv2.INTER_LINEAR)
    return cloth.astype(np.float32), cv2.GaussianBlur(share, (0, 0), draw.uniform(0.4, 0.9))


def _to_lab(picture):
    return cv2.cvtColor((np.clip(picture, 0, 255) / 255).astype(np.float32), cv2.COLOR_RGB2LAB)


def _recolour(cloth, ground, where, draw):
    lab, floor = _to_lab(cloth), _to_lab(ground)
    beside = _grow(where, 14) & ~where
    kind = draw.random()
    if kind < 0.3:
        angle = draw.uniform(0, 2 * np.pi)
        hue = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        lab[..., 1:] = lab[..., 1:] @ hue.T
        lab[..., 0] = np.clip((lab[..., 0] - 50) * draw.uniform(0.6, 1.05) + 50 + draw.normal(0, 12), 2, 98)
    elif kind < 0.6:
        lab += draw.uniform(0.4, 0.92) * (floor[beside].mean(0) - lab[where].mean(0))
    if draw.random() < 0.45:
        way = draw.normal(size=2)
        rows, columns = np.mgrid[: where.shape[0], : where.shape[1]]
        along = (columns * way[0] + rows * way[1]) / np.hypot(*way)
        low, high = along[where].min(), along[where].max()
        width = draw.uniform(0.06, 0.22) * (high - low)
        at = draw.choice([low, high - width, draw.uniform(low, high - width)])
        band = (along > at) & (along < at + width) & where
        near = _grow(band, 16) & ~where
        if band.any() and near.any():
            goal = floor[near].mean(0) + draw.normal(0, [4, 1.5, 1.5])
            lab[band] = goal + (lab[band] - lab[band].mean(0)) * draw.uniform(0.2, 0.7)
    return np.clip(cv2.cvtColor(lab.astype(np.float32), cv2.COLOR_LAB2RGB) * 255, 0, 255)


def _shade(ground, share, draw):
    """Return the floor with the garment's shadow and with joints close to its edge."""
    size = share.shape[::-1]
    if draw.random() < 0.8:
        shift = np.float32([[1, 0, draw.uniform(-5, 5)], [0, 1, draw.uniform(-5, 5)]])
        shadow = cv2.GaussianBlur(cv2.warpAffine(share, shift, size), (0, 0), draw.uniform(1.2, 5))
        ground = ground * (1 - draw.uniform(0.15, 0.6) * shadow[..., None])
    if draw.random() < 0.35:
        rings, _ = cv2.findContours((share > 0.5).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        ring = max(rings, key=len)[:, 0].astype(np.float64)
        for _ in range(int(draw.integers(1, 4))):
            first = int(draw.integers(len(ring)))
            one, other = ring[first], ring[(first + int(draw.integers(30, 120))) % len(ring)]
            way = (other - one) / max(float(np.hypot(*(other - one))), 1.0)
            one = one + np.array([-way[1], way[0]]) * draw.choice([-1, 1]) * draw.uniform(0, 14)
            ends = [tuple(int(value) for value in one + reach * way) for reach in (-900, 900)]
            line = cv2.line(np.zeros(share.shape, np.uint8), *ends, 255, int(draw.integers(1, 6)), cv2.LINE_AA)
            ground = ground * (1 - (line / 255.0 * draw.uniform(0.3, 0.85))[..., None])
    return ground


def _finish(picture, draw):
    """Return the picture with a patch of sun or shade, a slope of light, noise, and what JPEG leaves of it."""
    height, width = picture.shape[:2]
    if draw.random() < 0.25:
        corners = cv2.convexHull((draw.uniform(0, 1, (4, 2)) * [width, height]).astype(np.int32))
        patch = cv2.fillConvexPoly(np.zeros((height, width), np.uint8), corners, 255)
        patch = cv2.GaussianBlur(patch, (0, 0), draw.uniform(1, 4)) / 255.0
        picture = picture * (1 + draw.uniform(0.25, 0.9) * draw.choice([1, -0.6]) * patch[..., None])
    slope = np.linspace(-1, 1, width)[None, :, None] * draw.normal(0, 0.12)
    slope = slope + np.linspace(-1, 1, height)[:, None, None] * draw.normal(0, 0.12)
    picture = picture * (1 + slope) + draw.normal(0, draw.uniform(0, 4), (height, width, 1))
    levels = np.clip(picture, 0, 255).astype(np.uint8)
    _, data = cv2.imencode(".jpg", levels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, int(draw.integers(70, 93))])
    return cv2.imdecode(data, cv2.IMREAD_COLOR)[..., ::-1].copy()

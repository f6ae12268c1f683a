"""Invented shapes with exact corners: a zoo for geometry, and legs of many sizes for garment and pieces."""

from dataclasses import dataclass, replace

import numpy as np

ZOO = {
    "square": np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0]]),
    "tapered leg": np.array([[0.0, 0.0], [80.0, 0.0], [150.0, 350.0], [110.0, 540.0], [0.0, 540.0]]),
    "deep rise": np.array(
        [[0.0, 0.0], [90.0, 0.0], [200.0, 300.0], [125.0, 330.0], [110.0, 420.0], [105.0, 560.0], [0.0, 560.0]]
    ),
    "sliver": np.array([[0.0, 0.0], [300.0, 0.0], [300.0, 4.0], [0.0, 3.0]]),
}
BROKEN = {
    "empty": np.zeros((0, 2)),
    "one point": np.array([[1.0, 2.0]]),
    "no area": np.array([[0.0, 0.0], [10.0, 0.0], [20.0, 0.0]]),
    "not a number": np.array([[0.0, 0.0], [10.0, np.nan], [20.0, 30.0]]),
}
FIGURE_OF_EIGHT = np.array([[0.0, 0.0], [100.0, 100.0], [100.0, 0.0], [0.0, 100.0]])


def bezier(p0, p1, p2, p3, step_mm=0.7):
    """Points on a cubic Bezier segment."""
    p = np.array([p0, p1, p2, p3], dtype=float)
    hull = np.hypot(*np.diff(p, axis=0).T).sum()
    u = np.linspace(0, 1, max(3, int(hull / step_mm)))[:, None]
    v = 1 - u
    return v**3 * p[0] + 3 * v**2 * u * p[1] + 3 * v * u**2 * p[2] + u**3 * p[3]


@dataclass(frozen=True)
class Leg:
    """An invented half leg, upright, fold at x = 0, hem at the fold at y = 0. Millimetres.

    Widths are those of the folded leg. `crotch_lean_deg` is how the rise leaves the crotch point, above level.
    """

    inseam_height: float = 380.0
    rise_height: float = 190.0
    crotch_width: float = 165.0
    waist_width: float = 118.0
    hem_width: float = 85.0
    knee_width: float | None = None
    waist_slant: float = 8.0
    waist_curve: float = 3.0
    hem_slant: float = 0.0
    crotch_lean_deg: float = 25.0
    inseam_lean_deg: float = 14.0
    side_bow: float = 0.0
    cuff_height: float = 0.0
    cuff_step: float = 0.0

    def corners(self):
        """Corner positions by name."""
        top = self.inseam_height + self.rise_height
        return {
            "waist-side": np.array([0.0, top]),
            "hem-outer": np.array([0.0, 0.0]),
            "hem-inner": np.array([self.hem_width, self.hem_slant]),
            "crotch": np.array([self.crotch_width, self.inseam_height]),
            "waist-centre": np.array([self.waist_width, top - self.waist_slant]),
        }

    def edges(self):
        """Dense points of each edge, counter-clockwise: side, hem, inseam, rise, waist."""
        c = self.corners()
        ws, ho, hi, cr, wc = (c[n] for n in ("waist-side", "hem-outer", "hem-inner", "crotch", "waist-centre"))
        length = ws[1]
        b = self.side_bow * 4 / 3
        side = bezier(ws, (-b, length * 2 / 3), (-b, length / 3), ho)
        hem = bezier(ho, (hi[0] * 0.33, 0), (hi[0] * 0.67, hi[1] * 0.8), hi)
        knee = self.knee_width if self.knee_width is not None else 0.45 * cr[0] + 0.55 * hi[0]
        a = np.deg2rad(self.inseam_lean_deg)
        k = 0.33 * self.inseam_height
        start = hi + (np.array([0.0, self.cuff_height]) if self.cuff_height else 0)
        if self.cuff_height:
            start = start + np.array([self.cuff_step, 0.0])
        handle = (
            np.array([knee * 1.5 - 0.5 * cr[0] * 0.5 - 0.25 * hi[0], start[1] + k])
            if self.knee_width
            else np.array([start[0] + 0.2 * (knee - start[0]), start[1] + k])
        )
        inseam = bezier(start, handle, cr - k * np.array([np.sin(a), np.cos(a)]), cr)
        if self.cuff_height:
            up = np.array([0.0, self.cuff_height])
            low = bezier(hi, hi + up / 3, hi + up * 2 / 3, hi + up)
            step = bezier(low[-1], low[-1] + [self.cuff_step / 3, 0], low[-1] + [self.cuff_step * 2 / 3, 0], start)
            inseam = np.vstack([low[:-1], step[:-1], inseam])
            # the fold side steps in by the same amount
            s = side[:, 1] < self.cuff_height
            upper = side[~s] - [self.cuff_step, 0]
            side = np.vstack([upper, [[-self.cuff_step, self.cuff_height], [0.0, self.cuff_height]], side[s]])
            side[0] = ws
            side[: max(2, len(upper) // 6), 0] = np.linspace(0, -self.cuff_step, max(2, len(upper) // 6))
        a = np.deg2rad(self.crotch_lean_deg)
        reach = (cr[0] - wc[0]) * 0.9 + 10
        rise = bezier(cr, cr + reach * np.array([-np.cos(a), np.sin(a)]), wc - [-2, 0.45 * self.rise_height], wc)
        w = self.waist_curve
        waist = bezier(wc, wc * [0.67, 1] + [0, self.waist_slant * 0.4 - w], [wc[0] * 0.33, ws[1] - w * 0.5], ws)
        return {"side": side, "hem": hem, "inseam": inseam, "rise": rise, "waist": waist}

    def ring(self):
        """The closed ring, first point not repeated, counter-clockwise."""
        return np.vstack([e[:-1] for e in self.edges().values()])


@dataclass(frozen=True)
class Shot:
    """How a leg lies in the photo: turned, shifted, turned over, with noise and ripples."""

    angle_deg: float = 0.0
    shift: tuple[float, float] = (0.0, 0.0)
    is_mirrored: bool = False
    noise: float = 0.0
    ripple: float = 0.0
    seed: int = 0
    rounding: float = 0.0

    def move(self, points):
        """Points of the upright leg as they lie."""
        p = np.asarray(points, dtype=float).copy()
        if self.is_mirrored:
            p = p * [-1, 1]
        a = np.deg2rad(self.angle_deg)
        return p @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]]) + self.shift

    def ring(self, ring, step_mm=0.8):
        """The noisy ring as seen, counter-clockwise, starting anywhere."""
        from scipy.ndimage import gaussian_filter1d

        rng = np.random.default_rng(self.seed)
        line = np.vstack([ring, ring[:1]])
        s = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
        n = int(s[-1] / step_mm)
        t = np.linspace(0, s[-1], n, endpoint=False)
        p = np.column_stack([np.interp(t, s, line[:, i]) for i in range(2)])
        if self.rounding:
            p = gaussian_filter1d(p, self.rounding / step_mm, axis=0, mode="wrap")
        tangent = np.gradient(p, axis=0)
        normal = np.column_stack([tangent[:, 1], -tangent[:, 0]]) / np.maximum(np.hypot(*tangent.T), 1e-9)[:, None]
        out = np.zeros(n)
        if self.noise:
            white = gaussian_filter1d(rng.normal(size=n), 2.0, mode="wrap")
            out += self.noise * white / white.std()
        if self.ripple:
            wave = gaussian_filter1d(rng.normal(size=n), 9.0 / step_mm, mode="wrap")
            out += self.ripple * wave / np.abs(wave).max()
        p = self.move(p + out[:, None] * normal)
        if self.is_mirrored:
            p = p[::-1]
        return np.roll(p, int(rng.integers(n)), axis=0)


def random_leg(rng):
    """A plausible leg from baby shorts to adult flares, and how it lies."""
    crotch = rng.uniform(105, 330)
    rise = crotch * rng.uniform(0.8, 1.35)
    inseam = crotch * rng.choice([rng.uniform(0.3, 0.8), rng.uniform(0.8, 2.0), rng.uniform(1.8, 2.8)])
    waist = crotch * rng.uniform(0.6, 0.86)
    share = np.clip(inseam / crotch / 2.4, 0, 1)
    hem = crotch * (1 - share * rng.uniform(0.25, 0.6)) * rng.uniform(0.85, 0.98)
    if rng.random() < 0.15:
        hem = crotch * rng.uniform(0.75, 1.1)
    leg = Leg(
        inseam_height=inseam,
        rise_height=rise,
        crotch_width=crotch,
        waist_width=waist,
        hem_width=hem,
        waist_slant=rng.uniform(-0.05, 0.16) * waist,
        waist_curve=rng.uniform(0, 0.05) * waist,
        hem_slant=rng.uniform(-0.05, 0.08) * hem,
        crotch_lean_deg=rng.uniform(8, 45),
        inseam_lean_deg=rng.uniform(4, 16),
        side_bow=rng.uniform(-6, 6),
    )
    if rng.random() < 0.2 and inseam > 150:
        leg = replace(leg, cuff_height=rng.uniform(35, 60), cuff_step=rng.uniform(5, 12), side_bow=0.0)
    shot = Shot(
        angle_deg=rng.uniform(0, 360),
        shift=(rng.uniform(-500, 500), rng.uniform(-500, 500)),
        is_mirrored=bool(rng.random() < 0.5),
        noise=rng.uniform(0.3, 1.0),
        ripple=rng.uniform(0.5, 3.0),
        rounding=rng.uniform(0.0, 3.0),
        seed=int(rng.integers(1 << 30)),
    )
    return leg, shot

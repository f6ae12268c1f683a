"""The equations of the adjustment: how far unknowns are from explaining all that is seen and known."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from ..arrays import Floats, frozen
from .camera import PARAMETERS, Camera
from .edge_terms import PER_REFERENCE, EdgeTerms
from .lens import Lens
from .lens_prior import LensPrior
from .reference import Reference
from .straight import StraightTerms

HELD = 1e-6
"""The doubt of k1 while it is held."""
FOCAL, K1 = PARAMETERS.index("log_focal"), PARAMETERS.index("k1")
_LEAN_SPREAD = math.radians(20)
"""A person holds the phone roughly above: lean about each axis, standard deviation."""
_LEAN_LIMIT = math.radians(65)
"""No floor is looked at more slantingly; keeps the horizon out of the picture."""
_SHARED = len(PARAMETERS)

Solution = tuple[float, Floats, Floats]
"""Weighted squares, unknowns, and derivatives of the residuals by them."""


def distinct(found: Iterable[Solution]) -> list[Solution]:
    """Return the solutions that differ in slant, best first."""
    kept: list[Solution] = []
    for solution in sorted(found, key=lambda solution: solution[0]):
        if all(_apart_deg(solution[1], other[1]) > 0.5 for other in kept):
            kept.append(solution)
    return kept


def _apart_deg(first: Floats, second: Floats) -> float:
    return math.degrees(math.hypot(first[0] - second[0], first[1] - second[1]))


def find_starts(references: Sequence[Reference], lens: Lens) -> list[Floats]:
    """Return first guesses: both poses of each reference alone, and straight down."""
    leans = [(0.0, 0.0)]
    for reference in references:
        rays = lens.to_rays(reference.corners_px)
        count, turns, _, _ = cv2.solvePnPGeneric(
            np.column_stack([reference.corners_mm - reference.corners_mm.mean(axis=0), np.zeros(4)])[:, None],
            rays[:, None],
            np.eye(3),
            None,
            flags=cv2.SOLVEPNP_IPPE,
        )
        for index in range(count):
            up = cv2.Rodrigues(turns[index])[0][:, 2]
            up = -up if up[2] > 0 else up
            angle = math.acos(max(-1.0, min(1.0, -up[2])))
            # The rotation vector (x, y, 0) that carries straight-up (0, 0, -1) to `up`.
            axis = np.array([up[1], -up[0]])
            size = np.linalg.norm(axis)
            if size > 1e-9 and angle < math.radians(60):
                leans.append((angle * axis[0] / size, angle * axis[1] / size))
    starts: list[Floats] = []
    for lean in leans:
        if all(math.hypot(lean[0] - s[0], lean[1] - s[1]) > math.radians(1.5) for s in starts):
            starts.append(_start(references, lens, lean))
    return starts[:6]


def _start(references: Sequence[Reference], lens: Lens, lean: tuple[float, float]) -> Floats:
    unit = Camera(lens, lean, 1.0)
    ratios = []
    for reference in references:
        corners = unit.to_mm(reference.corners_px)
        ratios.append(_perimeter(reference.corners_mm) / _perimeter(corners))
    distance = float(np.median(ratios))
    camera = [*lean, math.log(distance), math.log(lens.focal_px), lens.distortion[0]]
    return np.array([*camera, *[0.0] * (PER_REFERENCE * len(references))])


def _perimeter(corners: Floats) -> float:
    return float(np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1).sum())


@dataclass(frozen=True, eq=False)
class Problem:
    """Everything observed, and how far a set of unknowns is from explaining it.

    Unknowns in order: the camera's five, those of each reference, the lines' own.
    """

    edges: EdgeTerms
    lens: Lens
    prior: LensPrior
    lines: StraightTerms

    @property
    def first_line(self) -> int:
        """Where the lines' own unknowns begin."""
        return _SHARED + PER_REFERENCE * self.edges.count

    def with_lines(self, lines: StraightTerms) -> "Problem":
        """Return the problem with other lines, or other weights of them."""
        return replace(self, lines=lines)

    def camera(self, values: Floats) -> Camera:
        """Return the camera of a set of unknowns, without its covariance."""
        return Camera(self.lens, (0.0, 0.0), 1.0).with_parameters(values[:_SHARED])

    def linearise(self, values: Floats, with_jacobian: bool = True) -> tuple[Floats, Floats]:
        """Return weighted residuals and their derivatives by all unknowns."""
        first, camera = self.first_line, self.camera(values)
        own = values[_SHARED:first].reshape(-1, PER_REFERENCE)
        residuals, jacobian = self.edges.linearise(camera, own, with_jacobian)
        expected, doubt = self._recall(first)
        known = np.isfinite(doubt)
        residuals = np.concatenate([residuals, ((values[:first] - expected) / doubt)[known]])
        if with_jacobian:
            jacobian = np.vstack([jacobian, np.diag(1 / doubt)[known]])
        if not self.lines.lines:
            return residuals, jacobian
        more, slope = self.lines.linearise(camera, values[first:], first, len(values))
        if with_jacobian:
            jacobian = np.vstack([np.pad(jacobian, ((0, 0), (0, len(values) - first))), slope])
        return np.concatenate([residuals, more]), jacobian

    def _recall(self, count: int) -> tuple[Floats, Floats]:
        """Return what is known beforehand of the first `count` unknowns, and its doubt, infinite where nothing is."""
        expected, doubt = np.zeros(count), np.full(count, np.inf)
        doubt[:2] = _LEAN_SPREAD
        expected[FOCAL], doubt[FOCAL] = math.log(self.prior.focal_px), self.prior.focal_doubt
        expected[K1], doubt[K1] = self.prior.k1, self.prior.k1_doubt
        # Of a reference all but its place and turn.
        doubt[_SHARED:].reshape(-1, PER_REFERENCE)[:, -self.edges.doubts.shape[1] :] = self.edges.doubts
        return expected, doubt

    def solve(self, start: Floats) -> Solution:
        """Return (chi2, values, jacobian) at the minimum near `start`: Gauss-Newton, damped (Levenberg-Marquardt)."""
        values, damping = start, 1e-3
        residuals, jacobian = self.linearise(values)
        chi2 = float(residuals @ residuals)
        for _ in range(40):
            normal, slope = jacobian.T @ jacobian, jacobian.T @ residuals
            diagonal = np.diag(normal) + 1e-12
            trial = values + np.linalg.solve(normal + np.diag(damping * diagonal), -slope)
            ahead = np.inf
            if math.hypot(*trial[:2]) < _LEAN_LIMIT:
                fresh = self.linearise(trial, with_jacobian=False)[0]
                ahead = float(fresh @ fresh)
            settled = abs(chi2 - ahead) < 1e-5 * (1 + chi2)
            if ahead <= chi2:
                values, chi2, damping = trial, ahead, max(damping / 6, 1e-9)
                residuals, jacobian = self.linearise(values)
            else:
                damping *= 8
            if settled or damping > 1e9:
                break
        return chi2, values, jacobian

    def told_of_k1(self, jacobian: Floats, prior: LensPrior) -> float:
        """Return the standard deviation of k1 from the photo alone, all else being unknown."""
        pull = 1 / self.prior.k1_doubt**2
        normal = jacobian.T @ jacobian
        others = np.delete(np.arange(len(normal)), K1)
        block = normal[np.ix_(others, others)] + 1e-12 * np.eye(len(others))
        across = normal[others, K1]
        told = normal[K1, K1] - pull - across @ np.linalg.solve(block, across)
        return 1 / math.sqrt(max(float(told), 1e-12))

    def camera_with_doubt(self, values: Floats, jacobian: Floats, k1_doubt: float) -> Camera:
        """Return the camera with its covariance; where k1 was held, its doubt is carried to all others."""
        normal = jacobian.T @ jacobian
        scale = np.sqrt(np.diag(normal))
        covariance = np.linalg.pinv(normal / np.outer(scale, scale)) / np.outer(scale, scale)
        # Where the residuals are larger than promised, so is the doubt; never smaller.
        residuals = self.linearise(values, with_jacobian=False)[0]
        freedom = max(len(residuals) - len(values), 1)
        covariance = covariance[:_SHARED, :_SHARED] * max(1.0, float(residuals @ residuals) / freedom)
        if self.prior.k1_doubt == HELD:
            others = np.delete(np.arange(len(normal)), K1)
            moved = np.zeros(len(normal))
            moved[K1] = 1.0
            moved[others] = -np.linalg.lstsq(normal[np.ix_(others, others)], normal[others, K1], rcond=None)[0]
            covariance = covariance + np.outer(moved, moved)[:_SHARED, :_SHARED] * k1_doubt**2
        return replace(self.camera(values), covariance=frozen(covariance))


def with_k1(values: Floats, k1: float) -> Floats:
    """Return the unknowns with another k1."""
    changed = values.copy()
    changed[K1] = k1
    return changed

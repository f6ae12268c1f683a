"""The equations of the adjustment: what is seen of the references, and how far unknowns are from explaining it."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from ..arrays import Floats, frozen
from .camera import PARAMETERS, Camera
from .lens import Lens
from .lens_prior import LensPrior
from .meeting import outward_normals
from .reference import EdgeSamples, Reference
from .straight import StraightTerms

HELD = 1e-6
"""The doubt of k1 while it is held."""
K1 = PARAMETERS.index("k1")
_BINS = 9
"""Samples along one edge are gathered into this many means: enough for its bow, few enough to be quick."""
_BIN_FLOOR_PX = 0.08
"""No mean of samples is trusted beyond this: neighbouring samples share the demosaicing, the JPEG blocks, and the
rim's reflections."""
_LEAN_SPREAD = math.radians(20)
"""A person holds the phone roughly above: lean about each axis, standard deviation."""
_LEAN_LIMIT = math.radians(65)
"""No floor is looked at more slantingly; keeps the horizon out of the picture."""
_SHARED = 5
_SHIFT, _TURN = 5, 9
_PER_REFERENCE = 13
_TURN_GAIN, _LEAST_TURN_PX = 0.8, 0.03
"""An edge's doubt at its ends against its middle: so many times the scatter of one sample, and no less than this [px].
What scatters samples (artwork, shadow, the floor beneath) goes on over a good part of an edge, and a card's slant is
told by how little its opposite edges converge, so this is most of what one card does not know. Over 492 sides of drawn
and rendered cards turns were 0.83 times the scatter (robustly, from 0.5 for the smoothest to 1.1), with long tails."""


Solution = tuple[float, Floats, Floats]
"""Weighted squares, unknowns, and derivatives of the residuals by them."""


@dataclass(frozen=True, eq=False)
class Observations:
    """Means of samples along the references' edges."""

    points_px: Floats  # (M, 2)
    normals_px: Floats  # (M, 2), out of the reference
    sigma_px: Floats  # (M,)
    owner: np.ndarray  # (M,) index of the reference
    side: np.ndarray  # (M,) 0..3
    along: Floats  # (M,) where on its edge, -1 at the first corner to 1 at the second


def distinct(found: Iterable[Solution]) -> list[Solution]:
    """Return the solutions that differ in slant, best first."""
    kept: list[Solution] = []
    for solution in sorted(found, key=lambda solution: solution[0]):
        if all(_apart_deg(solution[1], other[1]) > 0.5 for other in kept):
            kept.append(solution)
    return kept


def _apart_deg(first: Floats, second: Floats) -> float:
    return math.degrees(math.hypot(first[0] - second[0], first[1] - second[1]))


def gather(references: Sequence[Reference]) -> Observations:
    """Return what is seen of the references; their corners where one has no edges."""
    points, normals, sigmas, owners, sides, along = [], [], [], [], [], []
    for owner, reference in enumerate(references):
        edges = reference.edges or corner_samples(reference.corners_px)
        for side, edge in enumerate(edges):
            for mean_px, normal_px, sigma_px, share in _binned(edge):
                points.append(mean_px)
                normals.append(normal_px)
                sigmas.append(sigma_px)
                owners.append(owner)
                sides.append(side)
                along.append(2 * share - 1)
    return Observations(*map(np.array, (points, normals, sigmas, owners, sides, along)))


def corner_samples(corners_px: Floats, sigma_px: float = 0.3) -> tuple[EdgeSamples, ...]:
    """Return edge samples that stand for four corners known to `sigma_px` alone."""
    edges = []
    normals = outward_normals(corners_px)
    for index in range(4):
        first, second = corners_px[index], corners_px[(index + 1) % 4]
        share = np.array([0.02, 0.5, 0.98])
        along = second - first
        edges.append(
            EdgeSamples(
                frozen(first + share[:, None] * along),
                frozen(np.tile(normals[index], (3, 1))),
                frozen(share),
                sigma_px,
            )
        )
    return tuple(edges)


def _binned(edge: EdgeSamples) -> list[tuple[Floats, Floats, float, float]]:
    if len(edge.points_px) == 0:
        return []
    order = np.argsort(edge.share)
    means = []
    for chosen in np.array_split(order, min(_BINS, len(order))):
        normal = edge.normals_px[chosen].mean(axis=0)
        normal = normal / np.linalg.norm(normal)
        sigma = max(edge.sigma_px / math.sqrt(len(chosen)), _BIN_FLOOR_PX)
        means.append((edge.points_px[chosen].mean(axis=0), normal, sigma, float(edge.share[chosen].mean())))
    return means


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
    return np.array([*camera, *[0.0] * (_PER_REFERENCE * len(references))])


def _perimeter(corners: Floats) -> float:
    return float(np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1).sum())


_OUT = np.array([[0.0, -1.0], [1.0, 0.0], [0.0, 1.0], [-1.0, 0.0]])
"""Outward normals of a rectangle's sides in its own frame."""


@dataclass(frozen=True, eq=False)
class Problem:
    """Everything observed, and how far a set of unknowns is from explaining it.

    Unknowns in order: the camera's five, thirteen for each reference, the lines' own. Where a reference lies is told by
    how far its middle and its long axis are from where the camera sees them, not by its place on the floor: that would
    have to follow each change of the camera, down a bent valley in which forty steps were not enough (of 68 solutions
    of three invented cards 22 were not reached).
    """

    seen: Observations
    references: Sequence[Reference]
    lens: Lens
    prior: LensPrior
    terms: StraightTerms
    most_turn_px: float = math.inf
    """No side's doubt of its turn is larger."""

    @property
    def first_line(self) -> int:
        """Where the lines' own unknowns begin."""
        return _SHARED + _PER_REFERENCE * len(self.references)

    def with_terms(self, terms: StraightTerms) -> "Problem":
        """Return the problem with other lines, or other weights of them."""
        return replace(self, terms=terms)

    def camera(self, values: Floats) -> Camera:
        """Return the camera of a set of unknowns, without its covariance."""
        return Camera(self.lens, (0.0, 0.0), 1.0).with_parameters(values[:_SHARED])

    def linearise(self, values: Floats, with_jacobian: bool = True) -> tuple[Floats, Floats]:
        """Return weighted residuals and their derivatives by all unknowns."""
        first = self.first_line
        residuals, jacobian = _linearised(
            values[:first], self.seen, self.references, self.lens, self.prior, self.most_turn_px, with_jacobian
        )
        if not self.terms.lines:
            return residuals, jacobian
        more, slope = self.terms.linearise(self.camera(values), values[first:], first, len(values))
        if with_jacobian:
            jacobian = np.vstack([np.pad(jacobian, ((0, 0), (0, len(values) - first))), slope])
        return np.concatenate([residuals, more]), jacobian

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


def _linearised(
    values: Floats,
    seen: Observations,
    references: Sequence[Reference],
    lens: Lens,
    prior: LensPrior,
    most_turn_px: float,
    with_jacobian: bool = True,
) -> tuple[Floats, Floats]:
    """Return weighted residuals of the references and priors, and their derivatives by all unknowns.

    The derivatives by a reference's own unknowns are written out; those by the camera's five are taken by
    differences, since they run through the lens.
    """
    count, many = len(references), len(seen.owner)
    camera = Camera(lens, (0.0, 0.0), 1.0).with_parameters(values[:_SHARED])
    own = values[_SHARED:].reshape(count, _PER_REFERENCE)
    owner, side = seen.owner, seen.side
    thick = np.array([reference.thickness_mm for reference in references])
    pins = np.array([reference.corners_px.mean(axis=0) for reference in references])
    aheads = np.array([reference.corners_px[1:3].mean(axis=0) for reference in references])
    looked_at = np.concatenate([seen.points_px, pins, aheads])
    height = np.concatenate([thick[owner], thick, thick])
    floor, pinned, ahead = np.split(camera.to_mm(looked_at, height), [many, many + count])
    pointing = ahead - pinned
    turned = own[:, 2] + np.arctan2(pointing[:, 1], pointing[:, 0])
    there = floor - (pinned + own[:, :2])[owner]
    cosine, sine = np.cos(turned)[owner], np.sin(turned)[owner]
    local = np.column_stack([cosine * there[:, 0] + sine * there[:, 1], -sine * there[:, 0] + cosine * there[:, 1]])
    normal = _OUT[side]
    lengthwise = side % 2  # sides 1 and 3 bound the long direction
    halves = np.array([reference.corners_mm[2] / 2 for reference in references])
    half = np.where(lengthwise == 1, halves[owner, 0], halves[owner, 1])
    half = half * np.exp(np.where(lengthwise == 1, own[owner, 3], own[owner, 4]))
    outside = (normal * local).sum(axis=1) - half
    # Floor millimetres a pixel along the normal is worth, from the camera alone: outside is nearly linear in it.
    ends = np.concatenate([seen.points_px + seen.normals_px / 2, seen.points_px - seen.normals_px / 2])
    step = np.subtract(*np.split(camera.to_mm(ends, np.tile(height[:many], 2)), 2))
    weight = 1 / (np.linalg.norm(step, axis=1) * seen.sigma_px)
    doubts = np.array([max(reference.size_doubt, 1e-6) for reference in references])
    shifts = np.array([[edge.shift_px for edge in reference.edges] for reference in references])
    moved = own[owner, _SHIFT + side] + own[owner, _TURN + side] * seen.along
    scatter = np.array([[edge.sigma_px for edge in reference.edges] for reference in references])
    turns = np.minimum(np.hypot(_LEAST_TURN_PX, _TURN_GAIN * scatter), most_turn_px)
    residuals = np.concatenate(
        [
            np.nan_to_num(outside * weight - moved / seen.sigma_px, nan=1e3),
            values[:2] / _LEAN_SPREAD,
            [(values[3] - math.log(prior.focal_px)) / prior.focal_doubt],
            [(values[4] - prior.k1) / prior.k1_doubt],
            (own[:, 3:5] / doubts[:, None]).ravel(),
            (own[:, _SHIFT:] / np.column_stack([shifts, turns])).ravel(),
        ]
    )
    if not with_jacobian:
        return residuals, np.empty((0, 0))
    rows = np.arange(len(owner))
    first = _SHARED + owner * _PER_REFERENCE
    world = np.column_stack([cosine * normal[:, 0] - sine * normal[:, 1], sine * normal[:, 0] + cosine * normal[:, 1]])
    jacobian = np.zeros((len(residuals), len(values)))
    by_turn = normal[:, 0] * local[:, 1] - normal[:, 1] * local[:, 0]
    floor_by, pinned_by, ahead_by = np.split(camera.sensitivity(looked_at, height), [many, many + count])
    swing = np.column_stack([-pointing[:, 1], pointing[:, 0]]) / (pointing**2).sum(axis=1)[:, None]
    turned_by = np.einsum("nd,ndp->np", swing, ahead_by - pinned_by)
    by_camera = np.einsum("nd,ndp->np", world, floor_by - pinned_by[owner]) + by_turn[:, None] * turned_by[owner]
    jacobian[rows, :_SHARED] = by_camera * weight[:, None]
    jacobian[rows, first] = -world[:, 0] * weight
    jacobian[rows, first + 1] = -world[:, 1] * weight
    jacobian[rows, first + 2] = by_turn * weight
    jacobian[rows, first + np.where(lengthwise == 1, 3, 4)] = -half * weight
    jacobian[rows, first + _SHIFT + side] = -1 / seen.sigma_px
    jacobian[rows, first + _TURN + side] = -seen.along / seen.sigma_px
    row = len(rows)
    jacobian[row, 0] = jacobian[row + 1, 1] = 1 / _LEAN_SPREAD
    jacobian[row + 2, 3] = 1 / prior.focal_doubt
    jacobian[row + 3, 4] = 1 / prior.k1_doubt
    row += 4
    for index in range(count):
        column = _SHARED + index * _PER_REFERENCE
        jacobian[row + 2 * index, column + 3] = jacobian[row + 2 * index + 1, column + 4] = 1 / doubts[index]
        for edge in range(4):
            place = row + 2 * count + 8 * index + edge
            jacobian[place, column + _SHIFT + edge] = 1 / shifts[index, edge]
            jacobian[place + 4, column + _TURN + edge] = 1 / turns[index, edge]
    return residuals, np.nan_to_num(jacobian)

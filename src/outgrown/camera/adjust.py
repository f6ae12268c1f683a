"""One least-squares adjustment of everything seen: the floor's pose, the lens, and where each reference lies.

Each reference is a rigid rectangle of known size lying anywhere on one floor. What is observed is its edges, not
its corners: a point on an edge must fall on the rectangle's side, which holds under rounded corners, under a lens
that bows the edge, and when part of the edge is hidden. Unknown are the floor's lean (2) and distance (1), the
focal length and the radial distortion (each with what is known beforehand), and per reference its place (2), its
turn (1), its true size (2, within its tolerance), and a shift (4) and a turn (4) of each edge, within what a rim, a
shadow or the sharpening of the picture can do.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from ..arrays import Floats, frozen
from .camera import Camera
from .lens import Lens
from .meeting import outward_normals
from .reference import EdgeSamples, Reference
from .straight import Straight, StraightTerms

_BINS = 9
"""Samples along one edge are gathered into this many means: enough for its bow, few enough to be quick."""
_BIN_FLOOR_PX = 0.08
"""No mean of samples is trusted beyond this: neighbouring samples share the demosaicing, the JPEG blocks, and the
rim's reflections."""
_LEAN_SPREAD = math.radians(20)
"""A person holds the phone roughly above: lean about each axis, standard deviation."""
_LEAN_LIMIT = math.radians(65)
"""No floor is looked at more slantingly; keeps the horizon out of the picture."""
_ROUNDS = 4
_HUBER = 1.5
_LEAST_WEIGHT = 0.02
"""A second solution less likely than this is left out."""
_HOPELESS = 6.0
"""A line that misses by six times what is expected is no joint of the floor."""
_HELD = 1e-6
_DETERMINED = 0.35
"""The distortion is freed when the photo tells it to a third of what is known beforehand: less is mostly the
references' own small errors, magnified."""
_K1 = 4
_SHARED = 5
_SHIFT, _TURN = 5, 9
_PER_REFERENCE = 13
_TURN_SHARE = 0.5
"""An edge's doubt at its ends against its middle, as a share of `EdgeSamples.shift_px`: what shifts an edge (shadow, wall,
floor beneath) is not the same at both its ends. A card's slant is told by how little its opposite edges converge, so this
is most of what one card does not know. Over 72 sides of drawn cards turns were 0.34 (robustly) to 0.86 (root mean square)
of the doubt stated for the shift."""


@dataclass(frozen=True)
class LensPrior:
    """What is known of the lens before anything is measured: it is one of the usual kind, or one that distorts strongly.

    Most phones undo their lens's distortion before they write the picture, and some do not. In the Lensfun database
    (lensfunpy 1.18) the main lenses of nine phones, as the sensor sees through them and brought to OpenCV's convention by
    least squares over the picture, have a k1 of 0.002, 0.007, 0.010, 0.010, 0.011, -0.019, 0.021, 0.033 and 0.048: root
    mean square 0.022. How many pictures come uncorrected nobody has counted; one in seven is a guess.

    Attributes:
        focal_px: best guess [px].
        focal_doubt: relative standard deviation.
        k1: best guess of the radial distortion.
        k1_doubt: its standard deviation with a lens of the usual kind.
        strong_doubt: its standard deviation with one that distorts strongly.
        strong_share: how likely that kind is, 0..1.
    """

    focal_px: float
    focal_doubt: float
    k1: float = 0.0
    k1_doubt: float = 0.01
    strong_doubt: float = 0.03
    strong_share: float = 0.15

    def strong_share_after(self, k1: float, doubt: float) -> float:
        """Return how likely the strongly distorting kind is once something tells `k1` to `doubt` (Bayes)."""
        if not math.isfinite(doubt):
            return self.strong_share
        usual, strong = (1 - self.strong_share, self.k1_doubt), (self.strong_share, self.strong_doubt)
        logs = []
        for share, spread in (usual, strong):
            wide = math.hypot(spread, doubt)
            logs.append(math.log(max(share, 1e-300) / wide) - 0.5 * ((k1 - self.k1) / wide) ** 2)
        return 1 / (1 + math.exp(max(min(logs[0] - logs[1], 700.0), -700.0)))


@dataclass(frozen=True, eq=False)
class Adjustment:
    """The adjusted camera and how well each reference fits it.

    Attributes:
        camera: with its covariance.
        misfit: (references,) root mean square of each reference's weighted residuals; about 1 is as expected.
        chi2: weighted sum of squares at the solution.
        line_misfit: (lines,) the same of each straight line.
    """

    camera: Camera
    misfit: tuple[float, ...]
    chi2: float
    line_misfit: tuple[float, ...] = ()


@dataclass(frozen=True, eq=False)
class _Observations:
    points_px: Floats  # (M, 2)
    normals_px: Floats  # (M, 2), out of the reference
    sigma_px: Floats  # (M,)
    owner: np.ndarray  # (M,) index of the reference
    side: np.ndarray  # (M,) 0..3
    along: Floats  # (M,) where on its edge, -1 at the first corner to 1 at the second


def adjust(references: Sequence[Reference], lens: Lens, prior: LensPrior, lines: Sequence[Straight] = ()) -> Adjustment:
    """Return the camera that explains all `references`, and the straight `lines` of the floor, best.

    Args:
        references: one or more, all on the same floor.
        lens: centre and higher distortion terms are taken from it; focal length and k1 are adjusted.
        prior: what is known of focal length and k1.
        lines: straight on the floor; those that do not agree with the rest lose their weight.

    Raises:
        ValueError: no reference.
    """
    if not references:
        raise ValueError("no reference")
    lens = replace(lens, focal_px=prior.focal_px, distortion=(prior.k1, *lens.distortion[1:]))
    # The radial distortion is held at what is known beforehand until something in the photo tells more of it.
    held = _Problem(_gather(references), references, lens, replace(prior, k1_doubt=_HELD), StraightTerms(()))
    solutions = _distinct(held.solve(start) for start in _starts(references, lens))
    usual, strong, share = (_weigh_kinds_by_lines if lines else _weigh_kinds)(held, solutions, prior, lines)
    best, second = (usual, strong) if share <= 0.5 else (strong, usual)
    camera = best.camera()
    if min(share, 1 - share) > _LEAST_WEIGHT:
        camera = replace(camera, by_lens=replace(second.camera(), other=None), by_lens_weight=min(share, 1 - share))
    return best.adjustment(camera)


@dataclass(frozen=True, eq=False)
class _Kind:
    """The solutions for one kind of lens, best first, and the doubt of k1 where it was held."""

    problem: "_Problem"
    solutions: "list[_Solution]"
    k1_doubt: float

    def camera(self) -> Camera:
        chi2, values, jacobian = self.solutions[0]
        camera = self.problem.camera_with_doubt(values, jacobian, self.k1_doubt)
        if len(self.solutions) > 1:
            behind, *other = self.solutions[1]
            weight = 1 / (1 + math.exp(min((behind - chi2) / 2, 50)))
            if weight > _LEAST_WEIGHT:
                second = self.problem.camera_with_doubt(other[0], other[1], self.k1_doubt)
                camera = replace(camera, other=second, other_weight=weight)
        return camera

    def adjustment(self, camera: Camera) -> Adjustment:
        problem, (chi2, values, _) = self.problem, self.solutions[0]
        owner = problem.seen.owner
        squares = problem.linearise(values, with_jacobian=False)[0][: len(owner)] ** 2
        misfit = tuple(math.sqrt(squares[owner == index].mean()) for index in range(len(problem.references)))
        line_misfit: tuple[float, ...] = ()
        if problem.terms.lines:
            found = problem.terms.misfit(problem.camera(values), values[problem.first_line :])
            line_misfit = tuple(found.tolist())
        return Adjustment(camera, misfit, chi2, line_misfit)


def _weigh_kinds(
    held: "_Problem", solutions: "list[_Solution]", prior: LensPrior, _: Sequence[Straight]
) -> tuple[_Kind, _Kind, float]:
    """Return the solutions for a usual and for a strongly distorting lens, and how likely the latter is."""
    told = held.told_of_k1(solutions[0][2], prior)
    usual = _Kind(held, solutions, prior.k1_doubt)
    strong = _Kind(held, solutions, prior.strong_doubt)
    if told < _DETERMINED * prior.k1_doubt:
        usual = _solve_again(usual, prior.k1_doubt)
    if prior.strong_share == 0 or told >= _DETERMINED * prior.strong_doubt:
        return usual, strong, prior.strong_share
    strong = _solve_again(strong, prior.strong_doubt)
    return usual, strong, prior.strong_share_after(_told_k1(strong, told), told)


def _weigh_kinds_by_lines(
    held: "_Problem", solutions: "list[_Solution]", prior: LensPrior, lines: Sequence[Straight]
) -> tuple[_Kind, _Kind, float]:
    """Return the same with straight lines of the floor. They are weighed under the looser kind of lens."""
    loosest = prior.strong_doubt if prior.strong_share > 0 else prior.k1_doubt
    free = _solve_again(_Kind(held, solutions, loosest), loosest)
    strong = _Kind(*_with_lines(free.problem, free.solutions, lines), loosest)
    told = strong.problem.told_of_k1(strong.solutions[0][2], prior)
    share = prior.strong_share_after(_told_k1(strong, told), told) if prior.strong_share > 0 else 0.0
    usual = _solve_again(strong, prior.k1_doubt)
    if told >= _DETERMINED * prior.k1_doubt:
        usual = _hold(usual, prior.k1)
    if told >= _DETERMINED * loosest:
        strong = _hold(strong, prior.k1)
    return usual, strong, share


def _solve_again(kind: _Kind, k1_doubt: float) -> _Kind:
    """Return the kind solved with k1 free within a doubt."""
    problem = replace(kind.problem, prior=replace(kind.problem.prior, k1_doubt=k1_doubt))
    return _Kind(problem, _distinct(problem.solve(solution[1]) for solution in kind.solutions), k1_doubt)


def _hold(kind: _Kind, k1: float) -> _Kind:
    """Return the kind solved with k1 held at what is known beforehand."""
    problem = replace(kind.problem, prior=replace(kind.problem.prior, k1_doubt=_HELD))
    held = _distinct(problem.solve(_with_k1(solution[1], k1)) for solution in kind.solutions)
    return _Kind(problem, held, kind.k1_doubt)


def _told_k1(kind: _Kind, told: float) -> float:
    """Return the k1 that the photo alone tells: the solution's without the pull of what is known beforehand."""
    prior = kind.problem.prior
    return prior.k1 + (float(kind.solutions[0][1][_K1]) - prior.k1) * (1 + (told / prior.k1_doubt) ** 2)


_Solution = tuple[float, Floats, Floats]


def _distinct(found: Iterable[_Solution]) -> list[_Solution]:
    """Return the solutions that differ in slant, best first."""
    kept: list[_Solution] = []
    for solution in sorted(found, key=lambda solution: solution[0]):
        if all(_apart_deg(solution[1], other[1]) > 0.5 for other in kept):
            kept.append(solution)
    return kept


def _with_lines(
    problem: "_Problem", solutions: list[_Solution], lines: Sequence[Straight]
) -> tuple["_Problem", list[_Solution]]:
    """Solve again with the lines, taking weight from those that do not agree (Huber's weights, redone)."""
    starts = [solution[1] for solution in solutions[:3]]
    weights = np.ones(len(lines))
    for _ in range(_ROUNDS):
        problem = problem.with_terms(StraightTerms(lines, weights))
        found = [problem.solve(np.concatenate([start, problem.terms.start(problem.camera(start))])) for start in starts]
        solutions = _distinct(found)
        starts = [solution[1][: problem.first_line] for solution in solutions]
        best = solutions[0][1]
        misfit = problem.terms.misfit(problem.camera(best), best[problem.first_line :])
        fresh = np.where(misfit > _HOPELESS, 0.02, np.minimum(1.0, _HUBER / np.maximum(misfit, 1e-9)))
        if np.abs(fresh - weights).max() < 0.05:
            break
        weights = fresh
    return problem, solutions


def _apart_deg(first: Floats, second: Floats) -> float:
    return math.degrees(math.hypot(first[0] - second[0], first[1] - second[1]))


def _gather(references: Sequence[Reference]) -> _Observations:
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
    return _Observations(*map(np.array, (points, normals, sigmas, owners, sides, along)))


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


def _starts(references: Sequence[Reference], lens: Lens) -> list[Floats]:
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
    camera = Camera(lens, lean, distance)
    values = [*lean, math.log(distance), math.log(lens.focal_px), lens.distortion[0]]
    for reference in references:
        corners = camera.to_mm(reference.corners_px)
        own = reference.corners_mm - reference.corners_mm.mean(axis=0)
        there = corners - corners.mean(axis=0)
        cross = np.sum(own[:, 0] * there[:, 1] - own[:, 1] * there[:, 0])
        turn = math.atan2(float(cross), float(np.sum(own * there)))
        values += [*corners.mean(axis=0), turn, *[0.0] * (_PER_REFERENCE - 3)]
    return np.array(values)


def _perimeter(corners: Floats) -> float:
    return float(np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1).sum())


_OUT = np.array([[0.0, -1.0], [1.0, 0.0], [0.0, 1.0], [-1.0, 0.0]])
"""Outward normals of a rectangle's sides in its own frame."""


@dataclass(frozen=True, eq=False)
class _Problem:
    """Everything observed, and how far a set of unknowns is from explaining it.

    Unknowns in order: the camera's five, thirteen for each reference, the lines' own.
    """

    seen: _Observations
    references: Sequence[Reference]
    lens: Lens
    prior: LensPrior
    terms: StraightTerms

    @property
    def first_line(self) -> int:
        return _SHARED + _PER_REFERENCE * len(self.references)

    def with_terms(self, terms: StraightTerms) -> "_Problem":
        return replace(self, terms=terms)

    def camera(self, values: Floats) -> Camera:
        return Camera(self.lens, (0.0, 0.0), 1.0).with_parameters(values[:_SHARED])

    def linearise(self, values: Floats, with_jacobian: bool = True) -> tuple[Floats, Floats]:
        first = self.first_line
        residuals, jacobian = _linearised(
            values[:first], self.seen, self.references, self.lens, self.prior, with_jacobian
        )
        if not self.terms.lines:
            return residuals, jacobian
        more, slope = self.terms.linearise(self.camera(values), values[first:], first, len(values))
        if with_jacobian:
            jacobian = np.vstack([np.pad(jacobian, ((0, 0), (0, len(values) - first))), slope])
        return np.concatenate([residuals, more]), jacobian

    def solve(self, start: Floats) -> _Solution:
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
            if ahead <= chi2:
                gained, values, damping = chi2 - ahead, trial, max(damping / 6, 1e-9)
                residuals, jacobian = self.linearise(values)
                chi2 = ahead
                if gained < 1e-5 * (1 + chi2):
                    break
            else:
                damping *= 8
                if damping > 1e9:
                    break
        return chi2, values, jacobian

    def told_of_k1(self, jacobian: Floats, prior: LensPrior) -> float:
        """Return the standard deviation of k1 from the photo alone, all else being unknown."""
        pull = 1 / self.prior.k1_doubt**2
        normal = jacobian.T @ jacobian
        others = np.delete(np.arange(len(normal)), _K1)
        block = normal[np.ix_(others, others)] + 1e-12 * np.eye(len(others))
        across = normal[others, _K1]
        told = normal[_K1, _K1] - pull - across @ np.linalg.solve(block, across)
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
        if self.prior.k1_doubt == _HELD:
            others = np.delete(np.arange(len(normal)), _K1)
            moved = np.zeros(len(normal))
            moved[_K1] = 1.0
            moved[others] = -np.linalg.lstsq(normal[np.ix_(others, others)], normal[others, _K1], rcond=None)[0]
            covariance = covariance + np.outer(moved, moved)[:_SHARED, :_SHARED] * k1_doubt**2
        return replace(self.camera(values), covariance=frozen(covariance))


def _with_k1(values: Floats, k1: float) -> Floats:
    changed = values.copy()
    changed[_K1] = k1
    return changed


def _linearised(
    values: Floats,
    seen: _Observations,
    references: Sequence[Reference],
    lens: Lens,
    prior: LensPrior,
    with_jacobian: bool = True,
) -> tuple[Floats, Floats]:
    """Return weighted residuals of the references and priors, and their derivatives by all unknowns.

    The derivatives by a reference's own unknowns are written out; those by the camera's five are taken by
    differences, since they run through the lens.
    """
    count = len(references)
    camera = Camera(lens, (0.0, 0.0), 1.0).with_parameters(values[:_SHARED])
    own = values[_SHARED:].reshape(count, _PER_REFERENCE)
    owner, side = seen.owner, seen.side
    height = np.array([reference.thickness_mm for reference in references])[owner]
    floor = camera.to_mm(seen.points_px, height)
    there = floor - own[owner, :2]
    cosine, sine = np.cos(own[owner, 2]), np.sin(own[owner, 2])
    local = np.column_stack([cosine * there[:, 0] + sine * there[:, 1], -sine * there[:, 0] + cosine * there[:, 1]])
    normal = _OUT[side]
    lengthwise = side % 2  # sides 1 and 3 bound the long direction
    halves = np.array([reference.corners_mm[2] / 2 for reference in references])
    half = np.where(lengthwise == 1, halves[owner, 0], halves[owner, 1])
    half = half * np.exp(np.where(lengthwise == 1, own[owner, 3], own[owner, 4]))
    outside = (normal * local).sum(axis=1) - half
    # Floor millimetres a pixel along the normal is worth, from the camera alone: outside is nearly linear in it.
    step = camera.to_mm(seen.points_px + seen.normals_px / 2, height) - camera.to_mm(
        seen.points_px - seen.normals_px / 2, height
    )
    weight = 1 / (np.linalg.norm(step, axis=1) * seen.sigma_px)
    doubts = np.array([max(reference.size_doubt, 1e-6) for reference in references])
    shifts = np.array([[edge.shift_px for edge in reference.edges] for reference in references])
    moved = own[owner, _SHIFT + side] + own[owner, _TURN + side] * seen.along
    turns = _TURN_SHARE * shifts
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
    by_camera = camera.sensitivity(seen.points_px, height)
    jacobian[rows, :_SHARED] = np.einsum("nd,ndp->np", world, by_camera) * weight[:, None]
    jacobian[rows, first] = -world[:, 0] * weight
    jacobian[rows, first + 1] = -world[:, 1] * weight
    jacobian[rows, first + 2] = (normal[:, 0] * local[:, 1] - normal[:, 1] * local[:, 0]) * weight
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

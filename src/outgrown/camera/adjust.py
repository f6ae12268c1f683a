"""One least-squares adjustment of everything seen: the floor's pose, the lens, and where each reference lies.

Each reference is a rigid rectangle of known size lying anywhere on one floor. What is observed is its edges, not
its corners: a point on an edge must fall on the rectangle's side, which holds under rounded corners, under a lens
that bows the edge, and when part of the edge is hidden. Unknown are the floor's lean (2) and distance (1), the
focal length and the radial distortion (each with what is known beforehand), and per reference its place (2), its
turn (1), its true size (2, within its tolerance), and a shift (4) and a turn (4) of each edge, within what a rim, a
shadow or the sharpening of the picture can do.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .camera import Camera
from .edge_terms import EdgeTerms
from .lens import Lens
from .lens_prior import LensPrior
from .problem import HELD, K1, Problem, Solution, distinct, find_starts, with_k1
from .reference import Reference
from .straight import Straight, StraightTerms

_ROUNDS = 4
_HUBER = 1.5
_LEAST_WEIGHT = 0.02
"""A second solution less likely than this is left out."""
_HOPELESS = 6.0
"""A line that misses by six times what is expected is no joint of the floor."""
_DETERMINED = 0.35
"""The distortion is freed when the photo tells it to a third of what is known beforehand: less is mostly the
references' own small errors, magnified."""


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


def adjust(
    references: Sequence[Reference],
    lens: Lens,
    prior: LensPrior,
    lines: Sequence[Straight] = (),
    *,
    most_turn_px: float = math.inf,
) -> Adjustment:
    """Return the camera that explains all `references`, and the straight `lines` of the floor, best.

    Args:
        references: one or more, all on the same floor.
        lens: centre and higher distortion terms are taken from it; focal length and k1 are adjusted.
        prior: what is known of focal length and k1.
        lines: straight on the floor; those that do not agree with the rest lose their weight.
        most_turn_px: no side's doubt of its turn is larger.

    Raises:
        ValueError: no reference.
    """
    if not references:
        raise ValueError("no reference")
    lens = replace(lens, focal_px=prior.focal_px, distortion=(prior.k1, *lens.distortion[1:]))
    # The radial distortion is held at what is known beforehand until something in the photo tells more of it.
    held_prior = replace(prior, k1_doubt=HELD)
    held = Problem(EdgeTerms.of(references, most_turn_px), lens, held_prior, StraightTerms(()))
    solutions = distinct(held.solve(start) for start in find_starts(references, lens))
    usual, strong, share = (_weigh_kinds_by_lines if lines else _weigh_kinds)(held, solutions, prior, lines)
    best, second = (usual, strong) if share <= 0.5 else (strong, usual)
    camera = best.camera()
    if min(share, 1 - share) > _LEAST_WEIGHT:
        camera = replace(camera, by_lens=replace(second.camera(), other=None), by_lens_weight=min(share, 1 - share))
    return best.adjustment(camera)


@dataclass(frozen=True, eq=False)
class _Kind:
    """The solutions for one kind of lens, best first, and the doubt of k1 where it was held."""

    problem: Problem
    solutions: list[Solution]
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
        owner = problem.edges.seen.owner
        squares = problem.linearise(values, with_jacobian=False)[0][: len(owner)] ** 2
        misfit = tuple(math.sqrt(squares[owner == index].mean()) for index in range(problem.edges.count))
        line_misfit: tuple[float, ...] = ()
        if problem.lines.lines:
            found = problem.lines.misfit(problem.camera(values), values[problem.first_line :])
            line_misfit = tuple(found.tolist())
        return Adjustment(camera, misfit, chi2, line_misfit)


def _weigh_kinds(
    held: Problem, solutions: list[Solution], prior: LensPrior, _: Sequence[Straight]
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
    held: Problem, solutions: list[Solution], prior: LensPrior, lines: Sequence[Straight]
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
    return _Kind(problem, distinct(problem.solve(solution[1]) for solution in kind.solutions), k1_doubt)


def _hold(kind: _Kind, k1: float) -> _Kind:
    """Return the kind solved with k1 held at what is known beforehand."""
    problem = replace(kind.problem, prior=replace(kind.problem.prior, k1_doubt=HELD))
    held = distinct(problem.solve(with_k1(solution[1], k1)) for solution in kind.solutions)
    return _Kind(problem, held, kind.k1_doubt)


def _told_k1(kind: _Kind, told: float) -> float:
    """Return the k1 that the photo alone tells: the solution's without the pull of what is known beforehand."""
    prior = kind.problem.prior
    return prior.k1 + (float(kind.solutions[0][1][K1]) - prior.k1) * (1 + (told / prior.k1_doubt) ** 2)


def _with_lines(
    problem: Problem, solutions: list[Solution], lines: Sequence[Straight]
) -> tuple[Problem, list[Solution]]:
    """Solve again with the lines, taking weight from those that do not agree (Huber's weights, redone)."""
    starts = [solution[1] for solution in solutions[:3]]
    weights = np.ones(len(lines))
    for _ in range(_ROUNDS):
        problem = problem.with_lines(StraightTerms(lines, weights))
        found = [problem.solve(np.concatenate([start, problem.lines.start(problem.camera(start))])) for start in starts]
        solutions = distinct(found)
        starts = [solution[1][: problem.first_line] for solution in solutions]
        best = solutions[0][1]
        misfit = problem.lines.misfit(problem.camera(best), best[problem.first_line :])
        fresh = np.where(misfit > _HOPELESS, 0.02, np.minimum(1.0, _HUBER / np.maximum(misfit, 1e-9)))
        if np.abs(fresh - weights).max() < 0.05:
            break
        weights = fresh
    return problem, solutions

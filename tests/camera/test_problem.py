"""The adjustment's equations, checked against differences and against SciPy's least squares."""

import math

import numpy as np
import pytest
from invented import CENTRE, FOUR, invent_camera, see
from scipy.optimize import least_squares

from outgrown.camera.edge_terms import EdgeTerms
from outgrown.camera.lens import Lens
from outgrown.camera.lens_prior import LensPrior
from outgrown.camera.problem import Problem, find_starts
from outgrown.camera.straight import StraightTerms

PRIOR = LensPrior(3030.0, 0.013, k1_doubt=0.02)


def make_problem(number, noise_px=0.1, many=3):
    rng = np.random.default_rng(number)
    truth = invent_camera(rng, tilt_deg=12.0)
    cards = [see(truth, kind, at, rng.uniform(0, 6), rng, noise_px, shift_px=0.1) for kind, at in FOUR[:many]]
    lens = Lens(3030.0, CENTRE)
    return Problem(EdgeTerms.of(cards, math.inf), lens, PRIOR, StraightTerms(())), find_starts(cards, lens)


def test_the_derivatives_are_those_of_the_residuals():
    problem, starts = make_problem(1)
    _, values, jacobian = problem.solve(starts[1])
    steps = 1e-5 * np.maximum(1.0, np.abs(values))
    sides = [[problem.linearise(values + sign * step, False)[0] for sign in (1, -1)] for step in np.diag(steps)]
    differences = np.column_stack([(up - down) / (2 * step) for (up, down), step in zip(sides, steps, strict=True)])
    # What a sample weighs is not differentiated; at the solution that is little.
    off = np.abs(jacobian - differences).max(axis=0) / np.abs(differences).max(axis=0)
    assert off.max() < 0.02


@pytest.mark.source("SciPy: optimize.least_squares (Levenberg-Marquardt of MINPACK)")
@pytest.mark.parametrize("number", range(4))
def test_every_start_arrives_where_another_solver_does(number):
    problem, starts = make_problem(number, noise_px=0.4)
    for start in starts:
        chi2, values, _ = problem.solve(start)
        other = least_squares(
            lambda unknowns: problem.linearise(unknowns, False)[0],
            values,
            lambda unknowns: problem.linearise(unknowns)[1],
            method="lm",
            x_scale="jac",
        )
        assert chi2 == pytest.approx(2 * other.cost, rel=1e-3)
        assert np.abs(values[:2] - other.x[:2]).max() < math.radians(0.05)

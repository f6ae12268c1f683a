"""The part of the adjustment that references bring: each point of an edge lies on its rectangle's side."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple, Self

import numpy as np

from ..arrays import Floats
from .camera import PARAMETERS, Camera
from .edge_observations import Observations, gather
from .reference import Reference

_SIZE, _SHIFT, _TURN = 3, 5, 9
PER_REFERENCE = 13
"""Unknowns of a reference: its place (2) and turn (1), the logarithms of its true length and width by what they should
be, a shift (4) and a turn (4) of each edge [px]. Place and turn are counted from where the camera sees its middle and
its long axis, not on the floor: there they would have to follow each change of the camera, down a bent valley in which
forty steps were not enough (of 68 solutions of three invented cards 22 were not reached)."""
_TURN_GAIN, _LEAST_TURN_PX = 0.8, 0.03
"""An edge's doubt at its ends against its middle: so many times the scatter of one sample, and no less than this [px].
What scatters samples (artwork, shadow, the floor beneath) goes on over a good part of an edge, and a card's slant is
told by how little its opposite edges converge, so this is most of what one card does not know. Over 492 sides of drawn
and rendered cards turns were 0.83 times the scatter (robustly, from 0.5 for the smoothest to 1.1), with long tails."""
_OUT = np.array([[0.0, -1.0], [1.0, 0.0], [0.0, 1.0], [-1.0, 0.0]])
"""Outward normals of a rectangle's sides in its own frame."""


@dataclass(frozen=True, eq=False)
class EdgeTerms:
    """What is seen of some references, and what is known of them.

    Attributes:
        seen: samples along their edges.
        looked_at_px: (M + 2 R, 2) the samples, each reference's middle, and the middle of its far short side.
        height_mm: (M + 2 R,) how high these lie above the floor.
        size_mm: (M,) from a reference's middle to the side that a sample lies on.
        doubts: (R, 10) standard deviations of a reference's size, shifts and turns.
    """

    seen: Observations
    looked_at_px: Floats
    height_mm: Floats
    size_mm: Floats
    doubts: Floats

    @property
    def count(self) -> int:
        """How many references."""
        return len(self.doubts)

    @classmethod
    def of(cls, references: Sequence[Reference], most_turn_px: float) -> Self:
        """Return the terms of references; no side's doubt of its turn is larger than `most_turn_px`."""
        seen = gather(references)
        thick = np.array([reference.thickness_mm for reference in references])
        middles = np.array([reference.corners_px.mean(axis=0) for reference in references])
        far_sides = np.array([reference.corners_px[1:3].mean(axis=0) for reference in references])
        halves = np.array([reference.corners_mm[2] / 2 for reference in references])
        sizes = np.array([max(reference.size_doubt, 1e-6) for reference in references])
        shifts = np.array([[edge.shift_px for edge in reference.edges] for reference in references])
        scatter = np.array([[edge.sigma_px for edge in reference.edges] for reference in references])
        turns = np.minimum(np.hypot(_LEAST_TURN_PX, _TURN_GAIN * scatter), most_turn_px)
        return cls(
            seen,
            np.concatenate([seen.points_px, middles, far_sides]),
            np.concatenate([thick[seen.owner], thick, thick]),
            halves[seen.owner, _across(seen)],
            np.column_stack([sizes, sizes, shifts, turns]),
        )

    def linearise(self, camera: Camera, own: Floats, with_jacobian: bool) -> tuple[Floats, Floats]:
        """Return (M,) weighted residuals of the samples, and their (M, 5 + 13 R) derivatives.

        Args:
            camera: at the present unknowns.
            own: (R, 13) the references' unknowns.
            with_jacobian: whether the derivatives are wanted; else they come back empty.
        """
        seen, fit = self.seen, self._fit(camera, own)
        # By the camera alone: how far a sample is outside is nearly linear in it.
        along = camera.measure_mm_along(seen.points_px, seen.normals_px, self.height_mm[: len(seen.owner)])
        weight = 1 / (along * seen.sigma_px)
        moved = own[seen.owner, _SHIFT + seen.side] + own[seen.owner, _TURN + seen.side] * seen.along
        residuals = np.nan_to_num(fit.outside * weight - moved / seen.sigma_px, nan=1e3)
        if not with_jacobian:
            return residuals, np.empty((0, 0))
        rows, column = np.arange(len(seen.owner)), len(PARAMETERS) + seen.owner * PER_REFERENCE
        jacobian = np.zeros((len(residuals), len(PARAMETERS) + own.size))
        jacobian[:, : len(PARAMETERS)] = self._by_camera(camera, fit) * weight[:, None]
        jacobian[rows, column] = -fit.normal[:, 0] * weight
        jacobian[rows, column + 1] = -fit.normal[:, 1] * weight
        jacobian[rows, column + 2] = fit.by_turn * weight
        jacobian[rows, column + _SIZE + _across(seen)] = -fit.half_mm * weight
        jacobian[rows, column + _SHIFT + seen.side] = -1 / seen.sigma_px
        jacobian[rows, column + _TURN + seen.side] = -seen.along / seen.sigma_px
        return residuals, np.nan_to_num(jacobian)

    def _fit(self, camera: Camera, own: Floats) -> "_Fit":
        owner = self.seen.owner
        floor, middles, far_sides = self._parted(camera.to_mm(self.looked_at_px, self.height_mm))
        pointing = far_sides - middles
        turned = own[:, 2] + np.arctan2(pointing[:, 1], pointing[:, 0])
        cosine, sine = np.cos(turned)[owner], np.sin(turned)[owner]
        there = floor - (middles + own[:, :2])[owner]
        local = np.column_stack([cosine * there[:, 0] + sine * there[:, 1], -sine * there[:, 0] + cosine * there[:, 1]])
        out = _OUT[self.seen.side]
        half = self.size_mm * np.exp(own[owner, _SIZE + _across(self.seen)])
        return _Fit(
            outside=(out * local).sum(axis=1) - half,
            normal=np.column_stack([cosine * out[:, 0] - sine * out[:, 1], sine * out[:, 0] + cosine * out[:, 1]]),
            by_turn=out[:, 0] * local[:, 1] - out[:, 1] * local[:, 0],
            half_mm=half,
            pointing=pointing,
        )

    def _by_camera(self, camera: Camera, fit: "_Fit") -> Floats:
        """Return (M, 5) derivatives by the camera's own: of a sample's place, less what its reference goes along."""
        floor, middles, far_sides = self._parted(camera.sensitivity(self.looked_at_px, self.height_mm))
        swing = np.column_stack([-fit.pointing[:, 1], fit.pointing[:, 0]]) / (fit.pointing**2).sum(axis=1)[:, None]
        turned = np.einsum("nd,ndp->np", swing, far_sides - middles)
        owner = self.seen.owner
        by_camera: Floats = np.einsum("nd,ndp->np", fit.normal, floor - middles[owner])
        by_camera += fit.by_turn[:, None] * turned[owner]
        return by_camera

    def _parted(self, values: Floats) -> list[Floats]:
        """Return what belongs to the samples, to the references' middles, and to their far sides."""
        many = len(self.seen.owner)
        return np.split(values, [many, (many + len(values)) // 2])


class _Fit(NamedTuple):
    """How samples lie to the sides of their references."""

    outside: Floats  # (M,) beyond the side [mm]
    normal: Floats  # (M, 2) the side's outward normal on the floor
    by_turn: Floats  # (M,) derivative of `outside` by the reference's turn [mm/rad]
    half_mm: Floats  # (M,) from the reference's middle to the side
    pointing: Floats  # (R, 2) from each reference's middle to its far short side, as seen [mm]


def _across(seen: Observations) -> np.ndarray:
    """Return (M,) 0 where a sample's side bounds the long direction, 1 where it bounds the short one."""
    across: np.ndarray = 1 - seen.side % 2
    return across

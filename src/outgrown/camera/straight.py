"""Straight things on the floor: what a joint between boards or a row of tiles says of slant and lens.

A line that is straight on the floor must be straight there after the lens is undone, and boards lie side by
side: neighbours run the same way, and the joints of tiles cross at right angles. None of it has a known size, so
lines tell nothing of scale, but much of the slant and of the radial distortion (plumb-line method: Devernay and
Faugeras, Straight lines have to be straight, Machine Vision and Applications 13, 2001).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..arrays import Floats, frozen
from .camera import Camera

_WAVE_MM = 0.25
"""A joint wanders by about this from its line (from memory: floors are laid to about half a millimetre)."""
_SAME_WAY = 0.0012
"""Neighbouring boards run the same way to about 1 mm a metre [rad]."""
_RIGHT_ANGLE = 0.003
"""Tiles and board ends are square to about 3 mm a metre [rad]."""
_BINS = 12


@dataclass(frozen=True, eq=False)
class Straight:
    """One line straight on the floor.

    Attributes:
        points_px: (N, 2) means of samples along it.
        normals_px: (N, 2) unit normals.
        sigma_px: (N,) doubt of each along its normal [px].
        family: lines of the same number run the same way; -1 for none.
        square_to: the family that its own runs square to; -1 for none.
    """

    points_px: Floats
    normals_px: Floats
    sigma_px: Floats
    family: int = -1
    square_to: int = -1


def gather_straight(
    points_px: Floats, normals_px: Floats, sigma_px: float, family: int = -1, square_to: int = -1
) -> Straight:
    """Return samples along one line gathered into a few means."""
    along = points_px - points_px.mean(axis=0)
    way = np.linalg.svd(along, full_matrices=False)[2][0]
    order = np.argsort(along @ way)
    parts = np.array_split(order, min(_BINS, len(order)))
    signs = np.sign(normals_px @ normals_px[0])[:, None]
    normals = np.array([(normals_px * signs)[part].mean(axis=0) for part in parts])
    return Straight(
        frozen([points_px[part].mean(axis=0) for part in parts]),
        frozen(normals / np.linalg.norm(normals, axis=1, keepdims=True)),
        frozen([max(sigma_px / math.sqrt(len(part)), 0.05) for part in parts]),
        family,
        square_to,
    )


class StraightTerms:
    """The part of the adjustment that lines bring. Unknowns: way and offset of each line, then each family's way."""

    def __init__(self, lines: Sequence[Straight], weights: Floats | None = None) -> None:
        self.lines = list(lines)
        self.owner = np.repeat(np.arange(len(lines)), [len(line.points_px) for line in lines])
        self.points = np.concatenate([line.points_px for line in lines]) if lines else np.zeros((0, 2))
        self.normals = np.concatenate([line.normals_px for line in lines]) if lines else np.zeros((0, 2))
        self.sigma = np.concatenate([line.sigma_px for line in lines]) if lines else np.zeros(0)
        self.weights = np.ones(len(lines)) if weights is None else weights
        self.families = sorted({line.family for line in lines if line.family >= 0})

    @property
    def unknowns(self) -> int:
        """How many unknowns the lines add."""
        return 2 * len(self.lines) + len(self.families)

    def start(self, camera: Camera) -> Floats:
        """Return first guesses of the unknowns for a camera."""
        ways: dict[int, float] = {}
        values: list[float] = []
        for line in self.lines:
            floor = camera.to_mm(line.points_px)
            floor = floor[np.isfinite(floor).all(axis=1)]
            if len(floor) < 2:  # beyond the horizon of a guess that will not win
                floor = np.eye(2)
            middle = floor.mean(axis=0)
            direction = np.linalg.svd(floor - middle, full_matrices=False)[2][0]
            way = math.atan2(direction[1], direction[0])
            if line.family in ways:
                way = ways[line.family] + _half_turn(way - ways[line.family])
            elif line.family >= 0:
                ways[line.family] = way
            values += [way, float(middle @ [-math.sin(way), math.cos(way)])]
        return np.array(values + [ways[family] for family in self.families])

    def linearise(self, camera: Camera, own: Floats, first: int, width: int) -> tuple[Floats, Floats]:
        """Return weighted residuals and their derivatives.

        Args:
            camera: at the present unknowns.
            own: the lines' unknowns.
            first: column of the first of them.
            width: number of all unknowns.
        """
        count = len(self.lines)
        way, offset = own[: 2 * count : 2], own[1 : 2 * count : 2]
        floor = camera.to_mm(self.points)
        mm_per_px = camera.measure_mm_along(self.points, self.normals)
        weight = self.weights[self.owner] / np.hypot(self.sigma * mm_per_px, _WAVE_MM)
        normal = np.column_stack([-np.sin(way), np.cos(way)])[self.owner]
        along = np.column_stack([np.cos(way), np.sin(way)])[self.owner]
        beside = ((normal * floor).sum(axis=1) - offset[self.owner]) * weight
        rows = np.arange(len(self.owner))
        jacobian = np.zeros((len(rows), width))
        jacobian[:, :5] = np.einsum("nd,ndp->np", normal, camera.sensitivity(self.points)) * weight[:, None]
        jacobian[rows, first + 2 * self.owner] = -(along * floor).sum(axis=1) * weight
        jacobian[rows, first + 2 * self.owner + 1] = -weight
        residuals, derivatives = [beside], [jacobian]
        for index, line in enumerate(self.lines):
            if line.family < 0:
                continue
            column = first + 2 * count + self.families.index(line.family)
            pull = self.weights[index] / _SAME_WAY
            residuals.append(np.array([(way[index] - own[column - first]) * pull]))
            row = np.zeros((1, width))
            row[0, first + 2 * index], row[0, column] = pull, -pull
            derivatives.append(row)
        for family, other in sorted({(line.family, line.square_to) for line in self.lines}):
            if family not in self.families or other not in self.families:
                continue
            one = first + 2 * count + self.families.index(family)
            two = first + 2 * count + self.families.index(other)
            apart = _half_turn(own[one - first] - own[two - first] - math.pi / 2)
            residuals.append(np.array([apart / _RIGHT_ANGLE]))
            row = np.zeros((1, width))
            row[0, one], row[0, two] = 1 / _RIGHT_ANGLE, -1 / _RIGHT_ANGLE
            derivatives.append(row)
        return np.concatenate(residuals), np.nan_to_num(np.vstack(derivatives))

    def misfit(self, camera: Camera, own: Floats) -> Floats:
        """Return (lines,) root mean square of each line's residuals, family pull included, without weights."""
        plain = StraightTerms(self.lines)
        residuals = plain.linearise(camera, own, 5, 5 + plain.unknowns)[0]
        squares = residuals[: len(self.owner)] ** 2
        result = np.array([squares[self.owner == index].mean() for index in range(len(self.lines))])
        row = len(self.owner)
        for index, line in enumerate(self.lines):
            if line.family >= 0:
                result[index] = max(result[index], residuals[row] ** 2)
                row += 1
        root: Floats = np.sqrt(result)
        return root


def _half_turn(angle: float) -> float:
    """Return `angle` brought to -90..90 degrees by half turns: a line has no sense."""
    return (angle + math.pi / 2) % math.pi - math.pi / 2

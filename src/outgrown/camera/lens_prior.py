"""What is known of a lens beforehand: its focal length, and how strongly it may distort."""

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class LensPrior:
    """What is known of the lens before anything is measured: it is of the usual kind, or one that distorts strongly.

    Most phones undo their lens's distortion before they write the picture, and some do not. The main lenses of nine
    phones in the Lensfun database (as in lensfunpy 1.18; its polynomials brought to OpenCV's convention by least
    squares over the picture, two at their real or nominal focal length) have a k1 of 0.002, 0.007, 0.010, 0.011,
    -0.019, 0.021, 0.023, 0.029 and 0.048, root mean square 0.023. That nearly one picture in seven comes so is a guess:
    nobody has counted.

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

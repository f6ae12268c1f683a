"""Correction: a print drawn smaller or larger by what the printer is off, from the bars measured on an earlier print.

A printer's two directions are off by different amounts: across its roller and along the way of the paper. They belong
to the paper's short and long side, however the drawing lies on it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import prod

from ..errors import PieceError
from ..standards import INCH_MM
from .choices import CORRECTED_BAR_MM, WHOLE_BAR_MM, is_whole_bar

MOST_OFF = 0.05
"""A printer farther off was told to fit the page, or something else was measured."""


@dataclass(frozen=True)
class Correction:
    """How a print is corrected.

    Attributes:
        across: length in the file per true length, along the paper's short side.
        down: the same along its long side.
        bars_across_mm: the bar across as measured, on each print after the last correction [mm].
        bars_down_mm: the bar down, likewise [mm].
    """

    across: float = 1.0
    down: float = 1.0
    bars_across_mm: tuple[float, ...] = ()
    bars_down_mm: tuple[float, ...] = ()

    def stretch(self, is_landscape: bool) -> tuple[float, float]:
        """Return length in the file per true length along x and y of a page."""
        return (self.down, self.across) if is_landscape else (self.across, self.down)

    def sentence(self) -> str:
        """Return what was done and what to do if it is not enough; empty where nothing was corrected."""
        if not (self.bars_across_mm or self.bars_down_mm):
            return ""
        done = [
            f"{_change(share)} {way} (bar {' then '.join(map(_named, bars))})"
            for share, way, bars in self._ways()
            if bars
        ]
        return (
            f"Corrected for one printer: drawn {' and '.join(done)}. The bars must now measure right. If one is still "
            "off, have it drawn anew with every length named here, and what the bar measures on this print behind them."
        )

    def options(self) -> str:
        """Return what is typed to have the same again; empty where nothing was corrected."""
        return " ".join(f"--bar-{way} {_typed(bar)}" for _, way, bars in self._ways() for bar in bars)

    def short(self) -> str:
        """Return a few words for the foot of a page; empty where nothing was corrected."""
        done = [f"{_change(share)} {way}" for share, way, bars in self._ways() if bars]
        return f"corrected: {', '.join(done)}" if done else ""

    def _ways(self) -> tuple[tuple[float, str, tuple[float, ...]], ...]:
        return (self.across, "across", self.bars_across_mm), (self.down, "down", self.bars_down_mm)


NO_CORRECTION = Correction()


def make_correction(bars_across_mm: Sequence[float] = (), bars_down_mm: Sequence[float] = ()) -> Correction:
    """Return the correction for bars measured from 0 to 10 cm on the first page.

    The first length of each is from a print without correction, the next from one corrected by the first, and so on:
    their corrections multiply.

    Raises:
        PieceError: no printer is so far off.
    """
    for way, bars in (("across", bars_across_mm), ("down", bars_down_mm)):
        for bar in (*bars, CORRECTED_BAR_MM * prod(bar / CORRECTED_BAR_MM for bar in bars)):
            if not (1 - MOST_OFF) * CORRECTED_BAR_MM <= bar <= (1 + MOST_OFF) * CORRECTED_BAR_MM:
                raise PieceError(
                    f"A bar {way} of {_mm(bar)} instead of 100 mm is more than {MOST_OFF:.0%} off.".replace("%", " %"),
                    "Print again at 100 % (“actual size”) and measure from 0 to 10 cm.",
                )
    return Correction(_share(bars_across_mm), _share(bars_down_mm), tuple(bars_across_mm), tuple(bars_down_mm))


def _share(bars_mm: Sequence[float]) -> float:
    return prod(CORRECTED_BAR_MM / bar for bar in bars_mm)


def _mm(length_mm: float) -> str:
    return f"{length_mm:.2f}".rstrip("0").rstrip(".") + "\u00a0mm"


def _named(bar_mm: float) -> str:
    """Return the length as it is measured and can be typed again, which for some is in inches along the whole bar."""
    return f"{_inches(bar_mm)}\u00a0in from 0 to 4 in" if is_whole_bar(bar_mm) else _mm(bar_mm)


def _typed(bar_mm: float) -> str:
    """Return how the length is typed again: in millimetres, but where these would be taken for the whole bar's."""
    if is_whole_bar(bar_mm):
        return f"{_inches(bar_mm)}in"
    return _mm(bar_mm).replace("\u00a0", "")


def _inches(bar_mm: float) -> str:
    return f"{bar_mm * WHOLE_BAR_MM / CORRECTED_BAR_MM / INCH_MM.value:.3f}"


def _change(share: float) -> str:
    if round(share - 1, 4) == 0:
        return "unchanged"
    return f"{abs(share - 1) * 100:.2f}\u00a0% {'larger' if share > 1 else 'smaller'}"

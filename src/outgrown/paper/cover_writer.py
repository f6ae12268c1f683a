"""CoverWriter: writes lines, tables and sections down pages; for the first page and the sewing pages."""

from collections.abc import Callable, Sequence

from . import styles
from .lettering import break_words, limit_lines, shorten_words
from .recording import RecordingSurface
from .scale import BAR_LENGTH_MM, draw_scale_bar
from .surface import Lettering, PagedSurface
from .tiles import FOOT_MARGIN_MM, SIDE_MARGIN_MM

_TOP_MARGIN_MM = 10.0
TEXT_MM = 3.4
LEADING = 1.25
_HEADING_MM = 4.2
_GAP_MM = 2.6
_BAR_ROOM_MM = 10.0


class ProofPages(RecordingSurface):
    """Pages drawn only to count them."""

    def end_page(self) -> None:
        """Go on as if on another page."""


class CoverWriter:
    """Writes down a page, line by line, and begins the next page where one is full.

    Args:
        surface: to draw on.
        size_mm: width and height of the page [mm].
        running_title: at the head of pages after the first.
        share: of their full size that text and gaps have.
        bar_from: the first page with a scale bar at its foot, 1 or more; None for pages that are not at true size.
    """

    def __init__(
        self,
        surface: PagedSurface,
        size_mm: tuple[float, float],
        running_title: str,
        share: float,
        bar_from: int | None = None,
    ) -> None:
        self.surface = surface
        self.share = share
        self.pages = 1
        self.width, self.height = size_mm
        self.left = SIDE_MARGIN_MM
        self.right = self.width - SIDE_MARGIN_MM
        self.y = self.height - _TOP_MARGIN_MM
        self._running_title = running_title
        self._bar_from = bar_from
        self._foot = FOOT_MARGIN_MM
        self._draw_bar()

    def need(self, height_mm: float) -> None:
        """Begin another page if fewer than `height_mm` are left on this one."""
        if self.y - height_mm < self._foot:
            self.surface.end_page()
            self.pages += 1
            self.y = self.height - _TOP_MARGIN_MM
            self._draw_bar()
            words = shorten_words(self._running_title, self.right - self.left, TEXT_MM)
            self.y -= TEXT_MM
            self.surface.text(words, (self.left, self.y), Lettering(TEXT_MM, grey=styles.TRIM_GREY))
            self.y -= 3

    def keep_together(self, write: Callable[["CoverWriter"], None]) -> None:
        """Write a section on one page, the next one if need be; a section longer than a page is broken."""
        size = self.width, self.height
        proof = CoverWriter(ProofPages(), size, self._running_title, self.share, self._bar_from)
        proof.y, proof._foot = self.y, self._foot
        write(proof)
        if proof.pages > 1:
            fresh = CoverWriter(ProofPages(), size, self._running_title, self.share, self._bar_from)
            fresh.need(self.height)
            write(fresh)
            if fresh.pages == 2:
                self.need(self.height)
        write(self)

    def _draw_bar(self) -> None:
        if self._bar_from is None or self.pages < self._bar_from:
            return
        draw_scale_bar(self.surface, (self.right - BAR_LENGTH_MM, FOOT_MARGIN_MM + 4.4), size_mm=2.2)
        self._foot = FOOT_MARGIN_MM + _BAR_ROOM_MM

    def skip(self, height_mm: float) -> None:
        """Leave room."""
        self.y -= height_mm

    def heading(self, words: str, followed_by_mm: float = 6.0) -> None:
        """Write a heading over a thin rule, not alone at the foot of a page."""
        size = _HEADING_MM * self.share
        self.skip(_GAP_MM * self.share)
        self.need(size * 1.6 + followed_by_mm)
        self.y -= size
        self.surface.text(words, (self.left, self.y), Lettering(size, is_bold=True))
        self.y -= 1.5
        with self.surface.group("rule", styles.RULE):
            self.surface.polyline([(self.left, self.y), (self.right, self.y)])
        self.y -= 1.0

    def paragraph(self, words: str, size_mm: float = TEXT_MM, is_bold: bool = False, most: int = 99) -> None:
        """Write words over as many lines as they need."""
        size_mm *= self.share
        lines = break_words(words, self.right - self.left, size_mm, is_bold)
        for line in limit_lines(lines, most, self.right - self.left, size_mm, is_bold):
            self.need(size_mm * LEADING)
            self.y -= size_mm * LEADING
            self.surface.text(line, (self.left, self.y + size_mm * 0.25), Lettering(size_mm, is_bold))

    def table(self, rows: Sequence[tuple[str, ...]], shares: tuple[float, ...], has_head: bool = True) -> None:
        """Write rows in columns whose widths are `shares` of the page's."""
        whole, size = self.right - self.left, TEXT_MM * self.share
        starts = [self.left + whole * sum(shares[:i]) for i in range(len(shares))]
        for number, row in enumerate(rows):
            is_bold = has_head and number == 0
            cells = [
                break_words(words, whole * share - 2, size, is_bold) or [""]
                for words, share in zip(row, shares, strict=True)
            ]
            high = max(map(len, cells)) * size * LEADING
            self.need(high)
            for start, lines in zip(starts, cells, strict=True):
                for depth, line in enumerate(lines, start=1):
                    y = self.y - depth * size * LEADING + size * 0.25
                    self.surface.text(line, (start, y), Lettering(size, is_bold))
            self.y -= high + 0.25

"""DXF."""

from ..pieces.piece import Pattern


def draw_dxf(pattern: Pattern) -> bytes:
    """Placeholder until next commit."""
    raise NotImplementedError

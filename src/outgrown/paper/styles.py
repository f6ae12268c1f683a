"""Styles: pens and letter sizes of the printed pattern.

Everything is black or grey: lines are told apart by thickness and dashes, so that any printer, a photocopy and any eye
will do. Lines are thin and nothing large is filled, to save ink.
"""

from .surface import Pen

CUT = Pen(0.7)
SEAM = Pen(0.35, (5.0, 2.5))
FOLD = Pen(0.5, (9.0, 2.0, 2.0, 2.0))
FINISHED_EDGE = Pen(0.5, (1.0, 2.5))
BRACKET = Pen(0.4)
GRAIN = Pen(0.45)
STRETCH = Pen(0.35)
NOTCH = Pen(0.35)
LEADER = Pen(0.2)
INNER = Pen(0.25, (1.8, 1.4))
TRIM = Pen(0.25, grey=0.35)
GLUE = Pen(0.3, (0.6, 1.8), grey=0.35)
JOIN = Pen(0.3, grey=0.25)
RULE = Pen(0.25, grey=0.5)
SCALE = Pen(0.25)
MAP_TILE = Pen(0.2, grey=0.45)
MAP_PIECE = Pen(0.35)

NAME_SIZE_MM = 9.6
"""Name of a piece: capitals 7 mm high."""
LABEL_SIZE_MM = 5.2
"""Other lines of a label: capitals 3.8 mm high."""
MARK_SIZE_MM = 4.8
"""Words along lines: capitals 3.5 mm high."""

LEADER_DOT_MM = 0.8
"""Radius of the dot at which a leader begins: wider than any line."""
TRIM_GREY = 0.3

"""Lay: where each piece goes on a cloth, and whether it fits."""

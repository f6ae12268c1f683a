"""Outline: the garment told from the floor, its edge to a fraction of a pixel."""

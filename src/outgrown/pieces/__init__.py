"""Pieces: seam lines, fold, grainline, notches, allowances, waistband and elastic."""

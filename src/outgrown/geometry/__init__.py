"""Geometry: rings, curves, offsets and walks. Arrays in mm, no garment words."""

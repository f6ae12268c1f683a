"""Garment: corners and kinds; an outline becomes named edges."""

"""Leggings: two legs, pulled on."""

from ..kind import Kind

KIND = Kind("leggings", has_legs=True)

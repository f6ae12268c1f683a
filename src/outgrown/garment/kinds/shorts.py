"""Shorts: two legs, pulled on."""

from ..kind import Kind

KIND = Kind("shorts", has_legs=True)

"""Trousers: two legs, pulled on."""

from ..kind import Kind

KIND = Kind("trousers", has_legs=True)

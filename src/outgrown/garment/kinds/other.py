"""Other: any garment, kept as it lies."""

from ..kind import Kind

KIND = Kind("other", is_mirrored=True)

"""From a photo of the pair that fits to a pattern for the next pair."""

__version__ = "0.1.0"

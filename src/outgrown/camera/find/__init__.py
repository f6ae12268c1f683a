"""Find cards and sheets of known size in a photo, and measure their edges."""

from .find import find_rectangle_at, find_rectangle_by, find_references

__all__ = ["find_rectangle_at", "find_rectangle_by", "find_references"]

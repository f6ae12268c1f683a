"""Paper: the printed pages, the SVG and the check picture; the one place that draws."""

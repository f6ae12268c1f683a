"""`python -m outgrown`."""

from .cli import main

main()

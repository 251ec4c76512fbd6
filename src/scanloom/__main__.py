"""`python -m scanloom`."""

from scanloom.cli import main

main()

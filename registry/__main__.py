"""`python -m registry` is `ortet`."""

from registry.cli import main

main()

"""Faults that a registry must survive: each a small test here, and a full run by one command.

`python -m tests.faults` runs them all at length and writes docs/faults.md.
"""

"""Ratios against a floor or another way in the same run: `python -m tests.benchmarks`."""

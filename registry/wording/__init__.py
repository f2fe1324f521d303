"""Every sentence a person reads, made from codes and fields.

Importing this package makes `problem` answer for every error.
"""

from registry.wording import (
    basics,
    bench,
    calls,
    labels,
    leave,
    names,
    privacy,
    recall,
    records,
    storage,
)
from registry.wording.problems import problem

SUBJECTS = (basics, bench, calls, labels, leave, names, privacy, recall, records, storage)
"""The modules whose sentences `problem` knows."""

__all__ = ["SUBJECTS", "problem"]

"""Every way in which a call can be wrong, as types with fields.

    RegistryError                     exit code 2
    ├── BadInput                      what was typed cannot be read
    │   ├── BadCode, BadDate, BadCount, BadName, …
    ├── NotFound                      what was named is not in the registry
    ├── Conflict                      what was asked contradicts what is recorded
    └── Unusable                      the registry or a file cannot be opened, read or written

An error carries facts; the sentence a person reads is made in `registry.wording.problems`,
so that the command line, a page and a label say it the same way and tests match types.
"""

from __future__ import annotations

from dataclasses import dataclass, fields


@dataclass(eq=False)
class RegistryError(Exception):
    """The base of all that a caller can put right."""

    def __str__(self) -> str:
        shown = ", ".join(f"{f.name}={getattr(self, f.name)!r}" for f in fields(self))
        return f"{type(self).__name__}({shown})"


@dataclass(eq=False)
class BadInput(RegistryError):
    """What was typed cannot be read as what it should be."""


@dataclass(eq=False)
class NotFound(RegistryError):
    """What was named is not in the registry."""


@dataclass(eq=False)
class Conflict(RegistryError):
    """What was asked contradicts what is recorded."""


@dataclass(eq=False)
class Unusable(RegistryError):
    """The registry or a file cannot be opened, read or written."""

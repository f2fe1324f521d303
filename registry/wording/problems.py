"""What a person reads when a call is wrong: what, where, and what to do."""

from __future__ import annotations

from functools import singledispatch

from registry.errors import RegistryError


@singledispatch
def problem(error: RegistryError) -> str:
    """The sentence for `error`: what is wrong, where, and what to do about it."""
    raise NotImplementedError(f"no wording for {type(error).__name__}")

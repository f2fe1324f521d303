"""One parser under atheris: `python -m tests.faults.atheris_run TARGET CORPUS [options]`."""

from __future__ import annotations

import sys


def main() -> None:
    """Run until the time is up or something is found."""
    # It changes what is imported after it, so it is not loaded where tests are collected.
    import atheris

    with atheris.instrument_imports(include=["registry.domain", "registry.services.rules"]):
        from tests.faults.fuzzing import given_to

    target = sys.argv.pop(1)

    def one(data: bytes) -> None:
        given_to(target, data.decode("utf-8", "surrogateescape"))

    atheris.Setup(sys.argv, one)
    atheris.Fuzz()


if __name__ == "__main__":
    main()

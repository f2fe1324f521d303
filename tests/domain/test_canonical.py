"""Hashes and canonical JSON against published vectors.

SHA-256 of "" and "abc": FIPS 180-4 (examples published by NIST). Canonical JSON: RFC 8785 and the
samples of its author (cyberphone/json-canonicalization).
"""

from __future__ import annotations

import hashlib
import json
import unicodedata

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from registry.domain.canonical import MOST, canonical, digest, signable

FRENCH = {
    "peach": "This sorting order",
    "péché": "is wrong according to French",
    "pêche": "but canonicalization MUST",
    "sin": "ignore locale",
}
FIRST = {
    "at": "2026-06-14",
    "count": 40,
    "from": "S-001",
    "prev": None,
    "seq": 1,
    "to": "B-2026-014",
    "type": "cuttings",
}
FIRST_HASH = "963b5b1ba9b02977e2397b152b08c930e40e05a8e396dd4676b204db56c5fa83"
SECOND = {
    "at": "2026-08-02",
    "count": 1,
    "from": "B-2026-014",
    "note": "×piperita ‘é’",
    "prev": FIRST_HASH,
    "seq": 2,
    "to": "7KX46",
    "type": "potted",
}
SECOND_HASH = "05ee667c7da40e66d58eeecd55bc0396f530d7ccd1b1dcee2a551a56d9a373f7"


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
        (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
    ],
)
def test_sha_256(data, expected):
    assert digest(data) == expected


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (FRENCH, "d99d0ebdcb0033cb858cfa830ae46bc0fb3309413b271f1da828c89901a27ed5"),
        (
            [56, {"d": True, "10": None, "1": []}],
            "099601b171cafed97c333f8878d68e7f8c8f795412adb34b2fdcf0e7c7beac42",
        ),
    ],
    ids=["french", "arrays"],
)
def test_samples_of_rfc_8785(value, expected):
    assert digest(canonical(value).encode()) == expected


def test_a_chain_of_two_entries():
    assert digest(canonical(FIRST).encode()) == FIRST_HASH
    assert digest(canonical(SECOND).encode()) == SECOND_HASH


def test_another_count_is_another_hash():
    assert digest(canonical({**FIRST, "count": 41}).encode()) != FIRST_HASH


def test_composed_and_decomposed_letters_are_not_made_one():
    """RFC 8785 leaves Unicode normalisation to whoever writes the text."""
    composed, decomposed = (unicodedata.normalize(form, "é") for form in ("NFC", "NFD"))
    assert digest(canonical(composed).encode()) != digest(canonical(decomposed).encode())


ours = st.recursive(
    st.none() | st.booleans() | st.integers(-MOST, MOST) | st.text(st.characters(codec="utf-8")),
    lambda inner: (
        st.lists(inner)
        | st.dictionaries(st.text(st.characters(max_codepoint=127, codec="ascii")), inner)
    ),
    max_leaves=20,
)


@given(ours)
def test_what_we_write_is_what_another_library_writes(value):
    assert signable(value) == rfc8785.dumps(value)
    assert json.loads(signable(value)) == value


@pytest.mark.parametrize("value", [{"é": 1}, [1.5], {"a": 2**53}, {"a": [{"b": float("nan")}]}])
def test_what_others_may_write_otherwise_is_not_signed(value):
    with pytest.raises(ValueError, match="not"):
        signable(value)


def test_the_digest_is_that_of_the_standard_library():
    assert digest(b"ortet") == hashlib.sha256(b"ortet").hexdigest()

"""A head of the chain is read back from what people write, and a slip is told where it happened."""

from __future__ import annotations

import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_11_2

from registry.domain.heads import Head, read_head
from registry.errors import BadHead

hashes = st.binary().map(lambda data: hashlib.sha256(data).hexdigest())
heads = st.builds(Head.of, st.integers(1, 10**7), hashes)


@given(heads)
def test_what_is_printed_is_read_back_whatever_stands_around_it(head):
    assert read_head(head.printed) == head
    assert read_head(f"Hello Jo,\nthe head is {head.printed}, yours\nAnn") == head
    bare = head.printed.replace("-", "").replace(" ", "").lower()
    assert read_head(bare) == head


@given(heads)
def test_check_characters_are_those_of_another_library(head):
    """python-stdnum's ISO/IEC 7064 MOD 11-2, over all that stands before each."""
    before = str(head.seq)
    for group in head.printed.split(": ")[1].split():
        before += group[:4]
        assert mod_11_2.is_valid(before + group[5])


@given(heads, st.data())
def test_one_digit_heard_wrong_is_told_in_its_group(head, data):
    groups = head.printed.split(": ")[1].split()
    which = data.draw(st.integers(0, 5))
    at = data.draw(st.integers(0, 3))
    other = data.draw(st.sampled_from([d for d in "0123456789" if d != groups[which][at]]))
    groups[which] = groups[which][:at] + other + groups[which][at + 1 :]
    with pytest.raises(BadHead) as caught:
        read_head(f"{head.seq}: {' '.join(groups)}")
    assert caught.value.group == which + 1


@given(heads, st.integers(0, 4))
def test_groups_that_changed_places_are_told(head, which):
    groups = head.printed.split(": ")[1].split()
    if groups[which] == groups[which + 1]:
        return
    groups[which], groups[which + 1] = groups[which + 1], groups[which]
    try:
        read = read_head(f"{head.seq}: {' '.join(groups)}")
    except BadHead:
        return
    # One in eleven times eleven agrees by chance; it is then another head, and no chain has it.
    assert read != head


@pytest.mark.parametrize(
    "typed", ["", "42", "42: 1234", "a picture", "1: 0000-0 0000-0", "٣: ٤٤٤٤-٤ " * 6]
)
def test_what_is_no_head_is_refused(typed):
    with pytest.raises(BadHead):
        read_head(typed)


def test_two_heads_in_one_text_are_one_too_many():
    one, other = (Head.of(seq, "ab" * 32).printed for seq in (1, 2))
    with pytest.raises(BadHead):
        read_head(f"{one}\n{other}")
    assert read_head(f"{one}\n{one}").seq == 1

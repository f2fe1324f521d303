"""Signatures against the vectors of RFC 8032 (7.1) and RFC 8037 (appendix A), and forgeries."""

from __future__ import annotations

import json
import stat

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from registry.domain.canonical import canonical
from registry.domain.heads import Head, Statement
from registry.errors import (
    BadHead,
    FileUnreadable,
    HeadForged,
    KeyExists,
    KeyMissing,
    KeyUnreadable,
)
from registry.exchange import heads, keys
from tests.domain.test_canonical import SECOND

SEEDS = {
    "TEST 1": "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
    "TEST 2": "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
    "TEST 3": "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
}
PUBLIC = {
    "TEST 1": "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
    "TEST 2": "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
    "TEST 3": "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
}
SIGNED = {
    "TEST 1": (
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555"
        "fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
    ),
    "TEST 2": (
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da0"
        "85ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
    ),
    "TEST 3": (
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac1"
        "8ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
    ),
}


def key_of(name="TEST 1"):
    return Ed25519PrivateKey.from_private_bytes(bytes.fromhex(SEEDS[name]))


@pytest.mark.parametrize("name", SEEDS)
def test_vectors_of_rfc_8032(name):
    key = key_of(name)
    assert keys.public_of(key) == keys.as_text(bytes.fromhex(PUBLIC[name]))
    message, signature = SIGNED[name]
    assert key.sign(bytes.fromhex(message)).hex() == signature


def test_thumbprint_and_signature_of_rfc_8037():
    key = key_of()
    assert keys.public_of(key) == "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo"
    assert keys.thumbprint(keys.public_of(key)) == "kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k"
    signing_input = b"eyJhbGciOiJFZERTQSJ9.RXhhbXBsZSBvZiBFZDI1NTE5IHNpZ25pbmc"
    assert keys.as_text(key.sign(signing_input)) == (
        "hgyY0il_MGCjP0JzlnLWG1PPOt7-09PGcvMg3AIbQR6dWbhijcNR4ki4iylGjg5BhVsPt9g7sVvpAr_MuM0KAg"
    )


def test_the_second_entry_of_the_sample_chain_signed():
    """The bytes as they stand, without a tag, signed with the key of RFC 8032's TEST 1."""
    data = canonical(SECOND).encode()
    expected = (
        "TXMo75TvbdLSMdvc9kzD9veyk8bqcz28gTyjJBqY3986bqtbWLGBdPfMYqscFvqRxIAe9-8sCnu0u1qJLs2tBg"
    )
    assert keys.as_text(key_of().sign(data)) == expected
    for changed in (data + b" ", data.replace(b'"count":1', b'"count":2')):
        assert keys.as_text(key_of().sign(changed)) != expected


STATEMENT = Statement(
    "0190a5e2-0000-7000-8000-000000000001",
    "Jo Ångström",
    42,
    "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
    "2026-05-14T10:00:00+00:00",
    "2026-05-15T08:00:00+00:00",
)


@pytest.fixture
def signed(tmp_path):
    path = tmp_path / "head.json"
    path.write_text(heads.write(STATEMENT, key_of()))
    return path


def test_a_signed_head_is_read_back(signed):
    kept = heads.read(str(signed))
    assert kept.head == Head.of(42, STATEMENT.hash)
    assert kept.statement == STATEMENT
    assert kept.key == keys.public_of(key_of())


def test_an_unsigned_head_says_so(tmp_path):
    path = tmp_path / "head.json"
    path.write_text(heads.write(STATEMENT, None))
    assert heads.read(str(path)).key is None


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('"entry": 42', '"entry": 41'),
        ("ba7816bf", "ba7816be"),
        ("Jo Å", "Jo A"),
        ("2026-05-15", "2026-05-16"),
        ('"alg": "Ed25519"', '"alg": "EdDSA"'),
        ('"kid": "kPrK', '"kid": "kPrk'),
        ('"key": "11qY', '"key": "11qZ'),
        ('"sig": "', '"sig": "A'),
        ('"sig": "', '"sig": "é'),
        ('"key": "', '"key": ["'),
    ],
)
def test_one_sign_changed_anywhere_is_noticed(signed, old, new):
    content = signed.read_text()
    assert old in content
    signed.write_text(content.replace(old, new, 1))
    with pytest.raises((HeadForged, BadHead)):
        heads.read(str(signed))


def test_every_byte_counts(signed):
    """No byte of what is stated can be another; spaces between are no part of it."""
    content = signed.read_bytes()
    start, end = content.index(b"{", 2), content.index(b"}")
    kept = 0
    for at in range(start, end, 7):
        changed = bytes([content[at] ^ 1])
        signed.write_bytes(content[:at] + changed + content[at + 1 :])
        try:
            heads.read(str(signed))
        except (HeadForged, BadHead):
            continue
        assert content[at : at + 1].isspace()
        kept += 1
    assert kept < 5


def test_a_name_that_stands_twice_is_refused(signed):
    content = signed.read_text()
    signed.write_text(content.replace('"entry": 42', '"entry": 42, "entry": 42'))
    with pytest.raises(BadHead):
        heads.read(str(signed))


@pytest.mark.parametrize(
    "content", ["{}", "[1]", "{" * 5000, '{"statement": 1}', "\x00", "nothing"]
)
def test_other_files_are_no_heads(tmp_path, content):
    path = tmp_path / "head.json"
    path.write_text(content)
    with pytest.raises(BadHead):
        heads.read(str(path))


def test_a_folder_or_binary_is_no_head(tmp_path):
    (tmp_path / "photo.jpg").write_bytes(b"\xff\xd8\xff")
    with pytest.raises(BadHead):
        heads.read(str(tmp_path / "photo.jpg"))
    with pytest.raises((BadHead, FileUnreadable)):
        heads.read(str(tmp_path))


def test_a_key_is_for_its_owner_alone_and_never_written_over(tmp_path):
    path = tmp_path / "keys" / "mine.pem"
    public = keys.make(path, "correct horse")
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert keys.is_sealed(path)
    assert keys.public_beside(path) == public
    assert keys.public_of(keys.load(path, "correct horse")) == public
    for wrong in (None, "", "another"):
        with pytest.raises(KeyUnreadable) as caught:
            keys.load(path, wrong)
        assert caught.value.locked
    with pytest.raises(KeyExists):
        keys.make(path, None)


def test_a_key_without_a_passphrase_opens_with_or_without(tmp_path):
    path = tmp_path / "mine.pem"
    public = keys.make(path, None)
    assert not keys.is_sealed(path)
    assert keys.public_of(keys.load(path, None)) == keys.public_of(keys.load(path, "x")) == public


def test_what_is_no_key_is_told(tmp_path):
    with pytest.raises(KeyMissing):
        keys.load(tmp_path / "none.pem", None)
    (tmp_path / "text.pem").write_text("not a key")
    with pytest.raises(KeyUnreadable):
        keys.load(tmp_path / "text.pem", None)


def test_a_signature_of_one_kind_of_paper_is_none_of_another():
    said = json.loads(heads.write(STATEMENT, None))["statement"]
    signature = keys.sign(key_of(), heads.TAG, said)
    assert keys.is_signed(heads.TAG, said, signature)
    assert not keys.is_signed("another 1", said, signature)

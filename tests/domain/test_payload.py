import pytest

from registry.domain.payload import PayloadKind, address_payload, plain_payload, read_payload
from registry.errors import BadSite


def found(text):
    read = read_payload(text)
    assert read is not None
    return read


CODES = ["26-0014-X", "26-0014B-7", "26-0014AA-7", "26-0014-007-X", "26-000014-0007-0"]


@pytest.mark.parametrize("code", CODES)
def test_what_is_written_is_read(code):
    plain = plain_payload(code, "Rosa ‘Ispahan’", "19-0003-4", ["stuck 14 May 2026"], "26-0014-X")
    address = address_payload("https://pots.example.org/", code)
    assert found(plain).code == code
    assert found(plain).kind is PayloadKind.PLAIN
    assert found(address).code == code
    assert found(address).site == "https://pots.example.org"
    assert found(f" {code.lower()} \n").code == code
    assert found(code).kind is PayloadKind.CODE


@pytest.mark.parametrize(
    "text",
    [
        "HTTPS://POTS.EXAMPLE.ORG/P/26-0014-007-X",
        "https://pots.example.org/p/26-0014-007-x",
        "https://pots.example.org/p/26-0014-007-x/",
        "https://pots.example.org/p/26-0014-007-x?from=label#top",
    ],
)
def test_an_address_is_read_in_either_case(text):
    read = found(text)
    assert (read.kind, read.code) == (PayloadKind.ADDRESS, "26-0014-007-X")
    assert read.site == "https://pots.example.org"


@pytest.mark.parametrize(
    "text",
    [
        "",
        "\n\n",
        "Rosa 'Ispahan'",
        "https://example.org/menu",
        "https://example.org/P/hello",
        "https://example.org/P/26-0014-007-XY",
        "ftp://example.org/P/26-0014-007-X",
        "WIFI:S:26-0014-007-X;;",
        "26-0014-007",
        "２６-0014-007-X",
        "x26-0014-007-X",
        "Rosa\n26-0014-007-X",
    ],
)
def test_foreign_text_is_not_ours(text):
    assert read_payload(text) is None


@pytest.mark.parametrize(
    ("site", "expected"),
    [
        ("http://192.168.1.20:8000", "http://192.168.1.20:8000/P/26-0014-X"),
        ("HTTPS://Pots.Example.org", "https://POTS.EXAMPLE.ORG/P/26-0014-X"),
        ("http://[fe80::1]", "http://[FE80::1]/P/26-0014-X"),
        ("https://example.org/~anna/", "https://EXAMPLE.ORG/~anna/P/26-0014-X"),
    ],
)
def test_host_in_capitals_scheme_not_and_a_path_as_typed(site, expected):
    """RFC 3986 section 6.2.2.1: scheme and host in either case; a path not."""
    assert address_payload(site, "26-0014-X") == expected
    assert found(expected).code == "26-0014-X"


@pytest.mark.parametrize(
    "site",
    [
        "",
        "pots.example.org",
        "ftp://example.org",
        "https://",
        "https://a@b.org",
        "https://x.org?a",
        "https://bücher.example",
    ],
)
def test_a_site_that_no_symbol_can_carry_is_refused(site):
    with pytest.raises(BadSite):
        address_payload(site, "26-0014-X")


def test_the_plain_payload_leaves_out_what_is_not_known():
    assert plain_payload("26-0014-X") == "26-0014-X"
    assert plain_payload("26-0014-X", "two\nlines  here") == "26-0014-X\ntwo lines here"

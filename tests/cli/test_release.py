"""Selling, giving, swapping and receiving on the command line."""

from __future__ import annotations

from tests.cli.test_leave import LOOKUP, Ortet, answer, ok, ortet, told  # noqa: F401 - fixtures


def status(run: Ortet, code: str) -> str:
    found: str = answer(run("plant", "show", code, "--json"))["status"]
    return found


def test_a_sale_says_what_was_recorded(ortet):  # noqa: F811 - fixture
    ok(ortet(*LOOKUP))
    result = ok(ortet("sell", "O24-P-1", "O24-P-2", "--to", "Bram Holt", "--price", "6 USD"))
    lines = result.stdout.splitlines()
    assert lines[0] == "Sold to Bram Holt on 14 May 2026: 2 pots"
    assert "Bram Holt was not on record and is now." in result.stdout
    assert "12 USD in all" in result.stdout
    assert status(ortet, "O24-P-1") == "sold"


def test_a_sale_by_count_says_that_which_ones_is_not_said(ortet):  # noqa: F811
    ok(ortet(*LOOKUP))
    found = answer(ortet("sell", "O24", "--count", "3", "--price", "9 USD", "--total", "--json"))
    assert (found["count"], found["plants"], found["price"]) == (3, [], "9")
    assert [one["n"] for one in found["unsaid"]] == [3]
    assert (found["verdict"], found["questions"]) == ("clear", [])
    short = ortet("sell", "O24", "--count", "2")
    assert (short.exit_code, short.stdout) == (2, "")
    assert "1 is left, since 3 left or died without a code being said" in short.stderr


def test_a_sale_that_is_barred_records_nothing_and_exits_1(ortet):  # noqa: F811
    refused = ortet("sell", "N25-P-1", "--price", "6 USD")
    assert (refused.exit_code, refused.stdout) == (1, "")
    assert "the answer is no" in refused.stderr
    assert "Nan Ashe said no" in refused.stderr
    assert "--anyway" in refused.stderr
    assert "ortet may sell 2" in refused.stderr, "the next step names the plant"
    assert status(ortet, "N25-P-1") == "alive"

    sold = ok(ortet("sell", "N25-P-1", "--anyway", "she was told"))
    assert sold.stdout.splitlines()[0].startswith("Sold on 14 May 2026: 1 pot")
    assert "Recorded against a no, with the reason: she was told" in sold.stdout
    assert status(ortet, "N25-P-1") == "sold"


def test_a_gift_with_gaps_needs_open_or_one_yes_in_a_terminal(ortet):  # noqa: F811
    gift = ("give", "T24-P-1", "--purpose", "private")
    refused = ortet(*gift)
    assert (refused.exit_code, refused.stdout) == (1, "")
    assert "--open" in refused.stderr
    declined = ortet(*gift, tty="n\n")
    assert declined.exit_code == 1
    assert status(ortet, "T24-P-1") == "alive"
    given = ok(ortet(*gift, tty="\n"))
    assert "Not known: whether its owner allows this. Record and leave open?" in given.stderr
    lines = given.stdout.splitlines()
    assert lines[0].startswith("Given on 14 May 2026")
    assert lines.index("Not known yet:") > 0
    # It is noted now, and not asked again.
    ok(ortet("give", "T24-P-2", "--purpose", "private"))


def test_a_purpose_nobody_said_is_trade(ortet):  # noqa: F811
    refused = ortet("give", "O24-P-1", "--open")
    assert refused.exit_code == 1
    assert "--anyway" in refused.stderr


def test_a_terminal_is_asked_for_the_purpose(ortet):  # noqa: F811
    given = ok(ortet("give", "O24-P-1", "--open", tty="y\n"))
    assert "Is it private" in given.stderr


def test_a_swap_names_what_came(ortet):  # noqa: F811
    ok(ortet(*LOOKUP))
    swap = ("swap", "O24-P-1", "--to", "Lil Farrow", "--purpose", "private", "--json")
    found = answer(ortet(*swap, "--got", "Crocosmia 'Bridge Light'"))
    assert [one["name"] for one in found["made"]] == ["Lil Farrow", "Crocosmia 'Bridge Light'"]
    assert status(ortet, found["made"][1]["code"]) == "alive"
    assert status(ortet, "O24-P-1") == "swapped"


def test_what_arrives_gets_a_code(ortet):  # noqa: F811
    found = answer(
        ortet("receive", "Geum 'Bell'", "--from", "Lil Farrow", "--number", "LIL", "--json")
    )
    assert [one["code"] for one in found["plants"]] == [found["made"][0]["code"]]
    assert status(ortet, "LIL") == "alive"


def test_gone_plants_are_counted_in_a_group_and_refused_alone(ortet):  # noqa: F811
    ok(ortet(*LOOKUP))
    ok(ortet("sell", "O24-P-1"))
    both = ok(ortet("sell", "O24-P-1", "O24-P-2"))
    assert "1 of 2 is gone and was left out." in both.stdout
    alone = ortet("sell", "O24-P-1")
    assert (alone.exit_code, alone.stdout) == (2, "")
    assert "sold, 14 May 2026" in alone.stderr


def test_wrong_input_is_refused_with_nothing_recorded(ortet):  # noqa: F811
    ok(ortet(*LOOKUP))
    for args, words in (
        (("sell", "O24", "--count", "0"), "Pots: '0'"),
        (("sell", "O24", "--count", "about 3"), "about 3"),
        (("sell", "O24-P-1", "--count", "1"), "single plants"),
        (("sell", "O24-P-1", "--price", "six"), "not an amount"),
        (("receive", ""), "name"),
    ):
        result = ortet(*args)
        assert (result.exit_code, result.stdout) == (2, ""), args
        assert words in result.stderr
    assert status(ortet, "O24-P-1") == "alive"

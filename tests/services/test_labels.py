"""What labels say, which were ordered and printed, and what a label read back stands for."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from datetime import date
from itertools import combinations

import pytest
from sqlalchemy import select

from registry.domain.methods import Role
from registry.domain.names import Style
from registry.domain.payload import PayloadKind
from registry.errors import (
    CodeUnknown,
    NoOperator,
    NotABotanicalName,
    NotALabel,
    NotATag,
    SiteMissing,
    TagBound,
    UnknownStock,
)
from registry.labels.stocks import Buried, Kind, own_stock
from registry.labels.text import LabelKind, label_from_json, pencil_lines
from registry.services import labels, making, people
from registry.services.identity import Opinion, correct_name
from registry.services.label_text import Passport, Subject, Wanted, label_texts
from registry.services.reading import read_text, read_texts
from registry.services.resolve import resolve
from registry.services.rows import registry_row
from registry.storage.models import (
    Accession,
    Consent,
    LabelPrint,
    Lot,
    Plant,
    VerdictGiven,
)
from registry.wording.labels import NAME_NOT_KNOWN, WITH_LEAVE
from tests.services.garden import DAY, Garden, begin, day

TODAY = date(2026, 5, 14)


@pytest.fixture
def garden(record) -> Iterator[Garden]:
    with record("test") as rec:
        begin(rec)
        yield Garden(rec)


def text_of(garden, node, **wanted):
    garden.rec.flush()
    (label,) = label_texts(garden.rec.session, [Subject(node)], Wanted(**wanted))
    return label


def name_on(label):
    return "".join(run.text for run in label.runs)


def verdict(garden, *findings):
    """A verdict as it is kept with a taking; each finding is row, level, plant, record."""
    keys = ("row", "level", "plant", "record")
    row = garden.rec.add(
        VerdictGiven(
            act="propagate",
            on=DAY,
            place="US-OR",
            purpose="private",
            level="clear",
            unknown=None,
            findings=[dict(zip(keys, finding, strict=True)) for finding in findings],
        )
    )
    garden.rec.flush()
    return row.id


class TestWhatALabelSays:
    def test_a_pot_names_its_source_dates_and_batch(self, garden):
        source = garden.founder("fig, back wall")
        (pot,) = garden.raised(source)
        label = text_of(garden, pot)
        assert label.source_code == garden.code(source)
        assert name_on(label) == "fig, back wall"
        batch = resolve(garden.rec.session, "2", today=TODAY).text
        assert label.lines == ("stuck 14 May 2026", "potted 14 May 2026", f"batch {batch}")
        assert label.payload is not None
        assert label.payload.splitlines()[0] == garden.code(pot)

    def test_an_opinion_prints_in_italics_and_words_as_received_upright(self, garden):
        source = garden.founder("Camellia × williamsii 'Donation'")
        (pot,) = garden.raised(source)
        (run,) = text_of(garden, pot).runs
        assert (run.text, run.style) == ("Camellia × williamsii 'Donation'", Style.UPRIGHT)
        correct_name(
            garden.rec, garden.target(source), Opinion("Camellia × williamsii 'Donation'", DAY)
        )
        styles = [run.style for run in text_of(garden, pot).runs]
        assert styles == [Style.ITALIC, Style.UPRIGHT, Style.ITALIC, Style.UPRIGHT]

    @pytest.mark.parametrize(
        "received",
        ["red hydrangea, Nan Ashe", "Nan Ashe's red one", "rose from the Óld Priory", "NAN ASHE"],
    )
    def test_a_name_that_holds_a_person_or_a_hidden_place_is_not_printed(self, garden, received):
        people.add_person(garden.rec, "Nan Ashe")
        people.add_place(garden.rec, "the old priory", hidden=True)
        (pot,) = garden.raised(garden.founder(received, owner="Nan Ashe"))
        label = text_of(garden, pot)
        assert name_on(label) == NAME_NOT_KNOWN
        assert "Nan" not in f"{label}"

    def test_a_place_inside_a_hidden_one_is_hidden(self, garden):
        people.add_place(garden.rec, "Priory", hidden=True)
        people.add_place(garden.rec, "North Cloister", within="Priory")
        (pot,) = garden.raised(garden.founder("fig of the north cloister"))
        assert name_on(text_of(garden, pot)) == NAME_NOT_KNOWN

    @pytest.mark.parametrize("received", ["red hydrangea, side gate", "Anna Ashes", "Nanashe"])
    def test_a_name_that_holds_no_whole_person_is_printed(self, garden, received):
        people.add_person(garden.rec, "Nan Ashe")
        people.add_place(garden.rec, "side gate")
        (pot,) = garden.raised(garden.founder(received))
        assert name_on(text_of(garden, pot)) == received

    @pytest.mark.parametrize(
        ("findings", "printed"),
        [
            ((("A3", "clear"),), True),
            ((("A4", "conditional"), ("B17", "unknown")), True),
            ((("A1", "clear"),), False),
            ((("A3", "clear"), ("A2", "unknown")), False),
            ((("A5", "barred"),), False),
        ],
    )
    def test_leave_is_printed_where_the_taking_rests_on_it(self, garden, findings, printed):
        """Rows A3 and A4 of the verdict: a consent in force, or leave recorded with the taking."""
        source = garden.founder("fig", owner="Nan Ashe")
        (pot,) = garden.raised(source)
        lot = garden.rec.session.scalars(select(Lot)).one()
        code = garden.code(source)
        lot.verdict_id = verdict(garden, *((row, level, code, None) for row, level in findings))
        assert (WITH_LEAVE in text_of(garden, pot).lines) is printed

    def test_leave_for_another_plant_of_the_same_verdict_does_not_count(self, garden):
        mine, theirs = garden.founder("fig"), garden.founder("plum", owner="Nan Ashe")
        lots = garden.batch(mine, theirs)
        given = verdict(
            garden,
            ("A1", "clear", garden.code(mine), None),
            ("A3", "clear", garden.code(theirs), None),
        )
        for lot in lots:
            garden.rec.session.get_one(Lot, lot).verdict_id = given
        pots = [garden.pots(lot, 1)[0] for lot in lots]
        assert [WITH_LEAVE in text_of(garden, pot).lines for pot in pots] == [False, True]

    def test_one_of_several_sources_is_said_so(self, garden):
        first, second = garden.founder("fig"), garden.founder("plum")
        one, two = garden.batch(first, second)
        accession = garden.rec.session.get_one(Lot, one).batch_id
        pot = making.make_plant(
            garden.rec, garden.rec.session.get_one(Accession, accession), born=DAY
        ).node_id
        for lot in (one, two):
            making.link(garden.rec, lot, pot, Role.RAISED, choice=1, clonal=True)
        label = text_of(garden, pot)
        assert label.source_code == f"{garden.code(first)} or {garden.code(second)}"
        assert name_on(label) == "fig or plum"

    def test_a_graft_says_what_it_stands_on(self, garden):
        scion, stock = garden.founder("apple"), garden.founder("M26")
        (lot,) = garden.batch(scion)
        making.link(garden.rec, stock, lot, Role.ROOTSTOCK, choice=None, clonal=False)
        (pot,) = garden.pots(lot, 1)
        label = text_of(garden, pot)
        assert label.source_code == garden.code(scion)
        assert f"on {garden.code(stock)}" in label.lines

    def test_a_notice_of_a_consent_is_carried_down_the_clone(self, garden):
        source = garden.founder("fig", owner="Nan Ashe")
        garden.rec.add(
            Consent(plant_id=source, outcome="granted", notice="Not for resale before 2030")
        )
        (pot,) = garden.raised(garden.raised(source)[0])
        assert text_of(garden, pot).notices == ("Not for resale before 2030",)
        assert "Not for resale before 2030" in pencil_lines(text_of(garden, pot))

    def test_an_address_needs_the_site(self, garden):
        (pot,) = garden.raised(garden.founder("fig"))
        with pytest.raises(SiteMissing):
            text_of(garden, pot, payload=PayloadKind.ADDRESS)
        registry_row(garden.rec.session).settings = {"site": "https://pots.example.org"}
        label = text_of(garden, pot, payload=PayloadKind.ADDRESS)
        assert label.payload == f"https://POTS.EXAMPLE.ORG/P/{garden.code(pot)}"

    def test_a_sale_label_says_that_a_name_is_unchecked(self, garden):
        source = garden.founder("Rosa 'Ispahan'")
        (pot,) = garden.raised(source)
        label = text_of(garden, pot, kind=LabelKind.SALE, heading="6 USD", lines=("Bench 4",))
        assert label.heading == "6 USD"
        assert label.typed == ("Bench 4",)
        assert "name not verified" in label.lines
        correct_name(garden.rec, garden.target(source), Opinion("Rosa 'Ispahan'", DAY, "flower"))
        assert "name seen in flower or fruit" in text_of(garden, pot, kind=LabelKind.SALE).lines

    def test_a_sale_label_warns_of_sap_and_names_the_seller_if_one_is_set(self, garden):
        """Spurges (*Euphorbia*) burn skin and eyes: common practice, no source."""
        source = garden.founder("Euphorbia characias")
        (pot,) = garden.raised(source)
        registry_row(garden.rec.session).settings = {"seller": "Hollow Lane"}
        sale = text_of(garden, pot, kind=LabelKind.SALE).lines
        assert "sap can burn skin and eyes: wear gloves" in sale
        assert "raised by Hollow Lane" in sale
        assert "raised by Hollow Lane" not in text_of(garden, pot).lines

    def test_a_pot_label_says_how_far_a_name_was_verified_if_that_is_wanted(self, garden):
        source = garden.founder("Rosa 'Ispahan'")
        (pot,) = garden.raised(source)
        assert "name not verified" not in text_of(garden, pot).lines
        assert "name not verified" in text_of(garden, pot, verified=True).lines


class TestPlantPassports:
    """Regulation (EU) 2016/2031, Annex VII Part A; for Great Britain S.I. 2020/1482."""

    @pytest.fixture
    def pot(self, garden):
        registry_row(garden.rec.session).settings = {
            "operator-eu": "NL-123456789",
            "operator-gb": "GB 55",
        }
        source = garden.founder("Camellia")
        correct_name(garden.rec, garden.target(source), Opinion("Camellia japonica", DAY))
        return garden.raised(source)[0]

    def made(self, garden, pot, *said):
        return text_of(garden, pot, payload=None, kind=LabelKind.PASSPORT, passport=Passport(*said))

    def test_the_unions_has_the_flag_and_the_states_code(self, garden, pot):
        label = self.made(garden, pot, "eu", "Plantenpaspoort", "", "CN")
        batch = resolve(garden.rec.session, "2", today=TODAY).text
        assert label.heading == "Plantenpaspoort / Plant Passport"
        assert label.lines == ("B NL – 123456789", f"C {batch}", "D CN")
        assert name_on(label) == "Camellia japonica"
        assert label.flag

    def test_the_british_has_no_flag_and_its_own_words(self, garden, pot):
        label = self.made(garden, pot, "gb", "", "Erwinia amylovora", "GB(NI)")
        assert label.heading == "UK Plant Passport — PFA\nErwinia amylovora"
        assert label.lines[0] == "B GB 55"
        assert label.lines[2] == "E GB(NI)"
        assert not label.flag

    def test_without_a_registration_number_it_is_refused(self, garden, pot):
        registry_row(garden.rec.session).settings = {"operator-gb": "GB 55"}
        with pytest.raises(NoOperator):
            self.made(garden, pot, "eu")

    def test_without_a_botanical_name_it_is_refused(self, garden, pot):
        (other,) = garden.raised(garden.founder("red one, side gate"))
        with pytest.raises(NotABotanicalName):
            self.made(garden, other, "eu")


class TestWhatACodeStandsFor:
    def test_a_batch_and_its_lots_together_are_one_card(self, garden):
        lots = garden.batch(garden.founder("fig"), garden.founder("plum"))
        (label,) = self.made(garden, garden.lots(*lots))
        assert label.kind is LabelKind.BATCH
        assert [row.letter for row in label.lots] == ["A", "B"]
        assert [row.count for row in label.lots] == ["10", "10"]
        assert label.runs == ()

    def test_a_lot_of_several_has_a_card_of_its_own(self, garden):
        lots = garden.batch(garden.founder("fig"), garden.founder("plum"))
        (label,) = self.made(garden, garden.lots(lots[1]))
        assert label.code == garden.code(lots[1])
        assert name_on(label) == "plum"

    def test_of_a_group_those_that_are_gone_get_none(self, garden):
        pots = garden.raised(garden.founder("fig"), 3)
        garden.rec.session.get_one(Plant, pots[1]).status = "died"
        garden.rec.flush()
        prepared = labels.prepare_labels(garden.rec.session, [garden.target(*pots)])
        assert [label.code for label in prepared.labels] == [
            garden.code(pots[0]),
            garden.code(pots[2]),
        ]
        assert prepared.left_out == (garden.code(pots[1]),)

    def test_a_plant_named_twice_has_one_label(self, garden):
        (pot,) = garden.raised(garden.founder("fig"))
        assert len(self.made(garden, garden.target(pot), garden.target(pot))) == 1

    @staticmethod
    def made(garden, *targets):
        return labels.prepare_labels(garden.rec.session, targets).labels


class TestOrders:
    def test_the_exact_text_is_kept_with_its_hash(self, garden):
        (pot,) = garden.raised(garden.founder("Dvořák’s fig"))
        ordered = labels.order_labels(garden.rec, [garden.target(pot)], stock="roll-57x32")
        row = garden.rec.session.get_one(LabelPrint, ordered.ids[0])
        assert (row.status, row.stock, row.payload) == ("ordered", "roll-57x32", "plain")
        assert label_from_json(row.text) == ordered.labels[0]
        assert row.text_hash == hashlib.sha256(row.text.encode()).hexdigest()

    def test_the_usual_stock_is_the_countrys_paper_and_larger_for_cards(self, garden):
        source = garden.founder("fig")
        (lot,) = garden.batch(source)
        pots = garden.pots(lot, 2)
        plants = labels.order_labels(garden.rec, [garden.target(*pots)])
        card = labels.order_labels(garden.rec, [garden.lots(lot)])
        assert (plants.stock.name, card.stock.name) == ("plain-letter", "plain-letter-95x64")

    def test_what_was_ordered_waits_until_it_is_printed(self, garden):
        pots = garden.raised(garden.founder("fig"), 2)
        ordered = labels.order_labels(garden.rec, [garden.target(*pots)])
        (waits,) = labels.waiting(garden.rec.session)
        assert (waits.ids, waits.labels) == (ordered.ids, ordered.labels)
        assert labels.mark_printed(garden.rec, ordered.ids) == 0
        assert labels.waiting(garden.rec.session) == []

    def test_a_reprint_replaces_the_older_label_of_the_same_kind(self, garden):
        (pot,) = garden.raised(garden.founder("fig"))
        target = garden.target(pot)
        first = labels.order_labels(garden.rec, [target])
        labels.mark_printed(garden.rec, first.ids)
        sale = labels.order_labels(garden.rec, [target], Wanted(kind=LabelKind.SALE))
        assert labels.mark_printed(garden.rec, sale.ids) == 0
        second = labels.order_labels(garden.rec, [target])
        assert labels.mark_printed(garden.rec, second.ids) == 1
        status = {row.id: row.status for row in garden.rec.session.scalars(select(LabelPrint))}
        assert status == {
            first.ids[0]: "replaced",
            sale.ids[0]: "printed",
            second.ids[0]: "printed",
        }

    def test_ordering_does_not_move_last(self, garden):
        (pot,) = garden.raised(garden.founder("fig"))
        garden.rec.last = None
        labels.order_labels(garden.rec, [garden.target(pot)])
        assert garden.rec.last is None

    def test_a_label_is_stale_when_the_record_says_something_else(self, garden):
        source = garden.founder("fig")
        pots = garden.raised(source, 2)
        wanted = Wanted(lines=("Bench 4",))
        ordered = labels.order_labels(garden.rec, [garden.target(*pots)], wanted)
        labels.mark_printed(garden.rec, ordered.ids)
        assert labels.stale_labels(garden.rec.session) == []
        correct_name(garden.rec, garden.target(source), Opinion("Ficus carica", DAY))
        garden.rec.session.get_one(Plant, pots[1]).status = "sold"
        garden.rec.flush()
        (stale,) = labels.stale_labels(garden.rec.session)
        assert stale.code == garden.code(pots[0])
        assert (stale.gone, stale.come) == (("fig",), ("Ficus carica",))


class TestBlankTags:
    def test_a_tag_stands_for_what_it_is_bound_to(self, garden):
        ordered = labels.reserve_tags(garden.rec, 2)
        assert [label.kind for label in ordered.labels] == [LabelKind.BLANK] * 2
        tag, other = (label.code for label in ordered.labels)
        assert ordered.labels[0].payload == tag
        (pot,) = garden.raised(garden.founder("fig"))
        bound = labels.bind_tag(garden.rec, tag, garden.target(pot))
        assert (bound.code, bound.name) == (garden.code(pot), "fig")
        assert self.at(garden, tag).plants == (pot,)
        assert f"also {tag}" in text_of(garden, pot).lines
        with pytest.raises(TagBound):
            labels.bind_tag(garden.rec, tag, garden.target(pot))
        assert other not in f"{text_of(garden, pot)}"

    def test_only_a_blank_tag_is_bound_and_only_to_one_thing(self, garden):
        (label,) = labels.reserve_tags(garden.rec, 1).labels
        pots = garden.raised(garden.founder("fig"), 2)
        with pytest.raises(NotATag):
            labels.bind_tag(garden.rec, garden.code(pots[0]), garden.target(pots[1]))
        with pytest.raises(NotATag):
            labels.bind_tag(garden.rec, label.code, garden.target(*pots))

    @staticmethod
    def at(garden, code):
        return resolve(garden.rec.session, code, today=TODAY)


class TestStocks:
    def test_an_own_stock_is_kept_and_found_by_name(self, garden):
        stock = own_stock(
            "bench-tag",
            page=(100, 150),
            label=(40, 20),
            grid=(2, 5),
            margins=(5, 6),
            pitch=(45, 25),
            kind=Kind.STAKE,
            buried=Buried.START,
        )
        labels.keep_stock(garden.rec, stock)
        assert labels.own_stocks(garden.rec.session) == (stock,)
        assert labels.choose_stock(garden.rec.session, "Bench-Tag", cards=False) == stock
        with pytest.raises(UnknownStock) as caught:
            labels.choose_stock(garden.rec.session, "bench-tags", cards=False)
        assert caught.value.near == ("bench-tag",)


class TestReading:
    @pytest.fixture
    def pots(self, garden):
        pots = garden.raised(garden.founder("fig"), 12)
        garden.rec.flush()
        return pots

    def test_a_code_and_its_own_label_are_sure(self, garden, pots):
        session = garden.rec.session
        label = text_of(garden, pots[6])
        for text in (label.code, label.code.lower(), label.payload):
            answer = read_text(session, text, today=TODAY)
            assert answer.sure
            assert [one.code for one in answer.found] == [label.code]
            assert answer.found[0].name == "fig"

    def test_a_slip_is_answered_with_what_it_could_be(self, garden, pots):
        code = garden.code(pots[0])
        wrong = code[:-1] + ("0" if code[-1] != "0" else "1")
        answer = read_text(garden.rec.session, wrong, today=TODAY)
        assert not answer.sure
        assert code in [one.code for one in answer.found]
        assert answer.why

    @pytest.mark.parametrize("pot", [0, 11])
    def test_with_two_characters_lost_the_right_plant_is_among_few(self, garden, pots, pot):
        """Two lost characters leave about nine codes, of which most were never given."""
        code = garden.code(pots[pot])
        places = [place for place, sign in enumerate(code) if sign != "-"]
        for first, second in combinations(places, 2):
            lost = list(code)
            lost[first] = lost[second] = "_"
            answer = read_text(garden.rec.session, "".join(lost), today=TODAY)
            found = [one.code for one in answer.found]
            assert code in found
            assert answer.sure is (len(found) == 1)
            assert len(found) <= (9 if second == places[-1] else 2)

    def test_a_label_with_another_name_is_not_sure(self, garden, pots):
        code = garden.code(pots[0])
        answer = read_text(garden.rec.session, f"{code}\nplum\nfrom 26-0001-001-8", today=TODAY)
        assert not answer.sure
        assert "plum" in answer.why

    def test_a_label_printed_before_a_renaming_is_sure(self, garden, pots):
        ordered = labels.order_labels(garden.rec, [garden.target(pots[0])])
        source = resolve(garden.rec.session, "1", today=TODAY)
        correct_name(garden.rec, source, Opinion("Ficus carica", day(2026, 5, 15)))
        payload = ordered.labels[0].payload
        assert payload is not None
        assert read_text(garden.rec.session, payload, today=TODAY).sure

    def test_an_address_of_another_site_is_not_sure(self, garden, pots):
        registry_row(garden.rec.session).settings = {"site": "https://pots.example.org/"}
        code = garden.code(pots[0])
        ours = read_text(garden.rec.session, f"https://POTS.EXAMPLE.ORG/P/{code}", today=TODAY)
        theirs = read_text(garden.rec.session, f"https://OTHER.EXAMPLE/P/{code}", today=TODAY)
        assert (ours.sure, theirs.sure) == (True, False)

    @pytest.mark.parametrize("text", ["https://example.org/menu", "hello there", "WIFI:S:x;;"])
    def test_what_is_no_label_is_said_so(self, garden, pots, text):
        with pytest.raises(NotALabel):
            read_text(garden.rec.session, text, today=TODAY)

    def test_a_code_that_nothing_recorded_comes_near_is_unknown(self, garden, pots):
        with pytest.raises(CodeUnknown):
            read_text(garden.rec.session, "19-9876-543-2", today=TODAY)

    def test_a_picture_with_a_foreign_symbol_answers_for_the_others(self, garden, pots):
        code = garden.code(pots[3])
        answers, foreign = read_texts(
            garden.rec.session, ["https://example.org/menu", code], today=TODAY
        )
        assert [answer.found[0].code for answer in answers] == [code]
        assert foreign == ("https://example.org/menu",)

"""What a plant is: opinions, sports, seedlings, chimeras, mix-ups and orphans."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import pytest
from sqlalchemy import select

from registry.domain.counts import Count
from registry.domain.methods import Method, Role
from registry.domain.names import Verified, verified
from registry.errors import (
    BadName,
    NoNameToTake,
    NotAPlant,
    NotInTheMixUp,
    SaidTwice,
    SamePlantTwice,
    TagUnknown,
)
from registry.services import identity, making, matching, putright
from registry.services.identity import MixUp, Opinion
from registry.services.naming import name_of, names_of, names_on, verified_of
from registry.storage.models import (
    Accession,
    Batch,
    Determination,
    Edge,
    IdentityCheck,
    LabelPrint,
    Lot,
    Node,
    Release,
    ReleaseItem,
    StrayTag,
)
from tests.services.garden import DAY, Garden, begin, day

HOT, NIGHT = "Salvia ‘Hot Coral’", "Salvia ‘Moth Night’"


@pytest.fixture
def garden(record) -> Iterator[Garden]:
    with record("test", keep=False) as rec:
        begin(rec)
        yield Garden(rec)


def shown(garden: Garden, *nodes: int) -> list[str]:
    garden.rec.flush()
    names = names_of(garden.rec.session, nodes)
    return [names[node].shown for node in nodes]


def correct(garden: Garden, node: int, name: str, **facts):
    target = garden.target(node) if garden.rec.session.get(Lot, node) is None else garden.lots(node)
    return identity.correct_name(garden.rec, target, Opinion(name, facts.pop("on", DAY), **facts))


# --- opinions ------------------------------------------------------------------------------------


def test_a_correction_of_the_stock_plant_corrects_its_clone_save_who_has_an_own_name(garden):
    stock = garden.founder(HOT)
    lot = garden.batch(stock)[0]
    pots = garden.pots(lot, 3)
    correct(garden, pots[2], "Salvia 'Amethyst Lips'")
    done = correct(garden, stock, NIGHT)
    assert (done.before, done.after) == (HOT, NIGHT)
    assert (done.descendants, done.keep_own) == (2, 1)
    assert shown(garden, lot, *pots) == [NIGHT, NIGHT, NIGHT, "Salvia ‘Amethyst Lips’"]


def test_of_two_opinions_the_one_of_the_later_day_stands(garden):
    stock = garden.founder(HOT)
    correct(garden, stock, NIGHT, on=day(2026, 3, 1))
    correct(garden, stock, "Salvia 'Royal Bumble'", on=day(2024, 3, 1))
    assert shown(garden, stock) == [NIGHT]


def test_a_name_counts_from_its_day_on(garden):
    """The table of lines says today's names; a past day is asked of the lineage itself."""
    stock = garden.founder(HOT)
    pot = garden.raised(stock)[0]
    correct(garden, stock, NIGHT, on=day(2026, 3, 1))
    correct(garden, pot, "Salvia 'Royal Bumble'", on=day(2026, 4, 1))
    session = garden.rec.session
    for month, of_stock, of_pot in (
        (2, HOT, HOT),
        (3, NIGHT, NIGHT),
        (5, NIGHT, "Salvia ‘Royal Bumble’"),
    ):
        when = date(2026, month, 2)
        assert names_on(session, [stock, pot], when) == {stock: of_stock, pot: of_pot}
    assert names_on(session, [pot], date(2026, 5, 14))[pot] == name_of(session, pot).shown


def test_a_name_that_leaves_a_question_is_kept_as_typed_with_the_offers(garden):
    """Section 'never guessed silently' of the reading rules: a bare capitalised word."""
    stock = garden.founder("hydrangea by the door")
    done = correct(garden, stock, "Hydrangea paniculata Limelight")
    assert done.after == "Hydrangea paniculata Limelight"
    assert done.asked == ("Hydrangea paniculata ‘Limelight’", "Hydrangea paniculata LIMELIGHT")


@pytest.mark.parametrize("typed", ["", "Quercus robur x", "Hydrangea 'Limelight", "P. vulgaris"])
def test_a_name_that_cannot_be_stored_is_refused_before_anything_is_written(garden, typed):
    stock = garden.founder(HOT)
    with pytest.raises(BadName):
        correct(garden, stock, typed)
    assert garden.rec.session.scalars(select(Determination)).all() == []


def test_an_opinion_stands_on_one_plant(garden):
    several = garden.target(garden.founder("fig"), garden.founder("fig"))
    with pytest.raises(NotAPlant):
        identity.correct_name(garden.rec, several, Opinion(NIGHT, DAY))


def test_a_correction_tells_which_labels_are_stale(garden):
    from registry.domain.names import as_received
    from registry.labels.text import LabelKind, LabelText, label_to_json

    stock = garden.founder(HOT)
    pots = garden.raised(stock, 3)

    def label(node: int, name: str, status: str = "printed") -> None:
        words = LabelText(LabelKind.PLANT, garden.code(node), runs=as_received(name))
        garden.rec.add(
            LabelPrint(
                node_id=node, stock="plain", payload="plain", text=label_to_json(words),
                text_hash="", status=status,
            )
        )  # fmt: skip

    label(pots[0], HOT)
    label(pots[1], HOT, "replaced")
    label(pots[2], "fig")
    done = correct(garden, stock, NIGHT)
    assert [stale.code for stale in done.labels] == [garden.code(pots[0])]
    again = correct(garden, stock, NIGHT)
    assert again.labels == (), "nothing changed, nothing is stale"


def released(garden: Garden, node: int, seq: int, name: str = "Nan Ashe") -> None:
    from registry.services.people import owner_named

    rec = garden.rec
    release = rec.add(
        Release(
            uuid=rec.new_id(), kind="give", on=DAY, purpose="private", seq=seq,
            person_id=owner_named(rec, name).person_id,
        )
    )  # fmt: skip
    rec.flush()
    rec.add(ReleaseItem(release_id=release.id, node_id=node, n=1))
    rec.flush()


def test_a_correction_tells_what_left_under_the_old_name_and_to_whom(record):
    with record("first") as rec:
        begin(rec)
        garden = Garden(rec)
        stock = garden.founder(HOT)
        pots = garden.raised(stock, 2)
        released(garden, pots[0], rec.seq, "Nan Ashe")
    with record("second") as rec:
        done = correct(Garden(rec), stock, NIGHT)
        assert [(one.code, one.kind, one.to) for one in done.left] == [
            (Garden(rec).code(pots[0]), "give", "Nan Ashe")
        ]
    with record("third") as rec:
        released(Garden(rec), pots[1], rec.seq, "Lil Farrow")
    with record("fourth") as rec:
        done = correct(Garden(rec), stock, "Salvia 'Royal Bumble'")
        assert [one.to for one in done.left] == ["Lil Farrow"], "the first bore an older name"


def test_a_correction_tells_which_verdicts_change(garden):
    """Words that are no name leave open what it is (rows C11, B45); a species settles that."""
    stock = garden.founder("blue pot")
    pot = garden.raised(stock)[0]
    done = correct(garden, stock, "Ficus carica", grounds="fruit")
    codes = {one.code for one in done.verdicts}
    assert codes == {garden.code(stock), garden.code(pot)}
    assert ("propagate", "unknown", "clear") in {
        (one.act, one.before, one.after) for one in done.verdicts
    }
    assert (done.judged, done.of) == (2, 2)


# --- verification --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("grounds", "expected"),
    [
        (None, Verified.UNVERIFIED),
        ("label", Verified.UNVERIFIED),
        ("the giver's word", Verified.UNVERIFIED),
        ("Flower", Verified.SEEN),
        ("seen in fruit", Verified.SEEN),
        ("compared with a herbarium sheet in flower", Verified.COMPARED),
        ("DNA test", Verified.TESTED),
        ("protest", Verified.UNVERIFIED),
        ("not tested", Verified.UNVERIFIED),
        ("DNA test pending", Verified.UNVERIFIED),
        ("to be compared", Verified.UNVERIFIED),
        ("never flowered here", Verified.UNVERIFIED),
        ("hasn't bloomed", Verified.UNVERIFIED),
        ("no flower yet", Verified.UNVERIFIED),
        ("red flowers, says the label", Verified.UNVERIFIED),
        ("flower stall", Verified.UNVERIFIED),
    ],
)
def test_grounds_say_how_far_a_name_was_verified(grounds, expected):
    """Common practice, no source."""
    assert verified(grounds) is expected


def test_a_clone_is_as_verified_as_its_line_and_a_check_counts_for_its_plant(garden):
    stock = garden.founder(HOT)
    first, second = garden.raised(stock, 2)
    correct(garden, stock, HOT, grounds="flower")
    mixed = MixUp((first,), (first,), (), DAY, grounds="DNA test")
    identity.sort_mix_up(garden.rec, mixed)
    found = verified_of(garden.rec.session, [stock, first, second])
    assert found == {stock: Verified.SEEN, first: Verified.TESTED, second: Verified.SEEN}


def verified_now(garden, node):
    garden.rec.flush()
    return verified_of(garden.rec.session, [node])[node]


def test_what_was_said_of_a_verification_goes_before_its_grounds(garden):
    stock = garden.founder(HOT)
    correct(garden, stock, NIGHT, grounds="never flowered", verified=Verified.COMPARED)
    assert verified_now(garden, stock) is Verified.COMPARED
    correct(garden, stock, NIGHT, grounds="flower", verified=Verified.UNVERIFIED)
    assert verified_now(garden, stock) is Verified.UNVERIFIED


def test_a_check_says_nothing_for_a_name_that_was_given_afterwards(garden):
    stock = garden.founder(HOT)
    pot = garden.raised(stock)[0]
    identity.sort_mix_up(garden.rec, MixUp((pot,), (pot,), (), DAY, grounds="DNA test"))
    assert verified_now(garden, pot) is Verified.TESTED
    correct(garden, stock, NIGHT, grounds="the giver's word")
    assert verified_now(garden, pot) is Verified.UNVERIFIED
    correct(garden, stock, HOT, grounds="label")  # the name that was tested after all
    assert verified_now(garden, pot) is Verified.TESTED


def test_a_check_from_before_names_were_kept_with_it_counts_until_the_next_name(garden):
    stock = garden.founder(HOT)
    correct(garden, stock, HOT, grounds="label")
    identity.sort_mix_up(garden.rec, MixUp((stock,), (stock,), (), DAY, grounds="fruit"))
    check = garden.rec.session.scalars(select(IdentityCheck)).one()
    check.name = check.verified = None
    assert verified_now(garden, stock) is Verified.SEEN
    check.seq -= 1  # as if the name had been given in a later entry
    assert verified_now(garden, stock) is Verified.UNVERIFIED
    check.seq += 1


def test_the_last_check_counts_and_a_plant_of_unknown_name_is_not_verified(garden):
    stock = garden.founder(HOT)
    sure, doubtful, wrong = garden.raised(stock, 3)
    group = (sure, doubtful, wrong)
    identity.sort_mix_up(garden.rec, MixUp(group, group, (), DAY, grounds="flower"))
    identity.sort_mix_up(garden.rec, MixUp(group, (sure,), (wrong,), DAY, grounds="fruit"))
    assert verified_now(garden, sure) is Verified.SEEN
    assert verified_now(garden, doubtful) is Verified.UNVERIFIED
    assert shown(garden, wrong) == ["name not known"]
    assert verified_now(garden, wrong) is Verified.UNVERIFIED


# --- sports, seedlings, rootstocks ---------------------------------------------------------------


def test_a_sport_starts_a_line_of_its_own_with_its_ancestry(garden):
    stock = garden.founder(HOT)
    lot = garden.batch(stock)[0]
    pot = garden.pots(lot, 1)[0]
    correct(garden, pot, "Salvia 'Cherry Lips'", starts_line=True)
    child = garden.raised(pot)[0]
    correct(garden, stock, NIGHT)
    assert shown(garden, stock, pot, child) == [NIGHT, *["Salvia ‘Cherry Lips’"] * 2]
    edges = garden.rec.session.scalars(select(Edge).where(Edge.child_id == pot)).all()
    assert [edge.parent_id for edge in edges] == [lot]


def seedlings(garden: Garden, *parents: int) -> tuple[int, int]:
    """A lot of seed of the parents, and a plant of it."""
    rec = garden.rec
    accession = making.next_accession(rec, "batch")
    rec.add(Batch(accession_id=accession.id, stuck=DAY))
    rec.flush()
    lot = making.make_lot(
        rec, accession, method=Method.SEED, opening=Count.of(5), taken=DAY, stuck=DAY
    )
    for parent in parents:
        making.link(rec, parent, lot.node_id, Role.SEED_PARENT, choice=None, clonal=False)
    plant = making.make_plant(rec, rec.session.get_one(Accession, lot.batch_id), born=DAY)
    making.link(rec, lot.node_id, plant.node_id, Role.RAISED, choice=None, clonal=True)
    return lot.node_id, plant.node_id


def test_seedlings_have_no_cultivar_unless_they_come_true(garden):
    parent = garden.founder("Salvia ‘Hot Coral’")
    lot, plant = seedlings(garden, parent)
    assert shown(garden, plant) == [f"seedling of {HOT}"]
    opinion = identity.coming_true(garden.rec, garden.lots(lot), DAY)
    identity.correct_name(garden.rec, garden.lots(lot), opinion)
    assert shown(garden, lot, plant) == [HOT, HOT]
    correct(garden, parent, NIGHT)
    assert shown(garden, plant) == [HOT], "a seedling is no clone: it does not follow"


def test_what_was_not_sown_cannot_come_true(garden):
    with pytest.raises(NoNameToTake):
        identity.coming_true(garden.rec, garden.target(garden.founder(HOT)), DAY)


def test_seed_of_two_parents_is_of_no_one_cultivar(garden):
    lot, _ = seedlings(garden, garden.founder(HOT), garden.founder(NIGHT))
    with pytest.raises(NoNameToTake) as refused:
        identity.coming_true(garden.rec, garden.lots(lot), DAY)
    assert refused.value.names == (HOT, NIGHT)


def test_a_sucker_takes_the_name_of_the_rootstock(garden):
    top, stock = garden.founder("Malus ‘Bramley’s Seedling’"), garden.founder("Malus ‘M27’")
    making.link(garden.rec, stock, top, Role.ROOTSTOCK, choice=None, clonal=False)
    opinion = identity.from_rootstock(garden.rec, garden.target(top), DAY)
    identity.correct_name(garden.rec, garden.target(top), opinion)
    assert shown(garden, top) == ["Malus ‘M27’"]
    with pytest.raises(NoNameToTake):
        identity.from_rootstock(garden.rec, garden.target(stock), DAY)


# --- chimeras ------------------------------------------------------------------------------------

CHIMERA = "Sansevieria trifasciata ‘Laurentii’"
"""Its leaf cuttings lose the yellow margin (common practice, no source)."""


@pytest.mark.parametrize(
    ("part", "expected"),
    [("leaf", f"{CHIMERA} (not proven)"), ("root", f"{CHIMERA} (not proven)"), ("tip", CHIMERA)],
)
@pytest.mark.parametrize("marked_first", [True, False])
def test_leaf_and_root_cuttings_of_a_chimera_are_doubtful(garden, part, expected, marked_first):
    stock = garden.founder(CHIMERA)
    if marked_first:
        identity.mark(garden.rec, garden.target(stock), "chimera", DAY)
    lot = garden.batch(stock, part=part)[0]
    if marked_first:
        identity.doubt_cuttings_of_chimera(garden.rec, garden.rec.session.get_one(Lot, lot), DAY)
    pot = garden.pots(lot, 1)[0]
    if not marked_first:
        doubted = identity.mark(garden.rec, garden.target(stock), "chimera", DAY)
        assert bool(doubted) == (expected != CHIMERA)
    assert shown(garden, stock, pot) == [CHIMERA, expected]
    runs = name_of(garden.rec.session, pot).runs
    assert "".join(run.text for run in runs) == expected


def test_a_plant_raised_from_a_chimera_by_its_tips_is_one_too(garden):
    stock = garden.founder(CHIMERA)
    identity.mark(garden.rec, garden.target(stock), "chimera", DAY)
    pot = garden.raised(stock)[0]
    lot = garden.batch(pot, part="leaf")[0]
    assert identity.doubt_cuttings_of_chimera(garden.rec, garden.rec.session.get_one(Lot, lot), DAY)
    identity.unmark(garden.rec, garden.target(stock), "chimera")
    other = garden.batch(pot, part="leaf")[0]
    assert not identity.doubt_cuttings_of_chimera(
        garden.rec, garden.rec.session.get_one(Lot, other), DAY
    )


# --- mix-ups -------------------------------------------------------------------------------------


def test_a_mix_up_is_sorted_into_three(garden):
    stock = garden.founder(HOT)
    good, wrong, open_ = garden.raised(stock, 3)
    done = identity.sort_mix_up(
        garden.rec,
        MixUp((good, wrong, open_), (good,), (wrong,), DAY, "flower", name="Salvia 'Royal Bumble'"),
    )
    assert shown(garden, good, wrong, open_) == [
        HOT,
        "Salvia ‘Royal Bumble’",
        f"{HOT} (not proven)",
    ]
    assert done.unproven == (garden.code(open_),)
    correct(garden, stock, NIGHT)
    assert shown(garden, good) == [NIGHT], "a confirmed plant goes on following its stock plant"


def test_a_contradicted_plant_of_which_nobody_knows_more_has_no_name(garden):
    pot = garden.raised(garden.founder(HOT))[0]
    identity.sort_mix_up(garden.rec, MixUp((pot,), (), (pot,), DAY))
    assert shown(garden, pot) == ["name not known"]
    edges = garden.rec.session.scalars(select(Edge).where(Edge.child_id == pot)).all()
    assert all(edge.void_seq is None for edge in edges), "what it came with goes on binding it"


def test_an_unproven_plant_that_is_confirmed_later_follows_again(garden):
    pot = garden.raised(garden.founder(HOT))[0]
    identity.sort_mix_up(garden.rec, MixUp((pot,), (), (), DAY))
    assert shown(garden, pot) == [f"{HOT} (not proven)"]
    identity.sort_mix_up(garden.rec, MixUp((pot,), (pot,), (), DAY, "flower"))
    assert shown(garden, pot) == [HOT]


def test_unproven_plants_may_come_from_others_too(garden):
    """One of these three: parentage is one of several, and so is the name."""
    stock, second, third = garden.founder(HOT), garden.founder(NIGHT), garden.founder("fig")
    pot = garden.raised(stock)[0]
    grown = garden.raised(pot)[0]
    identity.sort_mix_up(garden.rec, MixUp((pot,), (), (), DAY, candidates=(second, third)))
    name = name_of(garden.rec.session, grown)
    assert name.candidates == (HOT, NIGHT, "fig")
    assert not name.certain
    edges = garden.rec.session.scalars(
        select(Edge).where(Edge.child_id == pot, Edge.void_seq.is_(None))
    ).all()
    assert len(edges) == 3
    assert len({edge.choice for edge in edges}) == 1
    assert edges[0].choice is not None


def test_a_mix_up_takes_only_plants_of_its_group_and_each_once(garden):
    pot, other = garden.raised(garden.founder(HOT), 2)
    with pytest.raises(NotInTheMixUp):
        identity.sort_mix_up(garden.rec, MixUp((pot,), (other,), (), DAY))
    with pytest.raises(SaidTwice):
        identity.sort_mix_up(garden.rec, MixUp((pot,), (pot,), (pot,), DAY))


def test_two_records_are_noted_as_the_same_once(garden):
    fig, quince = (garden.target(garden.founder(name)) for name in ("fig", "quince"))
    identity.note_same(garden.rec, quince, fig, DAY)
    for one, other in ((fig, quince), (quince, fig), (fig, fig)):
        with pytest.raises(SamePlantTwice):
            identity.note_same(garden.rec, one, other, DAY)


# --- orphans -------------------------------------------------------------------------------------


def test_an_orphan_pot_gets_its_name_from_what_it_came_from(garden):
    lot = garden.batch(garden.founder(HOT))[0]
    pot = matching.add_pot(garden.rec, "blue glazed pot", on=DAY, place="Mist bench")
    node = garden.rec.session.scalar(select(Node.id).where(Node.code == pot.code))
    assert shown(garden, node) == ["name not known"]
    assert [o.code for o in matching.orphans(garden.rec.session)] == [pot.code]
    matching.parents_of_orphan(garden.rec, garden.target(node), [garden.lots(lot)])
    assert shown(garden, node) == [HOT]
    assert matching.orphans(garden.rec.session) == ()


def test_an_orphan_pot_may_be_of_one_of_three(garden):
    founders = [garden.founder(name) for name in (HOT, NIGHT, "fig")]
    pot = matching.add_pot(garden.rec, "small pot", on=DAY, place=None)
    node = garden.rec.session.scalar(select(Node.id).where(Node.code == pot.code))
    matching.parents_of_orphan(
        garden.rec, garden.target(node), [garden.target(one) for one in founders]
    )
    assert name_of(garden.rec.session, node).candidates == (HOT, NIGHT, "fig")


def test_candidates_are_found_by_name_place_and_a_missing_tag(record):
    with record("first") as rec:
        begin(rec)
        garden = Garden(rec)
        from registry.services.people import place_named

        bench = place_named(rec, "Mist bench")
        here = garden.founder(HOT, place_id=bench)
        elsewhere = garden.founder("Salvia 'Hot Cross'")
        garden.founder("fig")
        gone = garden.founder(HOT)
        from registry.services import records

        records.end_plants(rec, garden.target(gone), "died", on=DAY)
        identity.mark(rec, garden.target(here), "no tag", DAY)
        late = garden.raised(here, taken=day(2026, 6, 1))[0]
        assert late
    with record("second") as rec:
        garden = Garden(rec)
        found = matching.add_tag(rec, "hot coral", on=DAY, place="Mist bench")
        tag = matching.stray_tag(rec.session, found.code)
        assert tag is not None
        candidates = matching.candidates_for_tag(rec.session, tag)
        assert [one.node_id for one in candidates] == [here, elsewhere]
        assert candidates[0].why == ("hot", "coral", "stands there", "its tag is missing")
        matching.bind_stray(rec, tag, garden.target(here))
        assert not identity.has_trait(rec.session, here, "no tag")
        assert rec.session.get_one(StrayTag, tag.id).node_id == here
        with pytest.raises(TagUnknown):
            matching.stray_tag(rec.session, found.code)


def test_what_may_be_the_same_can_be_taken_back(record):
    with record("first") as rec:
        begin(rec)
        garden = Garden(rec)
        fig, quince = garden.founder("fig"), garden.founder("quince")
    with record("plant same") as rec:
        garden = Garden(rec)
        identity.note_same(rec, garden.target(fig), garden.target(quince), DAY)
    with record("correct") as rec:
        putright.take_back(rec, putright.entry_of(rec.session, "last", None), "they are not")
        identity.note_same(rec, Garden(rec).target(fig), Garden(rec).target(quince), DAY)

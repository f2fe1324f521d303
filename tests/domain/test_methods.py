"""What travels along an edge, wood words, holding and cautions."""

import pytest

from registry.domain.methods import (
    HOLDING,
    INHERITED,
    Caution,
    Method,
    Name,
    Part,
    Role,
    Terms,
    WoodStage,
    cautions,
    held_long,
    is_clonal,
    part_of_plant,
    wood_stage,
)
from registry.wording import basics


def test_every_role_says_what_is_inherited():
    assert set(INHERITED) == set(Role)


@pytest.mark.parametrize(
    ("roles", "name", "terms", "origin", "health"),
    [
        ((Role.SOURCE, Role.SCION), Name.WHOLE, Terms.ALL, True, True),
        ((Role.ROOTSTOCK, Role.INTERSTOCK), Name.NONE, Terms.STOCK, True, True),
        ((Role.SEED_PARENT, Role.POLLEN_PARENT), Name.SPECIES, Terms.SEED, True, True),
        (
            (Role.RAISED, Role.SPLIT, Role.MERGED, Role.AGAIN, Role.BACK),
            Name.WHOLE,
            Terms.ALL,
            True,
            True,
        ),
        ((Role.PART_OF,), Name.NONE, Terms.NONE, False, True),
    ],
)
def test_inheritance(roles, name, terms, origin, health):
    for role in roles:
        has = INHERITED[role]
        assert (has.name, has.terms, has.origin, has.health) == (name, terms, origin, health), role


CLONAL_METHODS = [method for method in Method if method is not Method.SEED]


@pytest.mark.parametrize("method", CLONAL_METHODS)
def test_clonal_edges(method):
    clonal = {role for role in Role if is_clonal(role, method)}
    assert clonal == {
        Role.SOURCE, Role.SCION, Role.RAISED, Role.SPLIT, Role.MERGED, Role.AGAIN, Role.BACK,
    }  # fmt: skip


def test_nothing_raised_from_seed_is_a_clone():
    assert not any(is_clonal(role, Method.SEED) for role in Role)


@pytest.mark.parametrize(
    ("word", "stage"),
    [
        # NC State HIL-8702: softwood, semi-hardwood, hardwood, herbaceous; the rest as growers say
        ("softwood", WoodStage.SOFTWOOD),
        ("soft", WoodStage.SOFTWOOD),
        ("Soft wood", WoodStage.SOFTWOOD),
        ("greenwood", WoodStage.GREENWOOD),
        ("firm", WoodStage.SEMI_HARDWOOD),
        ("semi-ripe", WoodStage.SEMI_HARDWOOD),
        ("Semi Hardwood", WoodStage.SEMI_HARDWOOD),
        ("hardwood", WoodStage.HARDWOOD),
        ("dormant", WoodStage.HARDWOOD),
        ("herbaceous", WoodStage.HERBACEOUS),
        ("whippy", None),
        ("", None),
    ],
)
def test_wood_words(word, stage):
    assert wood_stage(word) is stage


def test_every_stage_is_its_own_word_and_has_a_holding_time():
    for stage in WoodStage:
        assert wood_stage(stage) is stage
        assert HOLDING[stage].warm <= HOLDING[stage].cooled <= HOLDING[stage].reported


@pytest.mark.parametrize(
    ("word", "days", "warned"),
    [
        ("soft", 0, False),
        ("soft", 1, False),
        ("soft", 2, True),
        ("semi-ripe", 3, False),
        ("semi-ripe", 8, True),
        ("dormant", 42, False),
        ("dormant", 43, True),
        ("whippy", 300, False),
    ],
)
def test_held_long(word, days, warned):
    assert (held_long(word, days) is not None) is warned


def test_holding_is_warned_about_in_words():
    """36 days: ordinary for dormant figs, long for softwood."""
    warning = held_long("softwood", 36)
    assert warning
    assert basics.held_long(warning) == (
        "Held 36 days between taking and sticking: long for softwood "
        "(ordinary, kept cool: up to 1 day)."
    )
    warning = held_long("hard", 60)
    assert warning
    assert "growers report up to 210 days" in basics.held_long(warning)


@pytest.mark.parametrize(
    ("word", "part"),
    [("tip", Part.TIP), ("Terminal", Part.TIP), ("heel", Part.HEEL), ("mallet", Part.MALLET),
     ("leaf bud", Part.LEAF_BUD), ("single-node", Part.LEAF_BUD), ("root", Part.ROOT),
     ("basal", Part.BASAL), ("nodal", Part.NODAL), ("petal", None)],
)  # fmt: skip
def test_parts(word, part):
    assert part_of_plant(word) is part


def test_cautions_stand_beside_their_task():
    assert cautions(hormone=False, covered=False, genus=None) == (Caution.BLADES,)
    assert cautions(hormone=True, covered=True, genus="euphorbia") == (
        Caution.BLADES, Caution.SAP, Caution.HORMONE, Caution.HEAT,
    )  # fmt: skip
    assert Caution.SAP not in cautions(hormone=True, covered=True, genus="Salvia")


def test_every_caution_has_its_line():
    assert set(basics.CAUTIONS) == set(Caution)

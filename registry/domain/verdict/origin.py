"""C6 to C9: where the material first came from. It reaches down every edge, seed as well.

C6: bought, given, swapped, or standing in a garden, and nothing says wild: cultivated as far as
recorded, and no finding.
"""

from __future__ import annotations

from collections.abc import Iterator

from registry.domain.verdict.facts import RELEASES, Act, How, Origin, Plant, Provenance
from registry.domain.verdict.findings import Ask, Finding, Level, Settle, Unknown, Value
from registry.domain.verdict.walk import Case, Reached, Subject

CITATION = "permits and leave for wild plants; Wildlife and Countryside Act 1981 s. 13; 16 USC 3372"


def findings(case: Case, subject: Subject) -> Iterator[Finding]:
    """What the recorded origins of the line come to."""
    act = case.dossier.question.act
    if act not in RELEASES | {Act.PROPAGATE}:
        return
    for reached in subject.told:
        plant = case.plant(reached.node)
        origin = _origin(plant) if plant else None
        if plant is None or origin is None:
            continue
        if origin.provenance is Provenance.WILD:
            yield _wild(act, subject, plant, origin, reached)
        elif origin.provenance is Provenance.NOT_KNOWN:
            yield _not_known(subject, plant, reached)


def _origin(plant: Plant) -> Origin | None:
    """The origin on record; a plant recorded as collected in the wild has a wild one."""
    if plant.origin is None and plant.how is How.WILD:
        return Origin(Provenance.WILD)
    return plant.origin


def _wild(act: Act, subject: Subject, plant: Plant, origin: Origin, reached: Reached) -> Finding:
    """C7 with a permit or leave for the act, else C8; a listed taxon bars taking and trade."""
    if act in origin.allowed:
        return _finding("C7", Level.CLEAR, plant, reached, fields=(("permit", origin.permit),))
    taking = act is Act.PROPAGATE and reached.itself
    barter = act is Act.SWAP  # "sale" includes barter and exchange, s. 27
    if origin.protected and (taking or barter or (act in RELEASES and not subject.private)):
        return _finding(
            "C8",
            Level.BARRED,
            plant,
            reached,
            citation=origin.protected,
            settle=Settle.RECORD_PERMIT,
            ask=Ask.AUTHORITY,
        )
    return _finding(
        "C8",
        Level.UNKNOWN,
        plant,
        reached,
        unknown=Unknown.GAP,
        settle=Settle.RECORD_PERMIT,
        ask=Ask.AUTHORITY,
    )


def _not_known(subject: Subject, plant: Plant, reached: Reached) -> Finding:
    """C9: origin recorded as not known."""
    if subject.private:
        return _finding("C9", Level.CONDITIONAL, plant, reached, settle=Settle.STAY_PRIVATE)
    return _finding(
        "C9",
        Level.UNKNOWN,
        plant,
        reached,
        unknown=Unknown.GAP,
        settle=Settle.RECORD_ORIGIN,
        ask=Ask.SUPPLIER,
    )


def _finding(
    row: str,
    level: Level,
    plant: Plant,
    reached: Reached,
    *,
    unknown: Unknown | None = None,
    citation: str = CITATION,
    settle: Settle | None = None,
    ask: Ask | None = None,
    fields: tuple[tuple[str, Value], ...] = (),
) -> Finding:
    return Finding(
        row=row,
        level=level,
        plant=plant.id,
        unknown=unknown,
        citation=citation,
        settle=settle,
        ask=ask,
        certain=reached.certain,
        fields=fields,
    )

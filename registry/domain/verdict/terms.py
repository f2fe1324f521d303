"""C1 to C5: terms against propagation that came with a plant."""

from __future__ import annotations

from collections.abc import Iterator

from registry.domain.verdict.facts import RELEASES, Act, How, Plant, Terms
from registry.domain.verdict.findings import (
    Ask,
    Finding,
    Level,
    Record,
    RecordKind,
    Settle,
    Unknown,
)
from registry.domain.verdict.walk import ACQUIRED, Case, Manner, Reached, Subject

CITATION = "the law of contract"


def findings(case: Case, subject: Subject) -> Iterator[Finding]:
    """What terms on the asked plant, and on what it is a copy of, come to."""
    act = case.dossier.question.act
    if act not in RELEASES | {Act.PROPAGATE}:
        return
    for reached in subject.told:
        plant = case.plant(reached.node)
        if plant is None or reached.manner > Manner.BEARER:
            continue
        for terms in plant.terms:
            found = _of_terms(act, plant, terms, reached)
            if found is not None:
                yield found
        if act is Act.PROPAGATE and not plant.terms and plant.how in ACQUIRED:
            yield _nothing_said(plant, reached)


def _of_terms(act: Act, plant: Plant, terms: Terms, reached: Reached) -> Finding | None:
    """C1 agreed by the grower, C2 by an earlier holder; they bind copies, not the plant itself."""
    if act is not Act.PROPAGATE and (reached.itself or terms.release is False):
        return None
    row = "C1" if terms.agreed else "C2"
    barred = terms.agreed and (act is Act.PROPAGATE or terms.release is True)
    return Finding(
        row=row,
        level=Level.BARRED if barred else Level.UNKNOWN,
        plant=plant.id,
        unknown=None if barred else Unknown.SIGN,
        record=Record(RecordKind.TERMS, terms.id) if terms.id is not None else None,
        citation=CITATION,
        settle=None if barred else Settle.READ_TERMS,
        ask=Ask.SUPPLIER,
        certain=reached.certain,
        fields=(("agreement", terms.agreement),),
    )


def _nothing_said(plant: Plant, reached: Reached) -> Finding:
    """C3: nothing was said about propagating. C5: a garden or society sale is a purchase."""
    return Finding(
        row="C5" if plant.how is How.SOCIETY_SALE else "C3",
        level=Level.CLEAR,
        plant=plant.id,
        citation=CITATION,
        certain=reached.certain,
    )

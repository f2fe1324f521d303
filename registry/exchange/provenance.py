"""A family as PROV-JSON (W3C Member Submission, 24 April 2013) for PROV-DM (Recommendation, 2013).

A plant or lot is an entity; drawing material, raising plants and leaving are activities. A parent
that is certain is one the child `wasDerivedFrom`; where it is one of several, PROV has no word for
it, so the weaker `wasInfluencedBy` stands and says so. A plant that left and came back is one plant
under two codes: an `alternateOf`. Whoever did an act is associated with it, and a founder is
attributed to who gave or owned it; those who did not agree to be named stand as a number.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from typing import Any
from uuid import UUID

from registry.domain.family import Family, Involved, Member, Part, Tie
from registry.domain.methods import Role

TERMS = "urn:ortet:terms:"
"""The namespace of what PROV has no word for: kind, method, role, EDTF dates."""

_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


def as_prov(family: Family, registry: UUID, people: Iterable[Involved] = ()) -> str:
    """The family as PROV-JSON text.

    Args:
        family: What to write; details make it richer and are not needed.
        registry: The registry's identifier: the namespace of its codes.
        people: Who did, gave, owned and got what; named only where they agreed.
    """
    return json.dumps(document(family, registry, people), ensure_ascii=False, indent=2) + "\n"


def document(family: Family, registry: UUID, people: Iterable[Involved] = ()) -> dict[str, Any]:
    """The family as the content of a PROV-JSON file."""
    writer = _Writer(family, registry, people)
    for member in family.members.values():
        writer.entity(member)
    by_child: dict[int, list[Tie]] = {}
    for tie in family.ties:
        by_child.setdefault(tie.child, []).append(tie)
    for child, ties in by_child.items():
        writer.made(family.members[child], ties)
    for member in family.members.values():
        if member.id not in writer.generated:
            writer.received(member)
        if member.went is not None:
            writer.went(member)
    return {key: value for key, value in writer.content.items() if value}


class _Writer:
    def __init__(self, family: Family, registry: UUID, people: Iterable[Involved]) -> None:
        self.family = family
        self.relations = 0
        self.generated: set[int] = set()
        self.joined: set[tuple[str, str, Part]] = set()
        self.people: dict[tuple[int, Part], Involved] = {
            (one.node, one.part): one for one in people
        }
        self.content: dict[str, dict[str, Any]] = {
            "prefix": {"here": f"urn:uuid:{registry}:", "ortet": TERMS},
            "entity": {},
            "activity": {},
            "agent": {},
            "used": {},
            "wasGeneratedBy": {},
            "wasDerivedFrom": {},
            "wasInfluencedBy": {},
            "wasInvalidatedBy": {},
            "alternateOf": {},
            "wasAssociatedWith": {},
            "wasAttributedTo": {},
        }

    def entity(self, member: Member) -> None:
        """A plant or a lot; `prov:type` says which."""
        facts: dict[str, Any] = {
            "prov:type": {"$": f"ortet:{member.kind}", "type": "xsd:QName"},
            "prov:label": f"{member.code} {member.name}",
            "ortet:name": member.name,
            "ortet:status": member.status,
        }
        if member.date is not None:
            facts["ortet:date"] = member.date
        self.content["entity"][_id(member)] = facts

    def made(self, child: Member, ties: list[Tie]) -> None:
        """How a member came to be: one activity for a lot, one for all plants raised of a lot."""
        certain = [tie for tie in ties if tie.certain and not self._same(tie)]
        for tie in ties:
            parent = self.family.members[tie.parent]
            if tie.certain and self._same(tie):
                self._relate(
                    "alternateOf", {"prov:alternate1": _id(child), "prov:alternate2": _id(parent)}
                )
            if not tie.certain:
                self._relate(
                    "wasInfluencedBy",
                    {"prov:influencee": _id(child), "prov:influencer": _id(parent)},
                    {"ortet:role": tie.role, "ortet:certain": False},
                )
        if not certain:
            return
        act, what = self._act(child, certain)
        new = act not in self.content["activity"]
        facts = self.content["activity"].setdefault(
            act, {"prov:type": {"$": f"ortet:{what}", "type": "xsd:QName"}}
        )
        if child.how is not None:
            facts["ortet:method"] = child.how
        self._generate(child, act, child.date)
        self._associate(act, child, Part.DID)
        for tie in certain:
            parent = self.family.members[tie.parent]
            if new:
                self._relate(
                    "used",
                    {"prov:activity": act, "prov:entity": _id(parent)},
                    {"ortet:role": tie.role},
                )
            self._relate(
                "wasDerivedFrom",
                {
                    "prov:generatedEntity": _id(child),
                    "prov:usedEntity": _id(parent),
                    "prov:activity": act,
                },
                {"ortet:role": tie.role},
            )

    def _act(self, child: Member, certain: list[Tie]) -> tuple[str, str]:
        if child.kind == "lot":
            return f"here:drawing/{child.code}", "drawing"
        parents = "/".join(sorted(self.family.members[tie.parent].code for tie in certain))
        return f"here:raising/{parents}/{child.date or 'day-not-known'}", "raising"

    def _same(self, tie: Tie) -> bool:
        """Whether a tie joins one plant with itself: it left under the one code and came back."""
        return tie.role == Role.BACK and self.family.members[tie.parent].kind == "plant"

    def received(self, member: Member) -> None:
        """A member without a certain parent here: whom it came from, whose it was, who took it in.

        Attribution implies that the agent had a part in how the entity came to be
        (PROV-CONSTRAINTS, inference 13); for this record that is receiving it.
        """
        given = [
            one
            for part in (Part.GAVE, Part.OWNED)
            if (one := self.people.get((member.id, part))) is not None
        ]
        if not given:
            return
        act = f"here:receiving/{member.code}"
        self.content["activity"][act] = {"prov:type": {"$": "ortet:receiving", "type": "xsd:QName"}}
        self._generate(member, act, next((one.on for one in given if one.on), None))
        self._associate(act, member, Part.DID)
        for one in given:
            self._associate(act, member, one.part)
            self._relate(
                "wasAttributedTo",
                {"prov:entity": _id(member), "prov:agent": self._agent(one)},
                {"ortet:role": one.part.value},
            )

    def _generate(self, member: Member, act: str, day: str | None) -> None:
        self.generated.add(member.id)
        self._relate(
            "wasGeneratedBy", {"prov:entity": _id(member), "prov:activity": act} | _time(day)
        )

    def _associate(self, act: str, member: Member, part: Part) -> None:
        """Say who had which part in an act; once, however many plants came of it."""
        one = self.people.get((member.id, part))
        if one is None or (act, str(one.person), part) in self.joined:
            return
        self.joined.add((act, str(one.person), part))
        self._relate(
            "wasAssociatedWith",
            {"prov:activity": act, "prov:agent": self._agent(one)},
            {"ortet:role": part.value},
        )

    def _agent(self, one: Involved) -> str:
        agent = f"here:person/{one.person}"
        self.content["agent"][agent] = {"prov:type": {"$": "prov:Person", "type": "xsd:QName"}} | (
            {"prov:label": one.name} if one.name is not None else {}
        )
        return agent

    def went(self, member: Member) -> None:
        """A plant that died or left ends for this record."""
        act = f"here:{member.went}/{member.code}"
        self.content["activity"][act] = {
            "prov:type": {"$": f"ortet:{member.went}", "type": "xsd:QName"}
        }
        self._relate(
            "wasInvalidatedBy",
            {"prov:entity": _id(member), "prov:activity": act} | _time(member.went_on),
        )
        for part in (Part.SENT, Part.GOT):
            self._associate(act, member, part)

    def _relate(self, kind: str, ends: dict[str, Any], more: dict[str, Any] | None = None) -> None:
        self.relations += 1
        self.content[kind][f"_:r{self.relations}"] = ends | (more or {})


def _id(member: Member) -> str:
    return f"here:{member.code}"


def _time(edtf: str | None) -> dict[str, str]:
    """A moment of PROV, where the day is known; what is less exact stands with the entity."""
    if edtf is None or not _DAY.fullmatch(edtf):
        return {}
    return {"prov:time": f"{edtf}T00:00:00"}

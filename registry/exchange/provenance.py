"""A family as PROV-JSON (W3C Member Submission, 24 April 2013) for PROV-DM (Recommendation, 2013).

A plant or lot is an entity; drawing material, raising plants and leaving are activities. A parent
that is certain is one the child `wasDerivedFrom`; where it is one of several, PROV has no word for
it, so the weaker `wasInfluencedBy` stands and says so. People are left out: they stay home.
"""

from __future__ import annotations

import json
import re
from typing import Any
from uuid import UUID

from registry.domain.family import Family, Member, Tie

TERMS = "urn:ortet:terms:"
"""The namespace of what PROV has no word for: kind, method, role, EDTF dates."""

_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


def as_prov(family: Family, registry: UUID) -> str:
    """The family as PROV-JSON text.

    Args:
        family: What to write; details make it richer and are not needed.
        registry: The registry's identifier: the namespace of its codes.
    """
    return json.dumps(document(family, registry), ensure_ascii=False, indent=2) + "\n"


def document(family: Family, registry: UUID) -> dict[str, Any]:
    """The family as the content of a PROV-JSON file."""
    writer = _Writer(family, registry)
    for member in family.members.values():
        writer.entity(member)
    by_child: dict[int, list[Tie]] = {}
    for tie in family.ties:
        by_child.setdefault(tie.child, []).append(tie)
    for child, ties in by_child.items():
        writer.made(family.members[child], ties)
    for member in family.members.values():
        if member.went is not None:
            writer.went(member)
    return {key: value for key, value in writer.content.items() if value}


class _Writer:
    def __init__(self, family: Family, registry: UUID) -> None:
        self.family = family
        self.relations = 0
        self.content: dict[str, dict[str, Any]] = {
            "prefix": {"here": f"urn:uuid:{registry}:", "ortet": TERMS},
            "entity": {},
            "activity": {},
            "used": {},
            "wasGeneratedBy": {},
            "wasDerivedFrom": {},
            "wasInfluencedBy": {},
            "wasInvalidatedBy": {},
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
        certain = [tie for tie in ties if tie.certain]
        for tie in ties:
            parent = self.family.members[tie.parent]
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
        self._relate(
            "wasGeneratedBy", {"prov:entity": _id(child), "prov:activity": act} | _time(child.date)
        )
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

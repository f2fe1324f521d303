"""The permission engine: what may be done with a plant, and why.

`judge(dossier)` reads facts and answers with findings; each names its row, the record that
decided, where that record sits and what would settle it. Layers add up and the worst wins; no
layer answers for another. The rows are listed in docs/verdict-rows.md.
"""

from registry.domain.verdict.facts import Act, Dossier, Purpose, Question
from registry.domain.verdict.findings import Finding, Level, Need, Unknown, Verdict
from registry.domain.verdict.judge import judge, needs

__all__ = [
    "Act",
    "Dossier",
    "Finding",
    "Level",
    "Need",
    "Purpose",
    "Question",
    "Unknown",
    "Verdict",
    "judge",
    "needs",
]

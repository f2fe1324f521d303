"""The past of a record in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from registry.domain.history import Change, Past
from registry.wording.basics import edtf_words
from registry.wording.heads import moment

Values = Mapping[str, str]

TABLES = {
    "node": "recorded",
    "accession": "recorded",
    "edge": "parent",
    "ledger_entry": "movement",
    "look": "look",
    "stay": "where it stood",
    "alias": "own number",
    "ownership": "owner",
    "consent": "leave",
    "consent_act": "leave",
    "consent_use": "leave used",
    "determination": "name",
    "identity_check": "checked name",
    "trait": "mark",
    "same_plant": "perhaps the same",
    "stray_tag": "tag that was found",
    "particular": "what came with it",
    "label_print": "label",
    "attachment": "file",
    "release_item": "left",
    "receipt_item": "arrived",
    "recall_item": "in a recall",
    "recall_tick": "found in a recall",
    "verdict_given": "verdict",
    "blanking": "emptied for good",
}
"""What a row of a table is called where its own name would not be understood."""

COLUMNS = {
    "n": "count",
    "in_bench": "in the bench",
    "unsaid": "gone without saying of which lot",
    "place_id": "place",
    "person_id": "person",
    "source_id": "from",
    "node_id": "plant",
    "lot_id": "lot",
    "batch_id": "batch",
    "other_lot_id": "other lot",
    "parent_id": "from",
    "child_id": "raised",
    "opening_text": "count at first",
    "received_as": "received as",
    "ended": "ended on",
    "end_kind": "how it ended",
    "end_reason": "why it ended",
    "witness_id": "witness",
    "lent_until": "goes back",
    "since_source": "on the word of",
    "by_word": "by word of",
    "from": "from day",
    "where_looked": "looked in",
    "item_id": "",
    "via_id": "through",
}
"""What a column is called where its own name would not be understood; nothing where what it holds
says it.
"""

DAYS = frozenset({
    "born", "closed", "disclaimed", "earliest", "ended", "filed", "first_sold", "from", "got",
    "granted", "lent_until", "lifted", "on", "opened", "sell_off", "since", "stated_end", "stuck",
    "taken", "until", "withdrawn",
})  # fmt: skip
"""Columns that hold a day as EDTF text."""

_QUIET = {
    "node": {"kind", "accession_id", "born"},
    "plant": {"node_id", "origin", "status"},
    "lot": {"node_id", "batch_id", "opening_low", "opening_high", "opening_kind", "attempt"},
    "batch": {"accession_id"},
    "accession": {"kind"},
    "consent_use": {"consent_id", "node_id"},
}
"""Columns that add nothing where a row is shown with its record."""


def past_lines(past: tuple[Past, ...]) -> list[str]:
    """The past of a record, oldest first."""
    lines = []
    for entry in past:
        day = f", of {edtf_words(entry.happened)}" if entry.happened else ""
        lines.append(
            f"{entry.seq:>6}  {entry.what}{day}, recorded {moment(entry.recorded)} by {entry.by}"
        )
        if entry.why:
            lines.append(f"        reason: {entry.why}")
        lines += [f"        {words}" for words in dict.fromkeys(map(change, entry.changes))]
    return lines


def change(one: Change) -> str:
    """What an entry said, as a line."""
    if one.takes_back is not None:
        return f"takes back (entry {one.takes_back}): {_row(one)}"
    if one.changed:
        name = _table(one.table)
        return f"{name}: " + "; ".join(
            _changed(column, before, after) for column, before, after in one.changed
        )
    back = f"  (taken back by entry {one.taken_back_by})" if one.taken_back_by else ""
    return _row(one) + back


def _row(one: Change) -> str:
    say = _ROWS.get(one.table)
    if say is not None:
        return say(one.values)
    quiet = _QUIET.get(one.table, set())
    pairs = [_said(column, value) for column, value in one.values.items() if column not in quiet]
    return f"{_table(one.table)}: {', '.join(pairs)}" if pairs else _table(one.table)


def _changed(column: str, before: str, after: str) -> str:
    """What became of one column: what was written in for the first time replaces nothing."""
    if not before:
        return _said(column, after)
    return f"{_said(column, before)} → {_value(column, after) if after else 'taken out'}"


def _said(column: str, value: str) -> str:
    """A column and what it holds; `recall 1` says already that it is a recall."""
    name = _column(column)
    said = _value(column, value)
    return said if not name or said.startswith(f"{name} ") else f"{name} {said}"


def _value(column: str, value: str) -> str:
    return edtf_words(value) if column in DAYS else value


def _table(name: str) -> str:
    return TABLES.get(name, name.replace("_", " "))


def _column(name: str) -> str:
    return COLUMNS[name] if name in COLUMNS else name.removesuffix("_id").replace("_", " ")


def _movement(row: Values) -> str:
    n = int(row.get("n", "0"))
    other = f" ({row['other_lot_id']})" if "other_lot_id" in row else ""
    why = f": {row['reason']}" if "reason" in row else ""
    about = row.get("lot_id") or row.get("batch_id") or ""
    return f"{about}  {n:+d} {row.get('kind', '').replace('_', ' ')}{other}{why}".strip()


def _edge(row: Values) -> str:
    role = row.get("role", "").replace("_", " ")
    maybe = ", one of several" if "choice" in row else ""
    return f"{row.get('child_id')} came from {row.get('parent_id')}: {role}{maybe}"


def _look(row: Values) -> str:
    seen = [row[column] for column in ("text", "what") if column in row]
    return f"{row.get('lot_id') or row.get('batch_id')}  {' '.join(seen)}"


def _name(row: Values) -> str:
    why = [row[column] for column in ("grounds", "sure") if column in row]
    by = f" by {row['person_id']}" if "person_id" in row else ""
    return f"named {row.get('printed')}{by}" + (f" ({', '.join(why)})" if why else "")


def _stay(row: Values) -> str:
    days = [f"{word} {_value(word, row[word])}" for word in ("from", "until") if word in row]
    return " ".join(["stands in", row.get("place_id", ""), *days])


def _owner(row: Values) -> str:
    days = [f"{word} {_value(word, row[word])}" for word in ("from", "until") if word in row]
    return " ".join(["belongs to", row.get("person_id", "the grower"), *days])


def _note(row: Values) -> str:
    return f"note: {row.get('text', '(private)')}"


def _label(row: Values) -> str:
    return f"label {row.get('status')}, stock {row.get('stock')}, {row.get('payload')}"


_ROWS: dict[str, Callable[[Values], str]] = {
    "ledger_entry": _movement,
    "edge": _edge,
    "look": _look,
    "determination": _name,
    "stay": _stay,
    "ownership": _owner,
    "note": _note,
    "label_print": _label,
}

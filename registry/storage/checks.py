"""What the records must say together, asked of the tables one question at a time.

Every check streams its rows; none holds more than a row of an answer in memory. Those that take
`since` look at what was recorded after that entry, and at what such an entry touched: the rows
that were played into `rebuilt`. Since no entry is everything.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterator

from registry.domain.codes import Code, CodeWidths, lot_index
from registry.domain.names import calling_key
from registry.domain.soundness import Fault, Problem
from registry.errors import RegistryError
from registry.storage import sealing, search
from registry.storage.records import Named

CHUNK = 1 << 20


def check_file(connection: sqlite3.Connection, named: Named) -> Iterator[Problem]:
    """What SQLite itself finds: pages, indexes, and rules of columns."""
    for (said,) in connection.execute("PRAGMA main.integrity_check"):
        if said != "ok":
            yield Problem(Fault.DAMAGED, found=said)


def check_references(connection: sqlite3.Connection, named: Named) -> Iterator[Problem]:
    """Every row that a row names is there."""
    for table, rowid, parent, _ in connection.execute("PRAGMA main.foreign_key_check").fetchall():
        yield Problem(Fault.REFERENCE, named.by_rowid(table, rowid), expected=parent)


_COUNTS = """
SELECT lot.node_id, lot.in_bench,
    CASE WHEN coalesce(max(entry.kind IN ('stuck', 'moved_in')), 0) THEN 0
         ELSE coalesce(lot.opening_low, 0) END + coalesce(sum(entry.n), 0) AS expected,
    max(lot.seq, coalesce(max(entry.seq), 0))
FROM lot LEFT JOIN ledger_entry AS entry ON entry.lot_id = lot.node_id AND entry.void_seq IS NULL
WHERE lot.void_seq IS NULL AND lot.opening_kind = 'exact' AND lot.in_bench IS NOT NULL
    AND (lot.seq > ?1 OR lot.node_id IN (SELECT lot_id FROM rebuilt.ledger_entry))
GROUP BY lot.node_id HAVING lot.in_bench <> expected
"""

_UNSAID = """
SELECT batch.accession_id, batch.unsaid, -coalesce(sum(entry.n), 0) AS expected,
    max(batch.seq, coalesce(max(entry.seq), 0))
FROM batch LEFT JOIN ledger_entry AS entry
    ON entry.batch_id = batch.accession_id AND entry.void_seq IS NULL
WHERE batch.void_seq IS NULL
    AND (batch.seq > ?1 OR batch.accession_id IN (SELECT batch_id FROM rebuilt.ledger_entry))
GROUP BY batch.accession_id HAVING batch.unsaid <> expected
"""


def check_ledger(connection: sqlite3.Connection, named: Named, since: int = 0) -> Iterator[Problem]:
    """A lot that was counted holds what was stuck and moved in, less what left it."""
    for lot, found, expected, seq in connection.execute(_COUNTS, (since,)):
        yield Problem(
            Fault.COUNT_WRONG, named.node(lot), seq, "in_bench", str(found), str(expected)
        )
    for batch, found, expected, seq in connection.execute(_UNSAID, (since,)):
        yield Problem(
            Fault.UNSAID_WRONG, named.accession(batch), seq, "unsaid", str(found), str(expected)
        )


_KINDS = """
SELECT node.id, node.kind, node.seq FROM node
LEFT JOIN plant ON plant.node_id = node.id LEFT JOIN lot ON lot.node_id = node.id
WHERE node.seq > ?1 AND ((node.kind = 'plant') <> (plant.node_id IS NOT NULL)
    OR (node.kind = 'lot') <> (lot.node_id IS NOT NULL))
"""

_ORPHANS = """
SELECT lot.node_id, lot.seq FROM lot
WHERE lot.void_seq IS NULL AND NOT EXISTS (
    SELECT 1 FROM edge WHERE edge.child_id = lot.node_id AND edge.void_seq IS NULL)
    AND (lot.seq > ?1 OR lot.node_id IN (SELECT child_id FROM rebuilt.edge))
"""

# A circle cannot lead down to newer nodes only, so it has an edge from a newer to an older one.
_BACKWARD = (
    "SELECT parent_id, child_id, seq FROM edge"
    " WHERE void_seq IS NULL AND parent_id >= child_id AND seq > ?1"
)

_REACHES = """
WITH RECURSIVE below(id) AS (
    SELECT ?1 UNION
    SELECT edge.child_id FROM below JOIN edge ON edge.parent_id = below.id AND edge.void_seq IS NULL
) SELECT EXISTS (SELECT 1 FROM below WHERE id = ?2)
"""


def check_lineage(
    connection: sqlite3.Connection, named: Named, since: int = 0
) -> Iterator[Problem]:
    """No node descends from itself, every lot from something, and each is what it is said to be."""
    for node, kind, seq in connection.execute(_KINDS, (since,)):
        yield Problem(Fault.WRONG_KIND, named.node(node), seq, found=kind)
    for lot, seq in connection.execute(_ORPHANS, (since,)):
        yield Problem(Fault.NO_PARENT, named.node(lot), seq)
    for parent, child, seq in connection.execute(_BACKWARD, (since,)):
        if connection.execute(_REACHES, (child, parent)).fetchone()[0]:
            yield Problem(Fault.CIRCLE, named.node(child), seq, found=named.node(parent))


_HAS_NAME = """(
    EXISTS (SELECT 1 FROM plant WHERE plant.node_id = {node}
            AND plant.received_as IS NOT NULL AND plant.void_seq IS NULL)
    OR EXISTS (SELECT 1 FROM determination WHERE determination.node_id = {node}
               AND determination.void_seq IS NULL))"""

_LINES_MISSING = f"""
SELECT node.id, node.id FROM node WHERE {_HAS_NAME.format(node="node.id")}
    AND NOT EXISTS (SELECT 1 FROM line WHERE line.node_id = node.id AND line.root_id = node.id)
UNION ALL
SELECT edge.child_id, above.root_id FROM edge JOIN line AS above ON above.node_id = edge.parent_id
WHERE edge.void_seq IS NULL AND edge.clonal AND NOT {_HAS_NAME.format(node="edge.child_id")}
    AND NOT EXISTS (SELECT 1 FROM line
                    WHERE line.node_id = edge.child_id AND line.root_id = above.root_id)
"""  # noqa: S608 - constants of this module

_LINES_TOO_MANY = f"""
SELECT line.node_id, line.root_id FROM line WHERE CASE
    WHEN {_HAS_NAME.format(node="line.node_id")} THEN line.root_id <> line.node_id
    ELSE NOT EXISTS (
        SELECT 1 FROM edge JOIN line AS above
            ON above.node_id = edge.parent_id AND above.root_id = line.root_id
        WHERE edge.child_id = line.node_id AND edge.void_seq IS NULL AND edge.clonal)
    END
"""  # noqa: S608 - constants of this module


def check_lines(connection: sqlite3.Connection, named: Named) -> Iterator[Problem]:
    """The derived table of name lines says what the edges and the names say.

    A node with a name of its own is its own line; any other has the lines of its clonal parents.
    Where that holds at every node it holds for the whole lineage.
    """
    for node, root in connection.execute(_LINES_MISSING):
        yield Problem(Fault.LINE_WRONG, named.node(node), expected=named.node(root))
    for node, root in connection.execute(_LINES_TOO_MANY):
        yield Problem(Fault.LINE_WRONG, named.node(node), found=named.node(root))


def check_search(connection: sqlite3.Connection, named: Named) -> Iterator[Problem]:
    """The words that records are found by are those of their names and numbers."""
    if not search.finds_what_it_holds(connection):
        yield Problem(Fault.INDEX_WRONG)
        return
    for key, found, expected in search.differences(connection):
        record = named.accession(key // 2) if key % 2 else named.node(key // 2)
        yield Problem(Fault.SEARCH_WRONG, record, found=found, expected=expected)


_CODES = """
SELECT node.code, node.kind, node.seq, accession.id, accession.year, accession.number,
    accession.next_plant, accession.next_lot, lot.letter, lot.batch_id
FROM node JOIN accession ON accession.id = node.accession_id
LEFT JOIN lot ON lot.node_id = node.id
WHERE node.seq > ?1
"""

_SERIES = """
SELECT accession.year, max(accession.number), series.next
FROM accession LEFT JOIN series ON series.year = accession.year
GROUP BY accession.year HAVING series.next IS NULL OR series.next <= max(accession.number)
"""


def check_codes(connection: sqlite3.Connection, named: Named, since: int = 0) -> Iterator[Problem]:
    """Every code agrees with its check character and its accession, and none can be given twice."""
    given = connection.execute("SELECT number_width, plant_width FROM registry").fetchone()
    widths = CodeWidths(*given) if given else CodeWidths()
    for (
        code,
        kind,
        seq,
        accession,
        year,
        number,
        next_plant,
        next_lot,
        letter,
        batch,
    ) in connection.execute(_CODES, (since,)):
        plant = _plant_number(code) if kind == "plant" else None
        expected = _code(year, number, letter, plant, widths)
        if code != expected or (kind == "lot" and batch != accession):
            yield Problem(Fault.CODE_WRONG, code, seq, "code", code, expected)
        elif plant is not None and plant >= next_plant:
            yield Problem(
                Fault.NUMBER_AHEAD, code, seq, "next_plant", str(next_plant), str(plant + 1)
            )
        elif letter is not None and lot_index(letter) >= next_lot:
            yield Problem(Fault.NUMBER_AHEAD, code, seq, "next_lot", str(next_lot), letter)
    for year, highest, following in connection.execute(_SERIES):
        yield Problem(
            Fault.NUMBER_AHEAD, str(year), None, "next", str(following or ""), str(highest + 1)
        )


def _plant_number(code: str) -> int | None:
    parts = code.split("-")
    return int(parts[2]) if len(parts) == 4 and parts[2].isdecimal() else None


def _code(year: int, number: int, letter: str | None, plant: int | None, widths: CodeWidths) -> str:
    try:
        return Code(year % 100, number, letter, plant, widths).text
    except (RegistryError, ValueError) as error:
        return f"({error})"


_DETAILS = """
SELECT person.id, person.seq, person.detail_hash, detail.person_id, detail.salt, detail.name,
    detail.key, detail.contact, detail.share,
    EXISTS (SELECT 1 FROM blanking WHERE blanking.person_id = person.id)
FROM person LEFT JOIN person_detail AS detail ON detail.person_id = person.id
WHERE person.seq > ?1 OR person.id IN (SELECT person_id FROM rebuilt.blanking)
"""

_SEALED = """
SELECT note.id, note.seq, note.sealed_hash, sealed.id, sealed.salt, sealed.value, sealed.hash,
    EXISTS (SELECT 1 FROM blanking WHERE blanking.note_id = note.id)
FROM note LEFT JOIN sealed ON sealed.id = note.sealed_id WHERE note.sealed_id IS NOT NULL
    AND (note.seq > ?1 OR note.id IN (SELECT note_id FROM rebuilt.blanking))
"""


_NOBODYS = """
SELECT id FROM sealed WHERE NOT EXISTS (SELECT 1 FROM note WHERE note.sealed_id = sealed.id)
"""


def check_sealed(connection: sqlite3.Connection, named: Named, since: int = 0) -> Iterator[Problem]:
    """What stands outside the chain has the hash that the chain holds, or was blanked on record."""
    details = connection.execute(_DETAILS, (since,))
    for person, seq, held, there, salt, name, key, contact, share, blanked in details:
        record = named.row("person", person)
        if there is None:
            yield Problem(Fault.DETAILS_GONE, record, seq)
        elif salt == sealing.BLANKED:
            if not blanked:
                yield Problem(Fault.EMPTIED, record, seq)
        elif (
            held != sealing.detail_hash(salt, name=name, contact=contact, share=bool(share))
            or share not in (0, 1)
            or key != calling_key(name)
        ):
            yield Problem(Fault.DETAILS_CHANGED, record, seq)
    texts = connection.execute(_SEALED, (since,))
    for note, seq, held, there, salt, value, own, blanked in texts:
        record = named.row("note", note)
        if there is None:
            yield Problem(Fault.SEALED_GONE, record, seq)
        elif salt == sealing.BLANKED:
            if not blanked:
                yield Problem(Fault.EMPTIED, record, seq)
        elif not held == own == sealing.text_hash(salt, value):
            yield Problem(Fault.SEALED_CHANGED, record, seq)
    for (private,) in connection.execute(_NOBODYS):
        yield Problem(Fault.ADDED, named.row("private text", private))


_FILES = """
SELECT blob.rowid, blob.sha256, blob.size, blob.blanked, blob.bytes IS NULL,
    (SELECT min(attachment.filename) FROM attachment WHERE attachment.blob_sha256 = blob.sha256),
    (SELECT min(attachment.seq) FROM attachment WHERE attachment.blob_sha256 = blob.sha256)
FROM blob
WHERE ?1 = 0 OR sha256 IN (SELECT blob_sha256 FROM attachment WHERE seq > ?1)
"""


def check_attachments(
    connection: sqlite3.Connection, named: Named, since: int = 0
) -> Iterator[Problem]:
    """Every stored file has the bytes that its SHA-256 (FIPS 180-4) names, or is blanked."""
    for rowid, sha256, size, blanked, empty, filename, seq in connection.execute(_FILES, (since,)):
        record = filename or sha256
        if empty:
            if not blanked:
                yield Problem(Fault.FILE_GONE, record, seq, expected=sha256)
            continue
        found, length = _hashed(connection, rowid)
        if found != sha256 or length != size:
            yield Problem(Fault.FILE_CHANGED, record, seq, found=found, expected=sha256)


def _hashed(connection: sqlite3.Connection, rowid: int) -> tuple[str, int]:
    digest, length = hashlib.sha256(), 0
    with connection.blobopen("blob", "bytes", rowid, readonly=True) as file:
        while chunk := file.read(CHUNK):
            digest.update(chunk)
            length += len(chunk)
    return digest.hexdigest(), length

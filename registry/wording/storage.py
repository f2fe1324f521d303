"""What a person reads when a registry or a file cannot be used, and what a check found."""

from __future__ import annotations

from pathlib import Path

from registry.domain.soundness import Fault, Problem
from registry.errors import (
    AnswerUnwritten,
    BadHead,
    CopyUnsound,
    FileInTheWay,
    FileTooBig,
    FileUnreadable,
    FileUnwritable,
    HeadForged,
    HeadOfAnother,
    KeyExists,
    KeyMissing,
    KeyUnreadable,
    MigrateUnsound,
    NotARegistry,
    RegistryDamaged,
    RegistryExists,
    RegistryFromNewerProgram,
    RegistryItself,
    RegistryLocked,
    RegistryMissing,
    RegistryNeedsMigrate,
    RegistryReadOnly,
    RegistryUnsupported,
    ServerSilent,
    ServerSupportMissing,
    SigningNotInstalled,
    StorageFull,
)
from registry.wording.problems import problem

WORDS = {
    "state": "the tables",
    "schema": "how the tables are made",
    "sealed": "private details",
    "file": "the file itself",
    "head": "the chain against the head that was kept",
}
"""Parts of a check whose name in JSON is not what a person would say."""


@problem.register
def _(error: RegistryMissing) -> str:
    return (
        f"There is no registry at {error.path}. Make one with 'ortet init', or say where yours is "
        "with --registry PATH or the variable ORTET_REGISTRY."
    )


@problem.register
def _(error: RegistryExists) -> str:
    return (
        f"Something stands at {error.path} already; it was left alone. If it is your registry, "
        "go on with it: 'ortet settings show' says whose it is. For another, name another place "
        "with --registry PATH."
    )


@problem.register
def _(error: NotARegistry) -> str:
    return f"{error.path} is not a registry. Say where yours is with --registry PATH."


@problem.register
def _(error: RegistryFromNewerProgram) -> str:
    return (
        f"The registry {error.path} was written by a newer version of this program (its tables "
        f"are of revision {error.revision}, this one knows up to {error.known}). Update the "
        "program; nothing was changed."
    )


@problem.register
def _(error: RegistryNeedsMigrate) -> str:
    return (
        f"The registry {error.path} was written by an older version of this program. Bring it up "
        "to date with 'ortet migrate', which makes a copy first."
    )


@problem.register
def _(error: RegistryReadOnly) -> str:
    return f"The registry {error.path} can be read but not written, so nothing was recorded. " + (
        "Allow writing to the file and its folder, or work on a copy."
        if isinstance(error.path, Path)
        else "Ask whoever keeps the server to let you write, or go to the main server."
    )


@problem.register
def _(error: RegistryLocked) -> str:
    return (
        f"Somebody else is writing in the registry {error.path} and did not finish within five "
        "seconds; nothing was recorded. Try again in a moment, or close the other program."
    )


@problem.register
def _(error: RegistryDamaged) -> str:
    way_out = (
        "Copy the file somewhere safe as it is, then bring the newest backup back"
        if isinstance(error.path, Path)
        else "Keep the database as it is, then bring the newest backup into an empty one"
    )
    return f"The registry {error.path} is damaged ({error.said}). {way_out} with 'ortet restore'."


@problem.register
def _(error: RegistryUnsupported) -> str:
    return (
        f"{error.location} is not an address that a registry can be kept at. Give the path of a "
        "file, or a database as postgresql://NAME@HOST/DATABASE."
    )


@problem.register
def _(error: ServerSilent) -> str:
    return (
        f"The server of {error.server} did not take the call ({error.said.rstrip('.')}). Look "
        "whether it runs and lets you in, then see with 'ortet due' or 'ortet trace' whether what "
        "you recorded last stands, before you type it again."
    )


@problem.register
def _(error: ServerSupportMissing) -> str:
    return (
        f"{error.location} is on a server, and the part that talks to one is not installed. "
        "Install it with: pip install 'ortet[server]'"
    )


@problem.register
def _(error: StorageFull) -> str:
    return (
        f"There is no room left on the disk of {error.path}, or the disk is failing; nothing was "
        "recorded. Free some room and try again."
    )


@problem.register
def _(error: FileUnwritable) -> str:
    return f"{error.path} cannot be written: {error.why}. Choose another place or allow writing."


@problem.register
def _(error: FileTooBig) -> str:
    return (
        f"{error.path} has {error.size / 1e6:,.0f} MB, and at most {error.most / 1e6:,.0f} MB can "
        "be kept. Make it smaller."
    )


@problem.register
def _(error: FileUnreadable) -> str:
    to_do = {
        "it is not text in UTF-8": "Save it as text in UTF-8, and try again.",
        "it is empty": "Look whether it is the right file.",
        "Is a directory": "Name a file in it.",
    }.get(error.why, "Look at its name and whether you may read it.")
    return f"{error.path} cannot be read: {error.why}. {to_do}"


@problem.register
def _(error: AnswerUnwritten) -> str:
    return (
        f"The answer could not be written out: {error.why}. What this command recorded stands; "
        "'ortet correct --list' shows the newest entries."
    )


@problem.register
def _(error: FileInTheWay) -> str:
    return (
        f"{error.path} stands there already; it was left alone. Choose another, or add --replace."
    )


@problem.register
def _(error: RegistryItself) -> str:
    return (
        f"{error.path} is the registry itself, and no copy of it; it was left alone. Name another "
        "file."
    )


@problem.register
def _(error: CopyUnsound) -> str:
    return (
        f"{error.path} does not hold what was recorded: {_count(error.problems)}, first: "
        f"{error.first} Nothing was changed. Try an older backup, or add --anyway to use this one "
        "as it is."
    )


@problem.register
def _(error: MigrateUnsound) -> str:
    return (
        f"After migrating, {error.path} did not check out: {_count(error.problems)}, first: "
        f"{error.first} It was put back as it was; the copy made before is {error.copy}."
    )


@problem.register
def _(error: BadHead) -> str:
    if error.group is not None:
        return (
            f"Group {error.group} of the head does not agree with its check character. Hear or "
            "read it again from there."
        )
    return (
        f"There is no head in '{error.typed}'. It is a number, a colon and six groups of digits, "
        "as 'ortet head' prints it; or the file that 'ortet head --out' wrote."
    )


@problem.register
def _(error: HeadOfAnother) -> str:
    return f"{error.path} is the head of another registry ({error.registry})."


@problem.register
def _(error: HeadForged) -> str:
    return (
        f"{error.path} was changed after it was signed, or was never signed with the key that it "
        "names. Ask whoever gave it to you for another copy."
    )


@problem.register
def _(error: KeyMissing) -> str:
    return f"There is no key at {error.path}. Make one with 'ortet key make'."


@problem.register
def _(error: KeyUnreadable) -> str:
    if error.locked:
        return f"The passphrase does not open the key {error.path}. Try again."
    return f"{error.path} is not a key that this program can use. Name yours with --key FILE."


@problem.register
def _(error: KeyExists) -> str:
    return (
        f"A key stands at {error.path} already; it was left alone, since what it signed could not "
        "be signed again. Name another file with --key FILE."
    )


@problem.register
def _(error: SigningNotInstalled) -> str:
    return "Signing needs one more library. Install it with: pip install 'ortet[signing]'"


def _count(n: int) -> str:
    return "1 thing is wrong" if n == 1 else f"{n} things are wrong"


def where(part: str) -> str:
    """A part of the check, in words."""
    return WORDS.get(part, f"the {part}")


def fault(found: Problem) -> str:
    """One thing that a check found, as a sentence."""
    entry = "" if found.seq is None else f" (entry {found.seq})"
    return _SENTENCES[found.fault].format(
        record=found.record,
        entry=entry,
        seq=found.seq,
        column=found.column,
        found=_value(found.found),
        expected=_value(found.expected),
    )


def _value(text: str) -> str:
    return text or "nothing"


_SENTENCES = {
    Fault.ENTRY_MISSING: "Entry {seq} of the chain is missing.",
    Fault.LINK_BROKEN: "Entry {seq} of the chain does not follow from the one before it.",
    Fault.HASH_WRONG: "Entry {seq} of the chain was changed after it was recorded.",
    Fault.HEADER_UNREADABLE: "Entry {seq} of the chain cannot be read.",
    Fault.PARTS_WRONG: "The rows of entry {seq} of the chain are not those that were recorded.",
    Fault.PART_UNREADABLE: "The rows of entry {seq} of the chain cannot be read: {found}.",
    Fault.PART_WITHOUT_ENTRY: "There are rows of an entry {seq} that the chain does not have.",
    Fault.WRITER_WRONG: "Who recorded entry {seq} was changed: {found} instead of {expected}.",
    Fault.REQUEST_WRONG: (
        "Entry {seq} of the chain carries a request key that was not recorded with it: {found}."
    ),
    Fault.HEAD_WRONG: "The chain ends at entry {seq}, but its head says otherwise: {found}.",
    Fault.REVISION_UNKNOWN: (
        "Entry {seq} was recorded by a version that this program does not know: {found}."
    ),
    Fault.ROW_IMPOSSIBLE: "Entry {seq} records something that cannot be: {found}.",
    Fault.TAIL_CUT: (
        "The chain ends at entry {found}, but the head that was kept is of entry {seq}: what was "
        "recorded last is gone ({expected}). Either an older copy was brought back, or somebody "
        "cut it off. Look for a backup that is as long, and ask whoever keeps that head."
    ),
    Fault.REWRITTEN: (
        "Entry {seq} is not the one that stood there when the head was taken: {found} here, "
        "{expected} there. Either an older copy was brought back and others were recorded since, "
        "or the record was written anew up to there. Trust the head that was kept: ask whoever "
        "keeps it, and compare with a backup from before that day."
    ),
    Fault.CHECK_GONE: (
        "The chain does not go through entry {seq}, where the last whole check ended. It was "
        "changed since, or an older copy was brought back: run 'ortet verify' without --fast."
    ),
    Fault.EMPTIED: "{record}: what it held was emptied behind the record{entry}.",
    Fault.CHANGED: "{record}: {column} is {found}, but {expected} was recorded{entry}.",
    Fault.ADDED: "{record} stands in the registry, but was never recorded.",
    Fault.GONE: "{record} was recorded{entry}, but is gone.",
    Fault.STRANGE: (
        "The {record} is none that this program makes, and could change what is read or recorded. "
        "Somebody put it there: have it taken out."
    ),
    Fault.OTHERWISE: (
        "The {record} is gone, or is not as this program makes it: what it rules out may have been "
        "let in. Bring the newest backup back with 'ortet restore'."
    ),
    Fault.DETAILS_CHANGED: "{record}: its details were changed behind the record{entry}.",
    Fault.DETAILS_GONE: "{record}: name and contact are gone{entry}.",
    Fault.SEALED_CHANGED: "{record}: its private text was changed behind the record{entry}.",
    Fault.SEALED_GONE: "{record}: its private text is gone{entry}.",
    Fault.FILE_CHANGED: "The stored file {record} is not the one that was stored{entry}.",
    Fault.FILE_GONE: "The stored file {record} is gone{entry}.",
    Fault.COUNT_WRONG: (
        "{record}: {found} are said to be in the bench, but its movements come to "
        "{expected}{entry}."
    ),
    Fault.UNSAID_WRONG: (
        "{record}: {found} are said to have left without saying which lot, but its movements come "
        "to {expected}{entry}."
    ),
    Fault.CIRCLE: "{record} is its own ancestor, through {found}{entry}.",
    Fault.NO_PARENT: "{record} has no source{entry}.",
    Fault.WRONG_KIND: "{record} is said to be a {found}, but is recorded as something else{entry}.",
    Fault.REFERENCE: "{record} names a {expected} that is not there.",
    Fault.CODE_WRONG: "{record}: its code should be {expected}{entry}.",
    Fault.NUMBER_AHEAD: (
        "{record}: the next number to be given ({column} {found}) was given already; it should be "
        "{expected} or more."
    ),
    Fault.LINE_WRONG: (
        "{record}: the list of inherited names has {found} where the lineage says {expected}."
    ),
    Fault.SEARCH_WRONG: (
        "{record}: the search has the words '{found}' where its names and numbers say '{expected}'."
    ),
    Fault.INDEX_WRONG: (
        "The search does not find by the words that stand in it: its index was changed or is "
        "damaged."
    ),
    Fault.DAMAGED: "The file is damaged: {found}.",
    Fault.CHECK_STOPPED: (
        "A part of the check could not be finished, since a value in the file is of a kind that it "
        "never holds: {found}."
    ),
}

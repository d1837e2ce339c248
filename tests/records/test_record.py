"""The record: whoever alters, deletes or swaps an entry in the database is found out, and the entry is named."""

import pytest
from sqlalchemy import text, update
from sqlalchemy.exc import DBAPIError

from labsys.database import DbSession, violates
from labsys.people.acts import Act, act
from labsys.people.erasing import erase_contents
from labsys.records import chain, queries
from labsys.records.models import RecordEntry
from tests.support.lab import SmallLab

COLUMNS = ("at", "salt", "payload", "digest", "previous_hash", "hash")


def tamper(session: DbSession, *statements: str, **values: object) -> None:
    """What somebody does who holds the database itself: the triggers are taken off first."""
    on_postgresql = session.get_bind().dialect.name == "postgresql"
    if on_postgresql:
        session.execute(text("ALTER TABLE record_entries DISABLE TRIGGER ALL"))
    else:
        for verb in ("update", "delete"):
            session.execute(text(f"DROP TRIGGER record_entries_no_{verb}"))
    for statement in statements:
        session.execute(text(statement), values)
    session.commit()
    session.expire_all()


def test_the_record_of_a_busy_lab_holds(lab: SmallLab):
    lab.mix_film_line()
    lab.log(3)
    assert queries.find_fault(lab.session) is None
    assert queries.head(lab.session).number > 10


def test_an_altered_entry_is_named(lab: SmallLab):
    tamper(lab.session, "UPDATE record_entries SET payload = replace(payload, 'person', 'someone') WHERE number = 4")
    assert str(queries.find_fault(lab.session)) == "Entry 4: its content was altered."


def test_an_entry_altered_with_a_fitting_digest_is_named(lab: SmallLab):
    payload = '{"about":["people",1],"act":"person.left","by":null,"facts":{}}'
    digest = chain.payload_digest(salt="0" * 32, payload=payload)
    tamper(
        lab.session,
        "UPDATE record_entries SET payload = :payload, salt = :salt, digest = :digest WHERE number = 4",
        payload=payload,
        salt="0" * 32,
        digest=digest,
    )
    assert str(queries.find_fault(lab.session)) == "Entry 4: its number, time or digest was altered."


def test_a_deleted_entry_is_named(lab: SmallLab):
    tamper(lab.session, "DELETE FROM record_entries WHERE number = 5")
    assert str(queries.find_fault(lab.session)) == "Entry 5: missing: the next entry there is has number 6."


def test_the_newest_entry_deleted_is_named(lab: SmallLab):
    last = queries.head(lab.session).number
    tamper(lab.session, "DELETE FROM record_entries WHERE number = :last", last=last)
    assert queries.find_fault(lab.session).number == last


def test_two_swapped_entries_are_named_by_the_first(lab: SmallLab):
    tamper(
        lab.session,
        "UPDATE record_entries SET number = -1 WHERE number = 3",
        "UPDATE record_entries SET number = 3 WHERE number = 6",
        "UPDATE record_entries SET number = 6 WHERE number = -1",
    )
    assert queries.find_fault(lab.session).number == 3


def test_an_entry_slipped_in_is_named(lab: SmallLab):
    last = queries.head(lab.session).number
    tamper(
        lab.session,
        "INSERT INTO record_entries (number, at, salt, payload, digest, previous_hash, hash) "
        "SELECT :new, at, salt, payload, digest, previous_hash, hash FROM record_entries WHERE number = :last",
        new=last + 1,
        last=last,
    )
    assert queries.find_fault(lab.session).number == last + 1


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE record_entries SET payload = 'x' WHERE number = 2",
        "UPDATE record_entries SET hash = 'x' WHERE number = 2",
        "UPDATE record_entries SET payload = NULL, salt = NULL, number = 999 WHERE number = 2",
        "DELETE FROM record_entries WHERE number = 2",
        "UPDATE movements SET what = 'x'",
        "DELETE FROM movements",
        "UPDATE postings SET amount = 1",
        "DELETE FROM postings",
    ],
)
def test_the_application_may_only_add(lab: SmallLab, statement: str):
    lab.mix_film_line()
    with pytest.raises(DBAPIError) as refused:
        lab.session.execute(text(statement))
    table = next(name for name in ("record_entries", "movements", "postings") if name in statement)
    verb = statement.split()[0].lower()
    assert violates(refused.value, f"{table}_no_{verb}")


@pytest.mark.parametrize("table", ["record_entries", "movements", "postings"])
def test_neither_replace_nor_truncate_slips_past(lab: SmallLab, table: str):
    lab.mix_film_line()
    if lab.session.get_bind().dialect.name == "postgresql":
        statement, trigger = f"TRUNCATE {table} CASCADE", "_no_truncate"
    else:
        key = "number" if table == "record_entries" else "id"
        statement, trigger = f"REPLACE INTO {table} SELECT * FROM {table} WHERE {key} = 2", "_no_delete"
    with pytest.raises(DBAPIError, match=trigger):
        lab.session.execute(text(statement))


def test_contents_erased_by_an_entry_leave_the_chain_whole(lab: SmallLab):
    erase(lab.act("manager"), lab=lab, numbers=frozenset({3, 4}))
    assert lab.session.get(RecordEntry, 3).payload is None
    assert queries.find_fault(lab.session) is None


def test_contents_erased_without_an_entry_are_named(lab: SmallLab):
    lab.session.execute(update(RecordEntry).where(RecordEntry.number == 3).values(payload=None, salt=None))
    lab.session.commit()
    assert str(queries.find_fault(lab.session)) == (
        "Entry 3: its content is gone, and no entry says that it was erased."
    )


def test_equal_facts_have_different_digests_by_their_salt(lab: SmallLab):
    """Else a guessed name could be tried against the digest of an erased entry."""
    digests = {entry.digest for entry in lab.session.query(RecordEntry)}
    salts = {entry.salt for entry in lab.session.query(RecordEntry)}
    assert len(digests) == len(salts) == queries.head(lab.session).number


@act
def erase(act: Act, *, lab: SmallLab, numbers: frozenset[int]) -> None:
    erase_contents(act, numbers=numbers, lab=queries.the_lab(act.session))

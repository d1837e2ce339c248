"""A back-up holds one moment of the lab whole; restored on either database, rows are equal and the record holds."""

import hashlib
import json
import threading
import zipfile
from collections.abc import Callable
from dataclasses import asdict
from itertools import compress
from pathlib import Path

import flask_migrate
import pytest
from click.testing import CliRunner
from flask import Flask
from sqlalchemy import Engine, create_engine, func, inspect, select, text

from labsys.backup import taking
from labsys.backup.archive import ArchiveRefused, Kind, Manifest, Reader
from labsys.backup.restoring import restore
from labsys.backup.taking import BackupRefused, back_up
from labsys.baths.models import Use
from labsys.chemistry.care import SolutionKind
from labsys.cli import main
from labsys.database import Base, db, prepare_engine
from labsys.documents.service import keep_document
from labsys.ledger import queries as ledger
from labsys.mail import service as mail
from labsys.mail.kinds import BOOKING, Message
from labsys.people.acts import act
from labsys.records import queries as records
from labsys.records.queries import Head
from labsys.records.transactions import transaction
from labsys.web import asset_root, create_app
from tests.conftest import Content, settings
from tests.support import postgresql
from tests.support.lab import SmallLab
from tests.support.safety import SHEET, add_sheet, put_on_shelf

MIGRATIONS = asset_root() / "migrations"
NewDatabase = Callable[..., str]


@pytest.fixture
def full(lab: SmallLab) -> SmallLab:
    """A lab with a row of many kinds: baths, uses, a correction, a dump, bytes of a document and an SDS, mail."""
    lab.begin(_fill)
    return lab


def _fill(lab: SmallLab) -> None:
    baths = lab.mix_film_line()
    lab.log(3)
    lab.log(2, size="135-36")
    lab.dump(baths["fixer"], lab.open_container(), volume_ml=2_450)
    add_sheet(lab, lab.ids["product fixer"], content=SHEET + bytes(range(256)) + b"startxref\n45\n%%EOF\n")
    put_on_shelf(lab, lab.add_bottle(SolutionKind.STOP))
    keep = act(keep_document)
    keep(
        lab.act("technician"),
        kind="bath label",
        title="Ετικέτα «λουτρό»\u2028",
        parameters={"bath": 1},
        content=bytes(range(256)) * 100,
        head=Head(1, "a" * 64),
    )
    queue = transaction(mail.queue)
    queue(
        lab.session,
        Message(BOOKING, "booking 1 made", "Your place", 'Line one\nLine two\t"quoted" \x7f 🎞\n', "/bookings/1"),
        to=lab.person("member"),
        by=None,
        now=lab.now,
    )


def take(path: Path, *, lab: SmallLab, name: str = "lab.zip") -> Path:
    lab.session.rollback()
    back_up(db.engine, path=path / name, migrations=MIGRATIONS, now=lab.now)
    return path / name


def engine_of(url: str) -> Engine:
    engine = create_engine(url.replace("postgresql://", "postgresql+psycopg://"))
    prepare_engine(engine)
    return engine


@pytest.fixture
def elsewhere(backend: str, tmp_path: Path, request: pytest.FixtureRequest):
    """An empty database of the other kind."""
    if backend == "postgresql":
        engine = engine_of(f"sqlite:///{tmp_path / 'elsewhere.sqlite3'}")
        yield engine
        engine.dispose()
        return
    server = request.getfixturevalue("postgresql_server")
    if server is None:
        pytest.skip("no PostgreSQL found: moving to it was not proven here")
    name = f"labsys_elsewhere_{threading.get_native_id()}"
    engine = engine_of(postgresql.make_database(server, name))
    yield engine
    engine.dispose()
    postgresql.drop_database(server, name)


def members(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as zipped:
        return {name: zipped.read(name) for name in zipped.namelist()}


def rewrite(source: Path, target: Path, change: Callable[[dict[str, bytes]], object]) -> Path:
    """Write an archive anew after somebody changed its members."""
    found = members(source)
    change(found)
    with zipfile.ZipFile(target, "w") as zipped:
        for name, content in found.items():
            zipped.writestr(name, content)
    return target


def is_empty(engine: Engine) -> bool:
    with engine.connect() as connection:
        names = [name for name in engine.dialect.get_table_names(connection) if name != "alembic_version"]
        return all(connection.execute(text(f"SELECT count(*) FROM {name}")).scalar_one() == 0 for name in names)

        # Both ways


def test_the_other_database_gets_every_row_as_it_was(full: SmallLab, elsewhere: Engine, tmp_path: Path):
    first = take(tmp_path, lab=full)
    restore(elsewhere, path=first, migrations=MIGRATIONS)
    back_up(elsewhere, path=tmp_path / "again.zip", migrations=MIGRATIONS, now=full.now)
    assert members(tmp_path / "again.zip") == members(first)


def test_rows_are_the_very_values_and_not_only_equal_texts(full: SmallLab, elsewhere: Engine, tmp_path: Path):
    restore(elsewhere, path=take(tmp_path, lab=full), migrations=MIGRATIONS)
    with db.engine.connect() as ours, elsewhere.connect() as theirs:
        total = 0
        for table in Base.metadata.sorted_tables:
            chosen = select(table)
            here = sorted(map(repr, ours.execute(chosen)))
            assert sorted(map(repr, theirs.execute(chosen))) == here, table.name
            total += len(here)
    assert total > 100


def test_a_restored_lab_goes_on_working(full: SmallLab, elsewhere: Engine, tmp_path: Path):
    restore(elsewhere, path=take(tmp_path, lab=full), migrations=MIGRATIONS)
    app = _app_on(elsewhere, tmp_path)
    with app.app_context():
        moved = full.resume(db.session)
        moved.mix(SolutionKind.FIXER, water_parts=4, working_ml=1_000)
        moved.log(1, before_start=False)
        assert records.find_fault(db.session) is None
        assert ledger.wrong_levels(db.session) == []
        db.session.remove()
        db.engine.dispose()


def test_a_back_up_is_whole_while_people_log(full: SmallLab, app: Flask, elsewhere: Engine, tmp_path: Path):
    stop, logged = threading.Event(), []

    def log_uses() -> None:
        with app.app_context():
            busy = full.resume(db.session)
            while not stop.is_set():
                logged.append(busy.log(1).id)
            db.session.remove()

    writer = threading.Thread(target=log_uses)
    writer.start()
    taken = []
    try:
        for number in range(4):
            before = len(logged)
            taken.append(take(tmp_path, lab=full, name=f"busy-{number}.zip"))
            while len(logged) == before:
                stop.wait(0.01)
    finally:
        stop.set()
        writer.join()
    sizes = [uses_in(path) for path in taken]
    assert sizes == sorted(set(sizes)), "each back-up holds more uses than the one before"
    restore(elsewhere, path=taken[-1], migrations=MIGRATIONS)
    with elsewhere.connect() as connection:
        assert connection.execute(select(func.count()).select_from(Use)).scalar_one() == sizes[-1]
        assert sizes[-1] <= 2 + len(logged)


def uses_in(path: Path) -> int:
    with Reader(path) as reader:
        return next(table.rows for table in reader.manifest.tables if table.name == "uses")

        # What is refused


def test_a_file_cut_short_anywhere_is_refused_and_nothing_changes(full: SmallLab, elsewhere: Engine, tmp_path: Path):
    whole = take(tmp_path, lab=full).read_bytes()
    short = tmp_path / "short.zip"
    for share in (0, 0.3, 0.9, 0.999):
        short.write_bytes(whole[: int(len(whole) * share)])
        with pytest.raises(ArchiveRefused, match="not a whole back-up"):
            restore(elsewhere, path=short, migrations=MIGRATIONS)
    assert is_empty(elsewhere)


def test_a_byte_turned_over_anywhere_is_refused_or_changes_nothing(full: SmallLab, tmp_path: Path):
    whole = take(tmp_path, lab=full).read_bytes()
    spoilt, good = tmp_path / "spoilt.zip", members(tmp_path / "lab.zip")
    for position in range(0, len(whole), len(whole) // 60):
        spoilt.write_bytes(whole[:position] + bytes([whole[position] ^ 0x55]) + whole[position + 1 :])
        try:
            with Reader(spoilt) as reader:
                rows = sum(len(list(reader.rows(table))) for table in reader.manifest.tables)
        except ArchiveRefused:
            continue
        assert members(spoilt) == good, "the byte belonged to nothing that is read"
        assert rows == sum(content.count(b"\n") for name, content in good.items() if name != "manifest.json")


def _edit_a_row(found: dict[str, bytes]) -> None:
    found["tables/people.jsonl"] = found["tables/people.jsonl"].replace(b"Ines", b"Inez")


def _edit_a_row_and_its_digest(found: dict[str, bytes]) -> None:
    _edit(found, "record_entries", lambda content: content.replace(b"bath.mixed", b"bath.moved"))


def _edit_a_level(found: dict[str, bytes]) -> None:
    _edit(found, "vessels", lambda content: content.replace(b",3000000,2", b",3000000,1"))


def _edit(found: dict[str, bytes], table: str, change: Callable[[bytes], bytes]) -> None:
    """Change a table's rows and make the manifest agree, as somebody who knows the format would."""
    before = found[f"tables/{table}.jsonl"]
    after = found[f"tables/{table}.jsonl"] = change(before)
    assert after != before
    manifest = json.loads(found["manifest.json"])
    (entry,) = (one for one in manifest["tables"] if one["name"] == table)
    entry["digest"] = hashlib.sha256(after).hexdigest()
    entry["rows"] = after.count(b"\n")
    found["manifest.json"] = json.dumps(manifest).encode()


def _manifest(**changes: object) -> Callable[[dict[str, bytes]], None]:
    def change(found: dict[str, bytes]) -> None:
        found["manifest.json"] = json.dumps({**json.loads(found["manifest.json"]), **changes}).encode()

    return change


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (_edit_a_row, "people.jsonl was altered"),
        (_edit_a_row_and_its_digest, "its content was altered"),
        (_edit_a_level, r"level of vessel|do not fit together"),
        (lambda found: _edit(found, "people", lambda _: b""), "do not fit together"),
        (lambda found: _edit(found, "uses", lambda content: content + b"[1]\n"), "cannot be read"),
        (lambda found: _edit(found, "uses", lambda content: content.replace(b"[1,", b'["1",')), "is not integer"),
        (lambda found: found.pop("tables/uses.jsonl"), "Missing from the back-up, or added to it: tables/uses"),
        (lambda found: found.update({"extra.txt": b""}), "added to it: extra.txt"),
        (lambda found: found.pop("manifest.json"), "no manifest"),
        (lambda found: found.update({"manifest.json": b"{"}), "manifest cannot be read"),
        (_manifest(format=2), "format 2; this labsys reads format 1"),
        (_manifest(revision="9999", labsys="7.0"), "made by labsys 7.0, which is newer"),
        (_manifest(head_number=1), "not the one the manifest names"),
        (_manifest(tables=[]), "added to it"),
        (_manifest(surprise=1), "manifest was altered"),
    ],
)
def test_an_altered_archive_is_refused_and_nothing_changes(
    full: SmallLab, elsewhere: Engine, tmp_path: Path, change: Callable[[dict[str, bytes]], None], says: str
):
    spoilt = rewrite(take(tmp_path, lab=full), tmp_path / "spoilt.zip", change)
    with pytest.raises(ArchiveRefused, match=says):
        restore(elsewhere, path=spoilt, migrations=MIGRATIONS)
    assert is_empty(elsewhere)


def test_a_database_that_holds_a_lab_is_left_alone(full: SmallLab, tmp_path: Path):
    path = take(tmp_path, lab=full)
    before = take(tmp_path, lab=full, name="before.zip")
    with pytest.raises(ArchiveRefused, match="holds a lab"):
        restore(db.engine, path=path, migrations=MIGRATIONS)
    assert members(take(tmp_path, lab=full, name="after.zip")) == members(before)


@pytest.mark.sqlite_only
def test_a_database_of_something_else_is_left_alone(full: SmallLab, tmp_path: Path):
    other = engine_of(f"sqlite:///{tmp_path / 'other.sqlite3'}")
    with other.begin() as connection:
        connection.execute(text("CREATE TABLE recipes (id INTEGER)"))
    with pytest.raises(ArchiveRefused, match="not of labsys"):
        restore(other, path=take(tmp_path, lab=full), migrations=MIGRATIONS)
    other.dispose()

    # Other versions


def test_tables_without_rows_may_be_there_already(full: SmallLab, new_app: Callable[..., Flask], tmp_path: Path):
    path = take(tmp_path, lab=full)
    with new_app(Content.TABLES).app_context():
        restore(db.engine, path=path, migrations=MIGRATIONS)
        back_up(db.engine, path=tmp_path / "again.zip", migrations=MIGRATIONS, now=full.now)
    assert members(tmp_path / "again.zip") == members(path)


def test_a_back_up_of_an_older_version_is_restored_and_then_upgraded(
    full: SmallLab, new_app: Callable[..., Flask], tmp_path: Path
):
    """The archive as the version before the outbox would have written it: without what came later."""
    kept = _columns_at("0006", new_app)
    old = rewrite(take(tmp_path, lab=full), tmp_path / "old.zip", lambda found: _age(found, "0006", kept))
    with new_app(Content.TABLES).app_context():
        restore(db.engine, path=old, migrations=MIGRATIONS)
        back_up(db.engine, path=tmp_path / "again.zip", migrations=MIGRATIONS, now=full.now)
    again, before = members(tmp_path / "again.zip"), members(old)
    later = {name for name, content in again.items() if name not in before and content}
    _age(again, "0006", kept)
    del again["manifest.json"], before["manifest.json"]
    assert again == before
    assert [name for name in later if "equipment" not in name] == []  # each cylinder is a piece of equipment since


def _age(found: dict[str, bytes], revision: str, kept: dict[str, set[str]]) -> None:
    """Take the tables and columns that came after a migration out of the members of an archive."""
    manifest = json.loads(found["manifest.json"])
    manifest["revision"] = revision
    manifest["tables"] = [one for one in manifest["tables"] if one["name"] in kept]
    for name in [name for name in found if "/" in name and Path(name).stem not in kept]:
        del found[name]
    for table in manifest["tables"]:
        stays = [column["name"] in kept[table["name"]] for column in table["columns"]]
        table["columns"] = list(compress(table["columns"], stays))
        member = f"tables/{table['name']}.jsonl"
        rows = [list(compress(json.loads(line), stays)) for line in found[member].decode().split("\n") if line]
        lines = [json.dumps(row, ensure_ascii=False, separators=(",", ":")) + "\n" for row in rows]
        found[member] = "".join(lines).encode()
        table["digest"] = hashlib.sha256(found[member]).hexdigest()
    found["manifest.json"] = json.dumps(manifest).encode()


def _columns_at(revision: str, new_app: Callable[..., Flask]) -> dict[str, set[str]]:
    """The columns of every table there was at a migration."""
    with new_app(Content.NOTHING).app_context():
        flask_migrate.upgrade(revision=revision)
        look = inspect(db.engine)
        tables = set(look.get_table_names()) - {"alembic_version"}
        return {table: {column["name"] for column in look.get_columns(table)} for table in tables}


@pytest.mark.sqlite_only
def test_a_database_that_was_not_migrated_is_not_backed_up_half_understood(full: SmallLab, tmp_path: Path):
    full.session.remove()
    flask_migrate.downgrade(revision="0010")
    with pytest.raises(BackupRefused, match="labsys migrate"):
        take(tmp_path, lab=full)
    assert list(tmp_path.glob("*.zip*")) == []

    # The file


@pytest.mark.sqlite_only
def test_no_file_is_written_over_and_only_its_owner_reads_it(full: SmallLab, tmp_path: Path):
    path = take(tmp_path, lab=full)
    assert path.stat().st_mode & 0o077 == 0
    before = path.read_bytes()
    with pytest.raises(BackupRefused, match="never written over"):
        take(tmp_path, lab=full)
    assert path.read_bytes() == before
    assert [found.name for found in tmp_path.iterdir() if "lab.zip" in found.name] == ["lab.zip"]


@pytest.mark.sqlite_only
def test_the_manifest_tells_what_is_in_it_and_the_secret_key_is_not(full: SmallLab, app: Flask, tmp_path: Path):
    path = take(tmp_path, lab=full)
    with Reader(path) as reader:
        manifest = reader.manifest
    head = records.head(full.session)
    assert isinstance(manifest, Manifest)
    assert (manifest.head_number, manifest.head_hash) == (head.number, head.hash)
    assert {table.name for table in manifest.tables} == set(Base.metadata.tables)
    assert app.config["SECRET_KEY"].encode() not in b"".join(members(path).values())
    assert asdict(manifest)["format"] == 1


def test_every_column_of_the_house_has_a_way_to_be_written():
    kinds = {taking.kind_of(column) for table in Base.metadata.tables.values() for column in table.columns}
    assert kinds == set(Kind)

    # The commands


@pytest.mark.sqlite_only
def test_the_commands_say_what_they_did(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("LABSYS_INSTANCE", str(tmp_path / "one"))
    run = CliRunner().invoke
    lab = ("--name", "Alder", "--prefix", "AS", "--timezone", "Europe/London", "--nation", "England")
    run(main, ["init", *lab, "--manager-name", "Mara", "--manager-email", "mara@example.org"])
    file = str(tmp_path / "lab.zip")
    taken = run(main, ["backup", file])
    assert taken.exit_code == 0, taken.output
    assert "holds Alder" in taken.output
    assert "secret key is not in it" in taken.output
    assert run(main, ["backup", file]).exit_code == 1
    refused = run(main, ["restore", file])
    assert (refused.exit_code, "Nothing was restored. This database holds a lab" in refused.stderr) == (1, True)
    monkeypatch.setenv("LABSYS_INSTANCE", str(tmp_path / "two"))
    restored = run(main, ["restore", file])
    assert restored.exit_code == 0, restored.output
    assert "Alder is restored" in restored.output
    assert run(main, ["verify"]).exit_code == 0
    missing = run(main, ["restore", str(tmp_path / "nowhere.zip")])
    assert (missing.exit_code, "There is no file" in missing.stderr) == (1, True)


def _app_on(engine: Engine, folder: Path) -> Flask:
    url = engine.url.set(drivername=engine.url.get_backend_name()).render_as_string(hide_password=False)
    return create_app(settings(folder, url))

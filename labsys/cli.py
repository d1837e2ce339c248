"""The command line: each command parses, calls one service, and says what it did."""

import gc
import signal
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from types import FrameType
from typing import NoReturn

import click
import flask_migrate
import waitress
from flask import Flask

from labsys import __version__, clock
from labsys.background import REMINDERS
from labsys.backup.archive import ArchiveRefused
from labsys.backup.restoring import restore as put_back
from labsys.backup.taking import BackupRefused, back_up
from labsys.bench import commands as bench
from labsys.bench.hazards_command import hazards
from labsys.config import SETTINGS_FILE, Config, ConfigError, keep_public_url, load_config
from labsys.database import db
from labsys.demo import show as demo_show
from labsys.desk.verifying import prove
from labsys.hazards.nations import Nation
from labsys.jobs import service as jobs
from labsys.jobs.kinds import kinds_of
from labsys.jobs.runner import Runner
from labsys.jobs.work import carry_out, step_back
from labsys.lab.rules import NATIONS, Settings
from labsys.lab.service import set_up_lab
from labsys.mail import queries as outbox
from labsys.mail import sending
from labsys.mail.reminders import queue_reminders
from labsys.people.acts import Act
from labsys.records import queries as records
from labsys.records.chain import short_hash
from labsys.records.errors import Refused
from labsys.records.models import PaperSize
from labsys.web import create_app

HOST, PORT = "127.0.0.1", 8000
THREADS = 8
_PAPER = click.Choice([size.value for size in PaperSize], case_sensitive=False)
_HEAD_DIGITS = 8  # fewer digits of a hash prove too little


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="labsys")
def main() -> None:
    """Run a shared or teaching darkroom.

    Everything a lab owns is in one folder, named by LABSYS_INSTANCE (default: instance). LABSYS_DATABASE_URL names
    another database, LABSYS_PUBLIC_URL the address that is printed into codes to scan.
    """


main.add_command(bench.bench)
main.add_command(bench.mix)
main.add_command(bench.temper_command)
main.add_command(hazards)


_ASKED = {
    "--name": "Name of the lab",
    "--prefix": "Prefix of its codes, 2 to 4 capital letters",
    "--manager-name": "Name of the first manager",
    "--manager-email": "E-mail address of the first manager",
}


@main.command()
@click.option("--name", help="As it is printed on labels.")
@click.option("--prefix", help="2 to 4 capital letters, such as KD for KD-T0041-X. It cannot be changed later.")
@click.option("--timezone", default="Europe/London", show_default=True, help="By its name in the IANA's list.")
@click.option(
    "--nation", default=Nation.ENGLAND.value, show_default=True, help=f"Whose rules hold: {', '.join(NATIONS)}."
)
@click.option("--address", default="", help="Where the lab is; printed on the first-aid card.")
@click.option("--paper", type=_PAPER, default="A4", show_default=True, help="What documents are printed on.")
@click.option("--emergency", default="", help="Whom to call; printed on labels and on the first-aid card.")
@click.option("--manager-name", help=f"{_ASKED['--manager-name']}.")
@click.option("--manager-email", help=f"{_ASKED['--manager-email']}.")
@click.option("--public-url", help="Where people reach the lab, such as https://lab.example.org; kept in labsys.toml.")
def init(
    name: str | None,
    prefix: str | None,
    timezone: str,
    nation: str,
    address: str,
    paper: str,
    emergency: str,
    manager_name: str | None,
    manager_email: str | None,
    public_url: str | None,
) -> None:
    """Begin a lab: make its folder and database, and invite the first manager.

    At a terminal it asks for the name, the prefix and the manager where they are not given. Everything but the prefix
    can be put right later, on the page of the lab.
    """
    given = (name, prefix, manager_name, manager_email)
    name, prefix, manager_name, manager_email = _ask_missing(dict(zip(_ASKED, given, strict=True)))
    if public_url is not None:
        try:
            keep_public_url(public_url)
        except ConfigError as error:
            _fail(str(error), 2)
    with _application(create=True) as app:
        flask_migrate.upgrade()
        settings = Settings(
            name=name.strip(),
            timezone=timezone,
            nation=nation,
            address=address,
            paper_size=PaperSize(paper),
            emergency=emergency,
        )
        try:
            invitation = set_up_lab(
                Act(db.session, by=None, now=clock.now()),
                settings=settings,
                code_prefix=prefix,
                manager_name=manager_name,
                manager_email=manager_email,
            )
        except Refused as refusal:
            _fail(str(refusal), 1)
        config: Config = app.config["LABSYS"]
        click.echo(f"{settings.name} is set up in {config.instance}.")
        click.echo(f"{manager_name} chooses a password here (the link works once, for 14 days):")
        click.echo(f"  {config.public_url}/welcome/{invitation.token}")
        click.echo(
            f"If people will not reach the lab at {config.public_url}: set public_url in "
            f"{config.instance / SETTINGS_FILE} before a label is printed, and put the right address before /welcome."
        )
        click.echo("Start the server with: labsys serve")


def _ask_missing(given: Mapping[str, str | None]) -> list[str]:
    """Ask for each option that was not given; where nobody sits at a terminal, name them and stop."""
    missing = [option for option, text in given.items() if not text]
    if missing and not sys.stdin.isatty():
        _fail(f"Give {', '.join(missing)} as well: at a terminal you would be asked.", 2)
    return [text or click.prompt(_ASKED[option]) for option, text in given.items()]


@main.command()
@click.option("--host", default=HOST, show_default=True, help="Address to listen on.")
@click.option("--port", default=PORT, show_default=True, help="Port to listen on.")
def serve(host: str, port: int) -> None:
    """Serve the lab's pages. Put a reverse proxy with HTTPS in front where others can reach it."""
    with _application() as app:
        flask_migrate.upgrade()
    _serve(app, host, port)


def _leave(_signal: int, _frame: FrameType | None) -> None:
    """Leave as by Ctrl-C when the system asks the server to stop, so that a job in hand ends in good order."""
    sys.exit(0)


@main.command("run-jobs")
def run_jobs() -> None:
    """Do the jobs that are due, mail among them, and say how many there were. For cron.

    `labsys serve` does them by itself; both at once do nothing twice.
    """
    with _application() as app:
        signal.signal(signal.SIGTERM, _leave)
        runner = Runner(app)
        try:
            begun = runner.run_due()
        finally:
            runner.stop()
        click.echo(f"Did {begun} jobs.")


@main.command("run-job", hidden=True)
@click.argument("job_id", type=int)
@click.option("--lease", required=True, help="The token with which the job was claimed.")
def run_job(job_id: int, lease: str) -> None:
    """Do one job that a server has claimed, at low priority. The server starts this by itself."""
    step_back()
    with _application() as app:
        claimed = jobs.claimed_or_none(db.session, job_id=job_id, token=lease)
        kind = kinds_of(app).get(claimed.kind) if claimed else None
        if claimed is None or kind is None or not carry_out(kind, claimed, config=app.config["LABSYS"]):
            _fail(f"Job {job_id} is not this process's to do.", 1)


@main.command("send-mail")
def send_mail() -> None:
    """Send the mail that is due, and say what is left. For cron. Exit 1 if the mail server cannot be reached.

    `labsys serve` sends by itself every half minute; both at once send nothing twice.
    """
    with _application() as app:
        config: Config = app.config["LABSYS"]
        if not config.mail_server:
            _fail("No mail server is set. Set LABSYS_MAIL_SERVER and LABSYS_MAIL_FROM.", 2)
        problem = None
        outcome = sending.Outcome()
        try:
            for letters_due in REMINDERS:
                queue_reminders(db.session, letters_due, now=clock.now())
            outcome = sending.send_due(db.session, config=config)
        except sending.ServerUnreachable as error:
            problem = str(error)
        left = outbox.counts(db.session, now=clock.now())
        click.echo(
            f"Sent {outcome.sent}, waiting {left.waiting}, given up {left.given_up}, "
            f"not known whether it left {left.not_known}."
        )
        if problem:
            _fail(problem, 1)


@main.command()
def migrate() -> None:
    """Bring the database to this version's form, after an upgrade."""
    with _application():
        flask_migrate.upgrade()
    click.echo("The database is up to date.")


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
def backup(file: Path) -> None:
    """Write the whole lab into FILE, a new file, while people go on working.

    The secret key and the settings are not in it: keep `secret_key` and `labsys.toml` of the instance folder apart.
    """
    with _application() as app:
        try:
            manifest = back_up(db.engine, path=file, migrations=_migrations(app), now=clock.now())
        except (BackupRefused, OSError) as refusal:
            _fail(str(refusal), 1)
    click.echo(
        f"{file} holds {manifest.lab}: {sum(table.rows for table in manifest.tables)} rows of "
        f"{len(manifest.tables)} tables, record {manifest.head_number}:{short_hash(manifest.head_hash)}."
    )
    click.echo("Keep it where this machine's failure does not reach. The secret key is not in it.")


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
def restore(file: Path) -> None:
    """Put the back-up in FILE into an empty database, SQLite or PostgreSQL, and check it.

    A new instance folder gets a new secret key: everybody signs in again, and nothing else changes.
    """
    with _application(create=True) as app:
        try:
            manifest = put_back(db.engine, path=file, migrations=_migrations(app))
        except ArchiveRefused as refusal:
            _fail(f"Nothing was restored. {refusal}", 1)
    click.echo(f"{manifest.lab} is restored as it stood at {manifest.made_at}.")
    click.echo(
        f"The record holds: {manifest.head_number} entries, head {manifest.head_number}:"
        f"{short_hash(manifest.head_hash)}. The ledger holds."
    )


def _migrations(app: Flask) -> Path:
    return Path(app.extensions["migrate"].directory)


@main.command()
@click.option("--head", metavar="N:HASH", help="Also check a head noted on paper, such as 319:6941844a007d.")
def verify(head: str | None) -> None:
    """Walk the record and the ledger; name the first thing that does not hold. Exit 1 if there is one."""
    with _application():
        if records.lab_or_none(db.session) is None:
            _fail("There is no lab in this instance yet. Run `labsys init`.", 1)
        proof = prove(db.session)
        if proof.fault:
            _fail(proof.fault, 1)
        if head is not None:
            _check_head(head)
        click.echo(proof.holds)
        click.echo("The ledger holds: every movement sums to zero and every level is the sum of its postings.")


def _check_head(text: str) -> None:
    number, _, digits = text.partition(":")
    if not number.isdigit() or len(digits) < _HEAD_DIGITS or set(digits.lower()) - set("0123456789abcdef"):
        _fail(f"Write the head as it is printed, N:HASH with at least {_HEAD_DIGITS} digits of the hash.", 2)
    entry_hash = records.entry_hash(db.session, int(number))
    if entry_hash is None:
        _fail(f"The record has no entry {number}: what was noted on paper is gone.", 1)
    if not entry_hash.startswith(digits.lower()):
        _fail(f"Entry {number} is not the one noted on paper: its hash begins {entry_hash[: len(digits)]}.", 1)
    click.echo(f"Entry {number} is the one noted on paper.")


@main.command()
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), help="Write the label and the waste log here.")
@click.option("--no-serve", is_flag=True, help="Stop once the lab is made and the documents are written.")
@click.option("--fresh", is_flag=True, help="Throw the demonstration lab away and play it anew.")
@click.option(
    "--now", "as_of", metavar="INSTANT", help="Play up to this instant (ISO 8601, UTC) instead of the present."
)
@click.option("--port", default=PORT, show_default=True, help="Port to listen on.")
def demo(out: Path | None, no_serve: bool, fresh: bool, as_of: str | None, port: int) -> None:
    """Make the demonstration lab, print who can sign in, and serve it on this machine.

    Refuses an instance that holds a real lab. A second run finds the lab made and starts at once.
    """
    now = _instant(as_of) if as_of else clock.now()
    with _application(create=True) as app:
        try:
            made = demo_show.make(app, now=now, fresh=fresh)
            written = demo_show.write_documents(app, out, now=now) if out else []
        except demo_show.RealLab as refusal:
            _fail(str(refusal), 1)
        click.echo(f"{'Played' if made else 'Found'} the demonstration lab.")
        for path in written:
            click.echo(f"Wrote {path}")
        for line in demo_show.sign_in_names():
            click.echo(line)
    if not no_serve:
        _serve(app, HOST, port)


def _instant(text: str) -> datetime:
    try:
        instant = datetime.fromisoformat(text)
    except ValueError:
        _fail(f"{text!r} is not an instant. Write it as 2026-05-14T17:00", 2)
    return instant.replace(tzinfo=UTC) if instant.tzinfo is None else instant.astimezone(UTC)


def _serve(app: Flask, host: str, port: int) -> None:
    """Serve pages, and do what is due in the background, until Ctrl-C or the system stops it."""
    signal.signal(signal.SIGTERM, _leave)
    server = listen(app, host, port)
    runner = Runner(app)
    runner.start()
    click.echo(f"Serving on http://{host}:{port} (stop with Ctrl-C)")
    try:
        server.run()
    finally:
        runner.stop()


def listen(app: Flask, host: str, port: int) -> waitress.server.BaseWSGIServer | waitress.server.MultiSocketServer:
    """A server of pages that listens already: whoever comes before it runs waits and is answered."""
    gc.collect()
    gc.freeze()  # what the application is made of stays: no need to look through it for garbage again and again
    gc.set_threshold(10_000, 20, 20)
    return waitress.server.create_server(app, listen=f"{host}:{port}", threads=THREADS, ident=None)


@contextmanager
def _application(*, create: bool = False) -> Iterator[Flask]:
    try:
        app = create_app(load_config(create=create))
    except ConfigError as error:
        _fail(str(error), 2)
    with app.app_context():
        try:
            yield app
        finally:
            db.session.remove()
            db.engine.dispose()


def _fail(message: str, status: int) -> NoReturn:
    click.echo(message, err=True)
    sys.exit(status)

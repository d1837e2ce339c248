"""Sending what is due over SMTP: each message is claimed, handed over, and its outcome written down."""

import smtplib
import ssl
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from email.headerregistry import Address
from email.message import EmailMessage
from email.utils import format_datetime

from labsys import clock
from labsys.config import Config
from labsys.database import DbSession
from labsys.jobs.kinds import JobFailed, Kind, Made, Task
from labsys.mail import rules, service
from labsys.people.models import Person
from labsys.records import queries as records

PATIENCE_S = 30
LOOKED_EVERY = timedelta(seconds=30)
SENT_FOR = timedelta(minutes=1)  # then other jobs have their turn
_CLOSING = 421  # the server closes the channel: nothing was refused


class ServerUnreachable(Exception):
    """The mail server cannot be reached or does not let us in; the message names the setting to look at."""


class _Refused(Exception):
    """The server refused this message."""


@dataclass(frozen=True)
class Outcome:
    """What one run did."""

    sent: int = 0
    refused: int = 0
    given_up: int = 0


def compose(claimed: service.Claimed, *, config: Config, lab_name: str, now: datetime) -> EmailMessage:
    """Write a claimed message as it goes over the wire: plain text with its link, marked as written by a machine."""
    sender = config.mail_from
    message = EmailMessage()
    message["From"] = Address(lab_name, *sender.rsplit("@", 1))
    message["To"] = Address(rules.one_line(claimed.name, limit=Person.NAME_LENGTH), addr_spec=claimed.address)
    message["Subject"] = claimed.subject
    message["Date"] = format_datetime(now)
    message["Message-ID"] = rules.message_id(mail_id=claimed.id, reason_key=claimed.reason_key, sender=sender)
    message["Auto-Submitted"] = "auto-generated"
    link = f"\nOpen it here: {config.public_url}{claimed.path}\n" if claimed.path else ""
    message.set_content(claimed.body.rstrip("\n") + "\n" + link)
    return message


def send_due(
    session: DbSession,
    *,
    config: Config,
    clock_now: Callable[[], datetime] = clock.now,
    should_stop: Callable[[], bool] = lambda: False,
) -> Outcome:
    """Send every message that is due, one at a time, over one connection.

    Raises ServerUnreachable. The message in hand is then let go, or stays claimed where it may have left already.
    """
    lab = records.lab_or_none(session)
    if lab is None:
        return Outcome()
    sent = refused = given_up = 0
    lab_name = lab.name
    with _connection(config) as server:
        while not should_stop() and (claimed := service.claim_next(session, now=clock_now())) is not None:
            try:
                if not claimed.address.isascii():
                    raise _Refused("The mail server is not asked to take addresses beyond plain Latin letters.")
                message = compose(claimed, config=config, lab_name=lab_name, now=clock_now())
                _hand_over(server, message, sender=config.mail_from, recipient=claimed.address)
            except _Refused as refusal:
                refused += 1
                given_up += service.note_refused(session, mail_id=claimed.id, error=str(refusal), now=clock_now())
            except ServerUnreachable:
                service.release(session, mail_id=claimed.id)
                raise
            except OSError as error:
                raise ServerUnreachable(f"The mail server went away while it was taking a message: {error}") from error
            else:
                sent += 1
                service.note_sent(session, mail_id=claimed.id, now=clock_now())
    return Outcome(sent, refused, given_up)


@contextmanager
def _connection(config: Config) -> Iterator[smtplib.SMTP]:
    where = f"{config.mail_server}:{config.mail_port}"
    server: smtplib.SMTP
    try:
        if config.mail_security == "tls":
            context = ssl.create_default_context()
            server = smtplib.SMTP_SSL(config.mail_server, config.mail_port, timeout=PATIENCE_S, context=context)
        else:
            server = smtplib.SMTP(config.mail_server, config.mail_port, timeout=PATIENCE_S)
    except OSError as error:
        raise ServerUnreachable(f"The mail server {where} (LABSYS_MAIL_SERVER) cannot be reached: {error}") from error
    try:
        try:
            if config.mail_security == "starttls":
                server.starttls(context=ssl.create_default_context())
            if config.mail_user:
                server.login(config.mail_user, config.mail_password)
            server.ehlo_or_helo_if_needed()
        except OSError as error:
            raise ServerUnreachable(
                f"The mail server {where} does not let us in (LABSYS_MAIL_SECURITY, LABSYS_MAIL_USER): {error}"
            ) from error
        yield server
    finally:
        with suppress(OSError):
            server.quit()
        server.close()


def _hand_over(server: smtplib.SMTP, message: EmailMessage, *, sender: str, recipient: str) -> None:
    """Hand one message to the server.

    Raises _Refused when the server says no, and ServerUnreachable when it went away before it was given the text.
    When it goes away later an OSError passes through, as all errors of smtplib are: the message may have left.
    """
    try:
        server.rset()
        _expect_ok(server.mail(sender))
        _expect_ok(server.rcpt(recipient))
    except OSError as error:
        raise ServerUnreachable(f"The mail server went away: {error}") from error
    try:
        _expect_ok(server.data(message.as_bytes(policy=message.policy.clone(linesep="\r\n"))))
    except smtplib.SMTPDataError as error:
        _expect_ok((error.smtp_code, error.smtp_error if isinstance(error.smtp_error, bytes) else b""))


def _expect_ok(answer: tuple[int, bytes]) -> None:
    code, words = answer
    if code == _CLOSING:
        raise ServerUnreachable("The mail server is closing down (421).")
    if code // 100 != 2:
        raise _Refused(f"{code} {words.decode('utf-8', 'replace')}")


def send(task: Task) -> Made:
    """Send what is due, for a minute at most. The demonstration, whose people are invented, writes to nobody."""
    if not task.config.mail_server:
        return Made("No mail server is set, so mail waits in the outbox.")
    if records.the_lab(task.session).is_demo:
        return Made("This is the demonstration, so mail waits in the outbox.")
    until = task.now() + SENT_FOR

    def should_stop() -> bool:
        return task.should_stop() or task.now() > until

    try:
        outcome = send_due(task.session, config=task.config, clock_now=task.now, should_stop=should_stop)
    except ServerUnreachable as error:
        raise JobFailed(str(error)) from error
    return Made(f"Sent {outcome.sent}, refused {outcome.refused}.")


SEND_MAIL = Kind(name="mail", title="Send mail", run=send, tries=1, every=LOOKED_EVERY)

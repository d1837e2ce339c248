"""Mail leaves through a real SMTP server: once, and never twice, whatever goes wrong on the way."""

import os
import signal
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from flask import Flask
from sqlalchemy import func, select, update

from labsys import cli, clock
from labsys.config import Config
from labsys.database import DbSession
from labsys.jobs.kinds import kinds_of
from labsys.jobs.models import Job
from labsys.jobs.runner import Runner
from labsys.mail import queries, rules, sending, service
from labsys.mail.kinds import BOOKING, Message
from labsys.mail.models import OutgoingMail
from labsys.people import service as people
from labsys.people.models import Person
from labsys.records.models import Lab
from labsys.records.transactions import transaction
from tests.mail.post_office import PostOffice, free_port
from tests.support.lab import SmallLab
from tests.support.processes import NewProcess, OwnProcess
from tests.support.waiting import wait_until

SECOND = timedelta(seconds=1)
MINUTE = timedelta(minutes=1)
ELEVEN_MINUTES = 11 * MINUTE

StartSender = Callable[..., OwnProcess]


@transaction
def write(session: DbSession, *, person: Person, reason_key: str, now: datetime, later: timedelta = 0 * MINUTE) -> bool:
    """An act that mails, as a booking does; `later` as after the mail server refused it."""
    message = Message(
        BOOKING, reason_key, "Your place is booked", "Film sink, Tuesday 9:00. Γεια σου.\n", "/bookings/3"
    )
    queued = service.queue(session, message, to=person, by=None, now=now)
    session.execute(update(OutgoingMail).where(OutgoingMail.reason_key == reason_key).values(send_at=now + later))
    return queued


@pytest.fixture
def config(app: Flask, post_office: PostOffice) -> Config:
    return replace(app.config["LABSYS"], **post_office.settings())


def run_labsys() -> None:
    cli.main()


@pytest.fixture
def start_sender(new_process: NewProcess, tmp_path: Path) -> StartSender:
    """Run a labsys command in a process of its own, on the test's database."""

    def start(config: Config, *command: str) -> OwnProcess:
        (tmp_path / "secret_key").write_text(config.secret_key)
        mail = {
            f"LABSYS_{name.upper()}": str(getattr(config, name))
            for name in ("mail_server", "mail_port", "mail_security", "mail_from")
        }
        paths = {"LABSYS_INSTANCE": str(tmp_path), "LABSYS_DATABASE_URL": config.database_url}
        return new_process(run_labsys, *(command or ["send-mail"]), environment={**os.environ, **paths, **mail})

    return start


def send(lab: SmallLab, config: Config, *, now: datetime | None = None) -> sending.Outcome:
    return sending.send_due(lab.session, config=config, clock_now=lambda: now or lab.now)


def rows(session: DbSession) -> list[OutgoingMail]:
    session.rollback()
    return list(session.execute(select(OutgoingMail).order_by(OutgoingMail.id)).scalars())


def write_many(lab: SmallLab, count: int) -> None:
    for number in range(count):
        write(lab.session, person=lab.person("member"), reason_key=f"booking {number} made", now=lab.now)


def test_a_message_arrives_whole_and_is_marked(lab: SmallLab, config: Config, post_office: PostOffice):
    write(lab.session, person=lab.person("member"), reason_key="booking 1 made", now=lab.now)
    assert send(lab, config) == sending.Outcome(sent=1)
    (letter,) = post_office.letters
    assert letter["To"].addresses[0].display_name == "Łukasz Żak"
    assert letter["To"].addresses[0].addr_spec == "member@example.org"
    assert str(letter["From"]) == "Alder Street Darkroom <lab@alder.example>"
    assert letter["Subject"] == "Your place is booked"
    assert letter["Auto-Submitted"] == "auto-generated"
    assert letter.get_content().replace("\r\n", "\n") == (
        "Film sink, Tuesday 9:00. Γεια σου.\n\nOpen it here: http://127.0.0.1:8000/bookings/3\n"
    )
    (mail,) = rows(lab.session)
    assert (mail.sent_at, mail.sending_since) == (lab.now, None)
    assert send(lab, config) == sending.Outcome()


def test_the_same_reason_never_mails_twice(lab: SmallLab, config: Config, post_office: PostOffice):
    person = lab.person("member")
    assert write(lab.session, person=person, reason_key="booking 1 made", now=lab.now)
    assert not write(lab.session, person=person, reason_key="booking 1 made", now=lab.tick())
    send(lab, config)
    assert not write(lab.session, person=person, reason_key="booking 1 made", now=lab.tick())
    assert len(post_office.letters) == 1


def test_mail_falls_with_the_act_that_caused_it(lab: SmallLab):
    @transaction
    def fails(session: DbSession, *, person: Person) -> None:
        service.queue(session, Message(BOOKING, "x", "s", "b", "/"), to=person, by=None, now=lab.now)
        raise RuntimeError

    with pytest.raises(RuntimeError):
        fails(lab.session, person=lab.person("member"))
    assert rows(lab.session) == []


def test_nothing_leaves_before_its_time(lab: SmallLab, config: Config):
    write(lab.session, person=lab.person("member"), reason_key="reminder", now=lab.now, later=30 * MINUTE)
    assert send(lab, config, now=lab.now + 29 * MINUTE).sent == 0
    assert send(lab, config, now=lab.now + 30 * MINUTE).sent == 1


def test_nobody_who_left_is_written_to(lab: SmallLab, config: Config, post_office: PostOffice):
    write_many(lab, 2)
    people.close_account(lab.act("manager"), person_id=lab.ids["member"])
    write(lab.session, person=lab.person("technician"), reason_key="other", now=lab.now)
    assert send(lab, config).sent == 1
    assert [letter["To"].addresses[0].addr_spec for letter in post_office.letters] == ["technician@example.org"]
    assert [mail.last_error for mail in rows(lab.session)] == ["The person has left the lab."] * 2 + [""]


@pytest.mark.parametrize("answer", ["451 4.7.1 Try later", "550 5.1.1 No such mailbox"])
@pytest.mark.parametrize("at", ["at_recipient", "at_text"])
def test_a_refused_message_is_tried_later_and_at_last_given_up(
    lab: SmallLab, config: Config, post_office: PostOffice, answer: str, at: str
):
    write_many(lab, 1)
    setattr(post_office, at, answer)
    now = lab.now
    for wait in rules.WAITS:
        assert send(lab, config, now=now) == sending.Outcome(refused=1)
        assert send(lab, config, now=now + wait - timedelta(seconds=1)) == sending.Outcome()
        now += wait
    assert send(lab, config, now=now) == sending.Outcome(refused=1, given_up=1)
    (mail,) = rows(lab.session)
    assert (mail.given_up_at, mail.tries, mail.last_error) == (now, 6, answer)
    assert send(lab, config, now=now + timedelta(days=30)) == sending.Outcome()
    assert post_office.letters == []


def test_one_refused_message_does_not_hold_up_the_others(lab: SmallLab, config: Config, post_office: PostOffice):
    write_many(lab, 1)
    post_office.at_recipient = "450 4.2.1 Mailbox busy"
    send(lab, config)
    post_office.at_recipient = "250 OK"
    write(lab.session, person=lab.person("technician"), reason_key="other", now=lab.now)
    assert send(lab, config) == sending.Outcome(sent=1)


def test_when_the_server_is_down_mail_waits_and_no_try_is_counted(lab: SmallLab, config: Config):
    write_many(lab, 3)
    with pytest.raises(sending.ServerUnreachable, match="LABSYS_MAIL_SERVER"):
        send(lab, replace(config, mail_port=free_port()))
    assert [(mail.tries, mail.sending_since) for mail in rows(lab.session)] == [(0, None)] * 3
    assert send(lab, config).sent == 3


def test_a_server_that_closes_down_has_refused_nothing(lab: SmallLab, config: Config, post_office: PostOffice):
    write_many(lab, 1)
    post_office.at_recipient = "421 4.3.2 Closing"
    with pytest.raises(sending.ServerUnreachable, match="closing down"):
        send(lab, config)
    (mail,) = rows(lab.session)
    assert (mail.tries, mail.sending_since) == (0, None)


def test_a_password_is_never_sent_to_a_server_without_encryption(lab: SmallLab, config: Config):
    write_many(lab, 1)
    with pytest.raises(sending.ServerUnreachable, match="LABSYS_MAIL_SECURITY"):
        send(lab, replace(config, mail_security="starttls", mail_user="lab", mail_password="secret"))
    assert rows(lab.session)[0].sending_since is None


def test_when_the_line_breaks_after_the_text_nobody_knows_and_it_is_not_sent_again(
    lab: SmallLab, config: Config, post_office: PostOffice
):
    write_many(lab, 1)
    post_office.hangs_up = True
    with pytest.raises(sending.ServerUnreachable, match="while it was taking a message"):
        send(lab, config)
    post_office.hangs_up = False
    later = lab.now + ELEVEN_MINUTES
    assert send(lab, config, now=later) == sending.Outcome()
    assert queries.counts(lab.session, now=later) == queries.Counts(waiting=0, late=0, given_up=0, not_known=1)
    assert len(post_office.letters) == 1


def test_an_address_the_server_cannot_take_is_a_refusal_and_not_a_crash(lab: SmallLab, config: Config):
    person = lab.person("member")
    person.email = "łukasz@example.org"
    lab.session.commit()
    write_many(lab, 1)
    assert send(lab, config) == sending.Outcome(refused=1)

    # Several senders, and senders that die


def test_two_senders_in_two_processes_send_fifty_messages_once_each(
    lab: SmallLab, config: Config, post_office: PostOffice, start_sender: StartSender
):
    lab.now = clock.now() - MINUTE
    write_many(lab, 50)
    post_office.hesitates_s = 0.05
    senders = [start_sender(config) for _ in range(2)]
    for sender in senders:
        assert sender.wait() == 0, sender.communicate()
    arrived = [letter["Message-ID"] for letter in post_office.letters]
    assert len(arrived) == 50
    assert len(set(arrived)) == 50
    assert all(mail.sent_at for mail in rows(lab.session))
    parts = [int(sender.communicate()[0].split("Sent ")[1].split(",")[0]) for sender in senders]
    assert sum(parts) == 50
    assert min(parts) > 0


def test_a_sender_killed_between_sending_and_marking_leaves_a_message_that_only_a_manager_sends_again(
    lab: SmallLab, config: Config, post_office: PostOffice, start_sender: StartSender
):
    lab.now = clock.now() - MINUTE
    write_many(lab, 1)
    post_office.hesitates_s = 30
    sender = start_sender(config)
    wait_until(lambda: len(post_office.letters) == 1)
    sender.send_signal(signal.SIGKILL)
    sender.communicate()
    post_office.hesitates_s = 0
    later = clock.now() + ELEVEN_MINUTES
    assert send(lab, config, now=later) == sending.Outcome()
    assert queries.counts(lab.session, now=later).not_known == 1
    mail_id = rows(lab.session)[0].id
    with pytest.raises(rules.MailRefused, match="being sent"):
        service.send_again(lab.act("manager", now=clock.now()), mail_id=mail_id)
    service.send_again(lab.act("manager", now=later), mail_id=mail_id)
    assert send(lab, config, now=later) == sending.Outcome(sent=1)
    first, second = post_office.letters
    assert first["Message-ID"] == second["Message-ID"]

    # The commands


def test_send_mail_says_what_it_did_and_what_is_left(
    lab: SmallLab, config: Config, post_office: PostOffice, start_sender: StartSender
):
    lab.now = clock.now() - MINUTE
    write_many(lab, 2)
    write(lab.session, person=lab.person("member"), reason_key="later", now=lab.now, later=timedelta(hours=1))
    sender = start_sender(config)
    output, _ = sender.communicate()
    assert (sender.returncode, output) == (0, "Sent 2, waiting 1, given up 0, not known whether it left 0.\n")
    down = start_sender(replace(config, mail_port=free_port()))
    output, errors = down.communicate()
    assert (down.returncode, output.split(",")[1]) == (1, " waiting 1")
    assert "cannot be reached" in errors


@pytest.mark.sqlite_only
def test_send_mail_without_a_server_says_which_setting_is_missing(lab: SmallLab, app: Flask, start_sender: StartSender):
    sender = start_sender(app.config["LABSYS"])
    _, errors = sender.communicate()
    assert sender.returncode == 2
    assert "LABSYS_MAIL_SERVER" in errors


@pytest.mark.sqlite_only
def test_serve_sends_by_itself_and_stops_cleanly(
    lab: SmallLab, config: Config, post_office: PostOffice, start_sender: StartSender
):
    lab.now = clock.now() - MINUTE
    write_many(lab, 3)
    post_office.hesitates_s = 0.2
    server = start_sender(config, "serve", "--port", str(free_port()))
    wait_until(lambda: len(post_office.letters) >= 2)
    server.send_signal(signal.SIGTERM)
    _, errors = server.communicate()
    assert server.returncode == 0, errors
    assert all(mail.sending_since is None for mail in rows(lab.session))
    assert sum(mail.sent_at is not None for mail in rows(lab.session)) == len(post_office.letters)


@pytest.mark.sqlite_only
def test_mail_goes_on_after_the_server_was_down(lab: SmallLab, app: Flask, config: Config, post_office: PostOffice):
    lab.now = clock.now() - MINUTE
    write_many(lab, 1)
    app.config["LABSYS"] = replace(config, mail_port=free_port())
    Runner(app, clock_now=lambda: lab.now).step()
    assert "LABSYS_MAIL_SERVER" in told_of_mail(lab).last_error
    app.config["LABSYS"] = config
    assert Runner(app, clock_now=lambda: lab.now).step() == 0
    lab.now += sending.LOOKED_EVERY
    Runner(app, clock_now=lambda: lab.now).step()
    assert told_of_mail(lab).last_error == ""
    assert told_of_mail(lab).says == "Sent 1, refused 0."
    assert len(post_office.letters) == 1
    assert rows(lab.session)[0].sent_at is not None


@pytest.mark.sqlite_only
def test_mail_gives_way_after_a_minute_and_the_rest_goes_next_time(
    lab: SmallLab, app: Flask, config: Config, post_office: PostOffice, monkeypatch: pytest.MonkeyPatch
):
    write_many(lab, 5)
    app.config["LABSYS"] = config
    ticking = iter(range(1_000))
    only_mail = {name: kind for name, kind in kinds_of(app).items() if name == "mail"}
    monkeypatch.setitem(app.extensions, "labsys-jobs", only_mail)  # what is done every minute would never end
    Runner(app, clock_now=lambda: lab.now + next(ticking) * 10 * SECOND).step()
    assert 0 < len(post_office.letters) < 5
    lab.now += timedelta(hours=3)
    Runner(app, clock_now=lambda: lab.now).step()
    assert len(post_office.letters) == 5


@pytest.mark.sqlite_only
def test_the_demonstration_writes_to_nobody(lab: SmallLab, app: Flask, config: Config, post_office: PostOffice):
    write_many(lab, 1)
    lab.session.execute(update(Lab).values(is_demo=True))
    lab.session.commit()
    app.config["LABSYS"] = config
    Runner(app, clock_now=lambda: lab.now).step()
    assert "demonstration" in told_of_mail(lab).says
    assert post_office.letters == []


def test_counting_is_one_query_over_all_states(lab: SmallLab):
    write_many(lab, 3)
    assert queries.counts(lab.session, now=lab.now) == queries.Counts(waiting=3, late=0, given_up=0, not_known=0)
    assert lab.session.execute(select(func.count()).select_from(OutgoingMail)).scalar_one() == 3


def told_of_mail(lab: SmallLab) -> Job:
    lab.session.rollback()
    return lab.session.execute(select(Job).where(Job.kind == "mail")).scalar_one()

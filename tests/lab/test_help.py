"""Help from every page: without signing in, with the database down, and with the numbers of the lab's nation."""

from pathlib import Path

import pytest
from sqlalchemy import text as sql

from labsys.config import Config
from labsys.hazards.first_aid import FIRST_AID, SPILLS
from labsys.lab.telephones import pieces_of
from labsys.people.models import Role
from labsys.records import queries as records
from tests.support.pages import HTML, fill_in, links, send, source, text, tree, words

RELEASE = (
    "Nobody goes back in, even to rescue, until a named competent person releases the room; never judged by smell. "
    "White light on: film does not matter."
)


def in_order(page, *wanted):
    at = [page.index(part) for part in wanted]
    assert at == sorted(at)


@pytest.mark.sqlite_only
def test_who_is_not_signed_in_reads_all_of_it_with_999_before_the_line_of_the_lab(lab, client_as):
    stated = records.the_lab(lab.session)
    stated.eyewash, stated.hospital, stated.first_aider = "left of the film sink", "Mill Road", "Sol, 01632 960 152"
    lab.session.commit()
    answer = client_as().get("/help")
    page, said = source(answer), text(answer)
    in_order(page, 'href="tel:999"', 'href="tel:01632960000"', "Rinse. 20 minutes.")
    assert 'href="tel:01632960152"' in page
    for told in ("left of the film sink", "Mill Road", "Out of hours", "not stated: ask the lab's manager"):
        assert told in said
    assert f"Out, door shut. {RELEASE}" in said
    assert "Never acid on it: that frees a poisonous gas." in said
    assert all(aid.then in said for aid in FIRST_AID)
    assert all(spill.do in said for spill in SPILLS)


@pytest.mark.sqlite_only
@pytest.mark.parametrize("role", [None, *Role])
def test_every_kind_of_page_is_one_touch_from_help(client_as, role):
    client = client_as(role)
    for path in ("/", "/sign-in", "/nowhere", "/lab", "/baths", "/tablet", "/help", "/sign-out"):
        answer = client.get(path, follow_redirects=True)
        assert "/help" in links(source(answer)), (path, answer.status)


@pytest.mark.sqlite_only
@pytest.mark.parametrize("status", ["500", "503"])
def test_the_pages_of_a_fault_lead_to_help_too(app, status):
    with app.test_request_context():
        assert "/help" in links(app.jinja_env.get_template(f"error/{status}.html").render(look=None))


@pytest.mark.sqlite_only
@pytest.mark.parametrize(("nation", "number", "other"), [("Wales", "999", "112"), ("another nation", "112", "999")])
def test_the_number_is_that_of_the_nation(lab, client_as, nation, number, other):
    records.the_lab(lab.session).nation = nation
    lab.session.commit()
    client = client_as("member")
    for path in ("/help", "/help/no-network", "/incidents/report"):
        page = source(client.get(path))
        assert f'href="tel:{number}"' in page, path
        assert f'href="tel:{other}"' not in page, path
        assert ("Where your country has another number, ring that one." in page) is (number == "112"), path


@pytest.fixture
def take_away(lab):
    """Take the lab's table away, so that every page asks the database in vain; it comes back when the test ends."""
    taken = []

    def rename(before, after):
        lab.session.rollback()
        lab.session.execute(sql(f"ALTER TABLE {before} RENAME TO {after}"))
        lab.session.commit()

    def take():
        rename("lab", "taken_away")
        taken.append(True)

    yield take
    if taken:
        rename("taken_away", "lab")


def test_with_the_database_down_help_is_as_the_lab_last_stated_it(lab, client_as, take_away):
    records.the_lab(lab.session).eyewash = "right of the door"
    lab.session.commit()
    client = client_as()
    assert client.get("/sign-in").status_code == 200  # any page notes what the lab states now
    take_away()
    client.set_cookie("look", "low")
    answer = client.get("/help")
    assert answer.status_code == 200
    assert "right of the door" in text(answer)
    assert 'data-look="low"' in source(answer)
    assert RELEASE in text(answer)
    assert 'href="tel:01632960000"' in source(answer)


@pytest.mark.sqlite_only
def test_a_change_of_the_settings_is_in_the_copy_at_once(client_as, take_away):
    assert fill_in(client_as("manager"), "/lab", eyewash="under the clock").status_code == 303
    take_away()
    assert "under the clock" in text(client_as().get("/help"))


@pytest.mark.sqlite_only
def test_with_neither_database_nor_copy_what_to_do_first_stands_all_the_same(app, client_as, take_away):
    config: Config = app.config["LABSYS"]
    for name in ("help.html", "help-no-network.html"):
        Path(config.instance / name).unlink(missing_ok=True)
    take_away()
    said = text(client_as().get("/help"))
    assert "Rinse. 20 minutes." in said
    assert "Where your country has another number, ring that one." in said


@pytest.mark.sqlite_only
def test_the_page_needs_nothing_but_itself(client_as):
    answer = client_as().get("/help")
    page = tree(source(answer))
    assert [link.get("rel") for link in page.iter(HTML + "link")] == ["icon"]
    assert "'sha256-" in answer.headers["Content-Security-Policy"]
    assert words(next(page.iter(HTML + "style")))


@pytest.mark.sqlite_only
def test_what_a_device_keeps_for_no_network_says_that_nobody_was_told(client_as):
    page = client_as().get("/help/no-network")
    assert "NOBODY HAS BEEN TOLD. Ring 999 if anybody is hurt" in text(page)
    assert 'href="tel:01632960000"' in source(page)
    with client_as().get("/worker.js") as worker:
        assert worker.mimetype in ("text/javascript", "application/javascript")
        assert "connect-src 'self'" in worker.headers["Content-Security-Policy"]


@pytest.mark.parametrize("sends", [False, True])
def test_a_report_that_the_database_failed_says_that_nobody_was_told(
    app, lab, client_as, take_away, monkeypatch, sends
):
    monkeypatch.setitem(
        app.config, "PROPAGATE_EXCEPTIONS", False
    )  # PostgreSQL calls a table gone no failure of its own
    records.the_lab(lab.session).emergency = f"the porter, 01632 96011{sends:d}"
    lab.session.commit()
    client, path = client_as("member"), "/incidents/report"
    opened = source(client.get(path))  # any page notes what the lab states now
    take_away()
    answer = send(client, path, opened=opened, kind="burn", what="Acid") if sends else client.get(path)
    assert answer.status_code in (500, 503)
    said = text(answer)
    assert "NOBODY HAS BEEN TOLD. Ring 999 if anybody is hurt or it burns, and here the porter" in said
    assert f'href="tel:0163296011{sends:d}"' in source(answer)
    assert "NOBODY HAS BEEN TOLD" not in text(client.get("/baths"))


@pytest.mark.sqlite_only
def test_a_report_sent_from_a_page_that_stood_open_too_long_says_so_too(lab, client_as):
    records.the_lab(lab.session).emergency = "the porter, 01632 960113"
    lab.session.commit()
    client = client_as("member")
    assert client.get("/incidents/report").status_code == 200  # any page notes what the lab states now
    said = text(client.post("/incidents/report", data={"what": "Acid"}))
    assert "This page had been open too long" in said
    assert "NOBODY HAS BEEN TOLD. Ring 999 if anybody is hurt or it burns, and here the porter" in said
    assert "NOBODY HAS BEEN TOLD" not in text(client.post("/sign-in", data={}))


@pytest.mark.sqlite_only
@pytest.mark.parametrize("kept", [None, "half a fi"])
def test_a_failed_report_without_a_copy_gives_the_number_that_holds_in_most_places(app, client_as, take_away, kept):
    config: Config = app.config["LABSYS"]
    copy = Path(config.instance / "emergency.json")
    copy.unlink(missing_ok=True)
    take_away()
    if kept:
        copy.write_text(kept, encoding="utf-8")
    said = text(client_as("member").get("/incidents/report"))
    assert "NOBODY HAS BEEN TOLD. Ring 112" in said
    assert "Where your country has another number, ring that one." in said


TEXTS = [
    ("Front desk 01632 960147, 18:00 to 22:00", ["tel:01632960147"]),
    ("01632 960147 18:00", ["tel:01632960147"]),
    ("(01632) 960 147 or 01632-960-148", ["tel:01632960147", "tel:01632960148"]),
    ("+44 (0)1632 960147", ["tel:+441632960147"]),
    ("emergency services 999", ["tel:999"]),
    ("By the door; dial 9 for an outside line, room 214", []),
    ("3 Tannery Lane, 10 minutes by car", []),
    ("", []),
]


@pytest.mark.parametrize(("stated", "rung"), TEXTS)
def test_numbers_in_what_a_lab_states_can_be_rung(stated, rung):
    """What is a telephone number: common practice, no source."""
    pieces = pieces_of(stated)
    assert [piece.href for piece in pieces if piece.href] == rung
    assert "".join(piece.text for piece in pieces) == stated

import pytest
from sqlalchemy import select

from labsys import clock
from labsys.ledger import queries as ledger
from labsys.ledger.models import Unit
from labsys.mail.models import OutgoingMail
from labsys.waste import queries, service
from labsys.waste.models import Collection, Pour, Quarantine, WasteContainer, WasteStream
from tests.support.pages import hidden_field, queries_of, send, source, text
from tests.waste.sending import ASKED, RESTATED, RIGHT, WRONG, L, pour_path

pytestmark = pytest.mark.sqlite_only


# What stands where


def test_a_lab_without_streams_is_told_to_add_the_first(lab, technician, member):
    for stream in queries.streams(lab.session):
        lab.session.delete(stream)
    lab.session.commit()
    assert "Add a stream" in source(technician.get("/waste"))
    page = source(member.get("/waste"))
    assert "No streams of waste yet" in page
    assert "/waste/streams/add" not in page


def test_a_stream_without_a_container_says_so_and_offers_one(lab, technician):
    page = source(technician.get("/waste"))
    assert page.count("No container open for it") == 3
    assert f"/waste/containers/open?stream={lab.stream('09 01 04*').id}" in page


def test_the_page_shows_each_container_with_how_full_it_is_in_words(lab, member):
    container = lab.open_container(capacity_ml=1_000)
    send(member, pour_path(container), **{**RIGHT, "volume": "950 mL"})
    page = source(member.get("/waste"))
    assert container.label in page
    assert "Nearly full: 950 mL of 1 L. Room for 50 mL." in page
    assert "Hand over" not in page


def test_the_number_of_queries_does_not_grow_with_the_rows(lab, technician):
    def more(number):
        for index in range(number):
            collected, kept = lab.open_container(), lab.open_container()
            for one in (collected, kept):
                send(technician, pour_path(one), **RIGHT)
            send(technician, pour_path(kept), **WRONG)
            lab.state(collected)
            service.collect(
                lab.act("technician"),
                handed_over=[service.HandedOver(collected.id)],
                note_code=f"NOTE/{collected.id}/{index}",
                carrier="Carrier",
                collected_at=clock.now(),
            )

    more(2)
    paths = ["/waste", "/waste/collect"]
    before = [queries_of(technician, path) for path in paths]
    more(4)
    assert [queries_of(technician, path) for path in paths] == before
    assert max(before) <= 20


def test_collections_come_in_pages_by_key(lab, technician):
    for number in range(1, 13):
        container = lab.open_container()
        send(technician, pour_path(container), **RIGHT)
        lab.state(container)
        service.collect(
            lab.act("technician"),
            handed_over=[service.HandedOver(container.id)],
            note_code=f"ALDERS/{number:05d}",
            carrier="Carrier",
            collected_at=clock.now(),
        )
    first = source(technician.get("/waste"))
    assert "ALDERS/00012" in first
    assert "ALDERS/00002" not in first
    oldest_shown = lab.session.execute(select(Collection.id).where(Collection.note_code == "ALDERS/00003")).scalar_one()
    assert f"/waste?before={oldest_shown}" in first
    second = source(technician.get(f"/waste?before={oldest_shown}"))
    assert "ALDERS/00002" in second
    assert "ALDERS/00003" not in second

    # Streams and containers


def test_a_stream_is_added_by_its_code(lab, technician):
    answer = send(technician, "/waste/streams/add", code="09 01 05*", name="Used bleach")
    assert answer.status_code == 303
    assert lab.stream("09 01 05*").name == "Used bleach"


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"code": "09 01 05*", "name": ""}, "Give it a name people here know"),
        ({"code": "09 01 04*", "name": "Second fixer"}, "Choose what is on the list"),
        ({"code": "09 01 05*", "name": "Used fixer"}, "There is a stream called Used fixer already."),
        ({"code": "", "name": "Bleach"}, "Choose the kind of waste."),
    ],
)
def test_a_stream_that_cannot_be_is_refused_and_nothing_typed_is_lost(lab, technician, fields, message):
    answer = send(technician, "/waste/streams/add", **fields)
    assert answer.status_code == 422
    assert message in source(answer)
    assert fields["name"] in source(answer)
    assert lab.count(WasteStream) == 3


def test_a_container_is_opened_and_gets_its_code(lab, technician):
    stream = lab.stream("09 01 04*")
    path = f"/waste/containers/open?stream={stream.id}"
    assert f'value="{stream.id}" checked' in source(technician.get(path))
    answer = send(technician, path, stream=stream.id, capacity="25", place="под раковиной")
    container = lab.session.query(WasteContainer).one()
    assert answer.headers["Location"] == f"/waste/containers/{container.id}"
    assert container.vessel.capacity == 25 * L
    page = source(technician.get(answer.headers["Location"]))
    assert container.label in page
    assert "под раковиной" in page
    assert "Nothing yet." in page
    assert f"Leads to {container.label}" in page


def test_a_container_without_a_size_is_refused(lab, technician):
    answer = send(technician, "/waste/containers/open", stream=lab.stream("09 01 04*").id, capacity="")
    assert answer.status_code == 422
    assert "Enter how much the container holds." in source(answer)
    assert lab.count(WasteContainer) == 0


def test_a_container_says_what_it_takes_and_what_it_must_not_meet(lab, member):
    page = source(member.get(f"/waste/containers/{lab.open_container('09 01 99').id}"))
    assert "wastes not otherwise specified" in page
    assert "Acetic stop concentrate" in page
    assert "frees sulfur dioxide" in page
    assert "Pour into it" in page


def test_there_is_no_such_container(member):
    for path in ("/waste/containers/999", "/waste/containers/999/pour", "/waste/collections/999"):
        assert member.get(path).status_code == 404

        # Pouring


def test_a_right_pour_is_recorded_and_the_container_goes_on(lab, member):
    container = lab.open_container()
    answer = send(member, pour_path(container), **RIGHT)
    assert answer.status_code == 303
    made = lab.session.query(Pour).one()
    assert (made.volume_ul, made.wrong_because, made.recorded_by_id) == (600_000, "", lab.person("member").id)
    page = source(member.get(answer.headers["Location"]))
    assert "600 mL recorded." in page
    assert "Fixer used once" in page
    assert "not estimated" in page
    assert lab.count(Quarantine) == 0


def test_who_poured_is_shown_to_those_who_see_the_waste_log_only(lab, member, technician):
    container = lab.open_container()
    send(member, pour_path(container), **RIGHT)
    path = f"/waste/containers/{container.id}"
    assert "Łukasz Żak" in source(technician.get(path))
    assert source(member.get(path)).count("Łukasz Żak") == 1  # the member's own name at the head of the page


def test_a_wrong_pour_is_recorded_quarantines_and_shows_the_advice_first(lab, member):
    container = lab.open_container()
    answer = send(member, pour_path(container), **WRONG)
    assert answer.status_code == 303
    page = source(member.get(answer.headers["Location"]))
    advice, list_of_pours = page.index("Pour nothing more into it."), page.index("PQ developer 1+9")
    assert advice < page.index("What it takes") < list_of_pours
    assert "In quarantine" in page
    assert queries.container_or_raise(lab.session, container.id).quarantine is not None
    assert "Pour nothing more into it." in source(member.get("/waste"))
    assert queries.container_or_raise(lab.session, container.id).vessel.level == 600_000


def test_a_quarantine_is_written_once_to_whoever_may_release_it(lab, member, client_as):
    container = lab.open_container()
    send(member, pour_path(container), **WRONG)
    letters = lab.session.query(OutgoingMail).all()
    may_release = {lab.ids[role] for role in ("technician", "safety adviser", "manager")}
    assert {letter.person_id for letter in letters} == may_release
    assert letters[0].subject == f"In quarantine: {container.label}"
    assert "Pour nothing more into it." in letters[0].body
    assert "In quarantine" in source(client_as("safety adviser").get(letters[0].path))
    send(member, pour_path(container), **RIGHT, record_done="y")
    assert lab.count(OutgoingMail) == len(may_release)


def test_what_does_not_belong_is_stopped_before_it_is_poured(lab, member):
    container = lab.open_container()
    answer = send(member, pour_path(container), **ASKED)
    assert answer.status_code == 422
    page = text(answer)
    assert "Stop. Cap still on." in page
    assert f"Waste of code 09 01 01* does not go into Used fixer {container.label}, which takes 09 01 04*." in page
    assert "It has been poured already: record it" in source(answer)
    assert (lab.count(Pour), lab.count(Quarantine)) == (0, 0)


def test_a_second_pour_into_a_quarantined_container_is_recorded_and_flagged(lab, member):
    container = lab.open_container()
    send(member, pour_path(container), **WRONG)
    stopped = send(member, pour_path(container), **RIGHT)
    assert stopped.status_code == 422
    assert "is in quarantine. Use another container of this stream." in source(stopped)
    answer = send(member, pour_path(container), **RIGHT, record_done="y")
    page = source(member.get(answer.headers["Location"]))
    assert "The container was in quarantine when this was poured." in page
    assert [bool(one.wrong_because) for one in queries.pours_into(lab.session, container.id)] == [True, True]
    assert lab.count(Quarantine) == 1


def test_a_pour_beyond_capacity_is_refused_with_how_to_correct_it(lab, member):
    container = lab.open_container(capacity_ml=1_000)
    send(member, pour_path(container), **RIGHT)
    answer = send(member, pour_path(container), **{**RIGHT, "what": "Ένα ακόμη"})
    assert answer.status_code == 422
    assert "has room for 400 mL by the book" in source(answer)
    assert "correct its level first" in source(answer)
    assert "Ένα ακόμη" in source(answer)
    assert lab.count(Pour) == 1


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"volume": ""}, "Enter how much, with its unit"),
        ({"volume": "a jug"}, "Write a number and its unit"),
        ({"volume": "-5 L"}, "Enter an amount above zero."),
        ({"of": ""}, "Choose what it is: a product, a kind, or that it is not known."),
        ({"of": "product:99"}, "Choose what is on the list"),
        ({"waste_code": ""}, "Choose the kind of waste."),
        ({"what": ""}, "Say what it was"),
        ({"waste_code": "99 99 99"}, "Choose what is on the list"),
        ({"poured_at": "2999-01-01T10:00"}, "That is in the future."),
    ],
)
def test_a_pour_that_cannot_be_read_is_refused(lab, member, changes, message):
    container = lab.open_container()
    answer = send(member, pour_path(container), **{**RIGHT, **changes})
    assert answer.status_code == 422
    assert message in source(answer)
    assert lab.count(Pour) == 0


def test_sending_a_pour_twice_pours_once(lab, member):
    container = lab.open_container()
    for _ in range(2):
        answer = send(member, pour_path(container), key="one-and-the-same-key", **RIGHT)
        assert answer.status_code == 303
        assert answer.headers["Location"] == f"/waste/containers/{container.id}"
    assert lab.count(Pour) == 1


def test_a_member_may_pour_and_no_more(lab, member):
    container = lab.open_container()
    for path in (
        "/waste/streams/add",
        "/waste/containers/open",
        "/waste/collect",
        f"/waste/containers/{container.id}/release",
        f"/waste/containers/{container.id}/level",
        f"/waste/containers/{container.id}/quarantine",
    ):
        assert member.get(path).status_code == 403

        # Quarantine and level


def test_releasing_what_is_not_quarantined_is_refused(lab, technician):
    container = lab.open_container()
    path = f"/waste/containers/{container.id}/release"
    assert "It is not in quarantine" in source(technician.get(path))
    token = hidden_field(source(technician.get(pour_path(container))), "csrf_token")
    answer = technician.post(path, data={"csrf_token": token, "submission_key": "x" * 20, **RESTATED})
    assert answer.status_code == 422
    assert lab.count(Quarantine) == 0


@pytest.mark.parametrize(("typed", "level_ul"), [("0.5 L", 500_000), ("0", 0), ("450 mL", 450_000)])
def test_a_level_is_set_to_what_was_found_and_the_difference_is_unexplained(lab, technician, typed, level_ul):
    container = lab.open_container()
    send(technician, pour_path(container), **RIGHT)
    assert send(technician, f"/waste/containers/{container.id}/level", found=typed).status_code == 303
    assert queries.container_or_raise(lab.session, container.id).vessel.level == level_ul
    start, end = lab.now.replace(year=2025), lab.now.replace(year=2099)
    balance = ledger.balances(lab.session, start=start, end=end)[Unit.UL]
    assert balance.unexplained == 600_000 - level_ul
    assert balance.difference == 0


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("26 L", "holds 25 L when full"),
        ("600 mL", "Nothing to correct."),
        ("", "Enter how much is in it"),
        ("5", "Write the unit too"),
    ],
)
def test_a_level_that_cannot_be_is_refused(lab, technician, typed, message):
    container = lab.open_container()
    send(technician, pour_path(container), **RIGHT)
    answer = send(technician, f"/waste/containers/{container.id}/level", found=typed)
    assert answer.status_code == 422
    assert message in source(answer)

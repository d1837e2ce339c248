"""What leaves leaves with hazardous properties that are known: worked out, or stated by somebody competent."""

import pytest
from sqlalchemy import text as sql
from sqlalchemy.exc import DBAPIError

from labsys.waste.models import Collection, Pour, StatedProperties
from tests.support.pages import links, page_at, send, source, text
from tests.waste.sending import NOTE, RESTATED, RIGHT, WRONG, pour_path

HOW = "Letter of the consignee, 2 March 2026, ref. Ж-78"


@pytest.fixture
def adviser(client_as):
    return client_as("safety adviser")


@pytest.fixture
def poured(lab, member):
    """Fixer of which only the kind is known."""
    container = lab.open_container()
    assert send(member, pour_path(container), **{**RIGHT, "volume": "10 L"}).status_code == 303
    return container


def path_of(container, what="properties"):
    return f"/waste/containers/{container.id}{what and '/' + what}"


def state(client, container, properties="hp14, HP 5", reason=HOW):
    return send(client, path_of(container), properties=properties, reason=reason)


def hand_over(client, container):
    return send(client, "/waste/collect", containers=[container.id], **NOTE)


NOT_STATED = "State its hazardous properties first: not worked out (of fixer only the kind is known)."


def test_what_is_not_worked_out_stays_and_the_page_says_so_before_the_form_is_filled(lab, technician, poured):
    page = page_at(technician, "/waste/collect")
    assert f'value="{poured.id}" disabled' in page
    assert NOT_STATED in text(technician.get("/waste/collect"))
    assert path_of(poured) in links(page)
    assert path_of(poured) in links(page_at(technician, path_of(poured, "")))
    answer = hand_over(technician, poured)
    assert answer.status_code == 422
    assert f"{poured.label} stays. {NOT_STATED}" in text(answer)
    assert lab.count(Collection) == 0


def test_the_technician_states_them_with_how_they_know_and_it_leaves_with_them(lab, technician, poured):
    assert state(technician, poured).status_code == 303
    assert "HP 5, HP 14" in text(technician.get(path_of(poured, "")))
    assert f": {HOW}" in text(technician.get(path_of(poured, "")))
    label = text(technician.get(f"/documents/labels?label=container-{poured.id}&size=2+%C3%97+2&first=1"))
    assert "HP 5, HP 14. Silver:" in label
    assert "Hazardous properties: HP 5, HP 14." in text(technician.get("/waste/collect"))
    answer = hand_over(technician, poured)
    assert answer.status_code == 303
    page = text(technician.get(answer.location))
    assert "HP 5, HP 14" in page
    assert "09 01 04* fixer solutions: always hazardous" in page
    assert "fixer 10 L" in page
    log = text(technician.get("/documents/waste-log"))
    assert "HP 5, HP 14" in log
    assert "09 01 04* fixer solutions: always hazardous" in log
    assert state(technician, poured).status_code == 422


def test_another_pour_or_a_correction_and_nothing_is_stated_any_more(lab, technician, member, poured):
    assert state(technician, poured).status_code == 303
    assert send(member, pour_path(poured), **RIGHT).status_code == 303
    assert hand_over(technician, poured).status_code == 422
    assert state(technician, poured).status_code == 303
    newest = lab.session.query(Pour).order_by(Pour.id.desc()).first()
    undone = send(member, f"/waste/pours/{newest.id}/correct", **RIGHT, nothing="y", reason="Entered twice")
    assert undone.status_code == 303
    answer = hand_over(technician, poured)
    assert answer.status_code == 422
    assert NOT_STATED in text(answer)


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ({"properties": ""}, "Write them by their codes, such as HP 5, HP 14, or write none."),
        ({"properties": "corrosive"}, "Write the hazardous properties by their codes"),
        ({"properties": "not known"}, "Write the hazardous properties by their codes"),
        ({"reason": " "}, "Write how you know."),
    ],
)
@pytest.mark.sqlite_only
def test_a_statement_that_states_nothing_is_refused(lab, technician, poured, typed, message):
    answer = state(technician, poured, **typed)
    assert answer.status_code == 422
    assert message in text(answer)
    assert lab.count(StatedProperties) == 0


@pytest.mark.sqlite_only
def test_a_code_without_asterisk_is_for_waste_that_has_none(lab, technician, member):
    container = lab.open_container("09 01 99")
    stop = {"of": "kind:stop", "what": "stop", "waste_code": "09 01 99", "volume": "2 L"}
    assert send(member, pour_path(container), **stop).status_code == 303
    answer = state(technician, container, "HP 8")
    assert answer.status_code == 422
    assert "09 01 99 is for waste that has none. With HP 8 it is not that waste" in text(answer)
    assert state(technician, container, "None").status_code == 303
    assert "none" in text(technician.get(hand_over(technician, container).location))


@pytest.mark.sqlite_only
def test_of_a_mirror_pair_the_one_with_the_asterisk_has_at_least_one(lab, technician, member):
    """16 05 06* is a mirror entry in the United Kingdom's list (Defra reference list of waste codes)."""
    assert send(technician, "/waste/streams/add", code="16 05 06*", name="Old toner").status_code == 303
    container = lab.open_container("16 05 06*")
    toner = {"of": "kind:toner", "what": "toner", "waste_code": "16 05 06*", "volume": "2 L"}
    assert send(member, pour_path(container), **toner).status_code == 303
    assert "hazardous where an assessment says so: a mirror entry" in text(technician.get(path_of(container, "")))
    answer = state(technician, container, "none")
    assert answer.status_code == 422
    assert "16 05 06* is for waste that has at least one." in text(answer)
    assert state(technician, container, "HP 6").status_code == 303


@pytest.mark.sqlite_only
def test_a_property_that_only_a_test_decides_keeps_it_too(lab, technician, member):
    """Acetic acid is Flam. Liq. 3 in Regulation (EC) No 1272/2008, Annex VI; what it makes of a drum is not known."""
    container = lab.open_container("09 01 99")
    stop = {"of": f"product:{lab.ids['product stop']}:19000", "waste_code": "", "what": "stop", "volume": "2 L"}
    assert send(member, pour_path(container), **stop).status_code == 303
    answer = hand_over(technician, container)
    assert answer.status_code == 422
    assert "HP 3 not known: the flash point decides" in text(answer)
    label = f"/documents/labels?label=container-{container.id}&size=2+%C3%97+2&first=1"
    assert "; not to leave until stated. Silver:" in text(technician.get(label))
    assert state(technician, container, "none", "Flash point by test above 60 °C").status_code == 303
    assert "HP 3 not known" not in text(technician.get(path_of(container, "")))
    assert "not to leave until stated" not in text(technician.get(label))
    assert hand_over(technician, container).status_code == 303


@pytest.mark.sqlite_only
def test_properties_under_a_code_that_says_it_has_none_are_not_let_go(lab, technician, adviser, member):
    """The concentrate is Skin Corr. 1B by 30 to 40 % acetic acid in its SDS; HP 8 from 5 % (Reg. 1357/2014, memory)."""
    container = lab.open_container("09 01 99")
    stop = {"of": f"product:{lab.ids['product stop']}", "waste_code": "", "what": "concentrate", "volume": "2 L"}
    assert send(member, pour_path(container), **stop).status_code == 303
    answer = hand_over(technician, container)
    assert answer.status_code == 422
    assert "09 01 99 is for waste that has none: somebody competent decides" in text(answer)
    label = text(technician.get(f"/documents/labels?label=container-{container.id}&size=2+%C3%97+2&first=1"))
    assert "HP 4, HP 8;" in label
    assert "somebody competent decides; not to leave until stated. Silver:" in label
    assert send(technician, path_of(container, "quarantine"), reason="concentrate in it").status_code == 303
    anew = {**RESTATED, "code": "09 01 05*"}
    refused = send(adviser, path_of(container, "release"), **{**anew, "properties": "none"})
    assert refused.status_code == 422
    assert "What went in comes to HP 4, HP 8. State what it has." in text(refused)
    assert send(adviser, path_of(container, "release"), **{**anew, "properties": "HP 4, HP 8"}).status_code == 303


def test_in_quarantine_nothing_is_stated_beside_the_release(lab, technician, adviser, member, poured):
    assert send(member, pour_path(poured), **WRONG).status_code == 303
    assert "They cannot be stated now." in text(adviser.get(path_of(poured)))
    answer = state(adviser, poured)
    assert answer.status_code == 422
    assert "In quarantine: it stays." in text(answer)
    assert send(adviser, path_of(poured, "release"), **RESTATED).status_code == 303
    page = text(technician.get(hand_over(technician, poured).location))
    assert "HP 5, HP 14" in page
    assert "16 05 06* laboratory chemicals" in page


LINE = (
    "INSERT INTO collection_lines (collection_id, container_id, movement_id, book_ul, properties) "
    "SELECT 1, {id}, min(id), 1, 'HP 5' FROM movements"
)
GONE = "UPDATE waste_containers SET collected_at = opened_at WHERE id = {id}"


def refused(lab, container, *statements):
    for statement in statements:
        with pytest.raises(DBAPIError, match="held"):
            lab.session.execute(sql(statement.format(id=container.id)))
        lab.session.rollback()


def test_the_database_lets_nothing_leave_of_which_only_the_kind_is_known(lab, technician, poured):
    refused(lab, poured, LINE, GONE)
    assert state(technician, poured).status_code == 303
    refused(lab, poured, GONE)  # without a line of its collection it does not go
    assert hand_over(technician, poured).status_code == 303


def test_nor_where_something_was_poured_in_after_the_statement(lab, technician, member, poured):
    assert state(technician, poured).status_code == 303
    assert send(member, pour_path(poured), **RIGHT).status_code == 303
    refused(lab, poured, LINE, GONE)


@pytest.mark.parametrize("change", ["DELETE FROM stated_properties", "UPDATE stated_properties SET reason = 'x'"])
def test_what_was_stated_stays_as_it_was(lab, technician, poured, change):
    assert state(technician, poured).status_code == 303
    with pytest.raises(DBAPIError, match="stated_properties_no"):
        lab.session.execute(sql(change))
    lab.session.rollback()


def test_the_database_asks_for_the_release_of_a_wrong_pour_not_for_a_quarantine_alone(lab, technician, member):
    """As by somebody who holds the database: the quarantine is pointed at another container.

    Products alone are in it, so that nothing but the wrong pour holds it.
    """
    poured, other = lab.open_container(), lab.open_container()
    for key, changes in (("fixer", {}), ("developer", {"record_done": "y"})):
        product = {"of": f"product:{lab.ids[f'product {key}']}", "waste_code": "", "what": key, "volume": "1 L"}
        assert send(member, pour_path(poured), **product, **changes).status_code == 303
    on = " ON quarantines" if lab.session.get_bind().dialect.name == "postgresql" else ""
    lab.session.execute(sql(f"DROP TRIGGER quarantines_no_update{on}"))
    lab.session.execute(sql(f"UPDATE quarantines SET container_id = {other.id}"))
    lab.session.commit()
    refused(lab, poured, LINE, GONE)
    assert state(technician, poured).status_code == 422
    assert "no release of that is on file" in source(technician.get("/waste/collect"))

"""A container is what was poured into it: what may go in, what its label says, what leaves."""

import pytest

from labsys.chemistry.care import SolutionKind
from labsys.waste.models import Pour
from tests.support.pages import send, source, text
from tests.waste.sending import RIGHT, L, pour_path


@pytest.fixture
def wash_aid(lab):
    return lab.add_product(SolutionKind.WASH_AID)


def label_of(container, client):
    return text(client.get(f"/documents/labels?label=container-{container.id}&size=2+%C3%97+2&first=1"))


def test_wash_aid_does_not_go_into_acid_stop_waste_of_the_same_code(lab, member, wash_aid):
    """Acid drives sulfur dioxide out of sulfite: standard chemistry, from memory."""
    container = lab.open_container("09 01 99")
    stop = {"of": f"product:{lab.ids['product stop']}:19000", "waste_code": "", "what": "stop", "volume": "2 L"}
    assert send(member, pour_path(container), **stop).status_code == 303
    aid = {"of": f"product:{wash_aid.id}:9000", "waste_code": "", "what": "wash aid", "volume": "1 L"}
    answer = send(member, pour_path(container), **aid)
    assert answer.status_code == 422
    said = f"Sulfite wash aid does not go into Used stop {container.label}, which holds Acetic stop concentrate."
    assert f"{said} Acid drives sulfur dioxide out of sulfite" in text(answer)
    assert "It may give off sulfur dioxide." in text(answer)
    assert lab.count(Pour) == 1
    assert send(member, pour_path(container), **stop).status_code == 303


def test_a_pour_of_a_product_has_the_code_of_the_product(lab, member):
    container = lab.open_container()
    fixer = {"of": f"product:{lab.ids['product fixer']}:4000", "what": "fixer", "volume": "1 L"}
    answer = send(member, pour_path(container), **fixer, waste_code="09 01 01*")
    assert "The used solution of that product is 09 01 04*. Choose one of the two." in text(answer)
    assert send(member, pour_path(container), **fixer, waste_code="").status_code == 303
    (made,) = lab.session.query(Pour)
    assert (made.kind, made.product_id, made.water_parts_milli) == ("fixer", lab.ids["product fixer"], 4_000)
    assert made.waste_code == "09 01 04*"


def test_a_number_without_a_unit_is_asked_back(lab, member):
    answer = send(member, pour_path(lab.open_container()), **{**RIGHT, "volume": "5"})
    assert answer.status_code == 422
    assert "5 of what: mL or L?" in text(answer)
    assert lab.count(Pour) == 0


def test_the_label_of_a_drum_says_what_is_in_it_its_properties_and_silver(lab, technician, member):
    line = lab.mix_film_line()
    lab.log(10)
    container = lab.open_container()
    (fixer,) = [bath for place, bath in line.items() if place == "fixer"]
    lab.dump(fixer, container, volume_ml=2_400)
    label = label_of(container, technician)
    assert "Contents: Rapid fixer concentrate 2.4 L." in label
    assert "estimate" in label
    assert " g to " in label or " mg to " in label
    assert "Silver:" in label
    assert "request" not in label
    page = text(technician.get(f"/waste/containers/{container.id}"))
    assert "Hazardous properties" in page
    assert "Contents Rapid fixer concentrate 2.4 L" in page


def test_the_properties_follow_from_the_blend(lab, technician, member):
    """Developer as supplied with hydroquinone (Carc. 2, Muta. 2 in the SDS), undiluted: 1 % is reached (HP 7, HP 11).

    Limits: Regulation (EU) No 1357/2014, from memory.
    """
    container = lab.open_container("09 01 01*")
    developer = {"of": f"product:{lab.ids['product developer']}", "what": "concentrate", "waste_code": ""}
    send(member, pour_path(container), **developer, volume="1 L")
    strong = text(technician.get(f"/waste/containers/{container.id}"))
    assert "HP 7 carcinogenic" in strong
    assert "HP 11 mutagenic" in strong
    weak = lab.open_container("09 01 01*")
    send(member, pour_path(weak), **{**developer, "of": developer["of"] + ":6000"}, volume="100 mL")
    send(member, pour_path(weak), of="kind:rinse", what="rinse", waste_code="09 01 01*", volume="9.9 L")
    assert "none reached by calculation" in text(technician.get(f"/waste/containers/{weak.id}"))


def test_where_only_a_kind_is_known_nothing_is_softened(lab, technician, member):
    container = lab.open_container("09 01 01*")
    send(member, pour_path(container), of="kind:developer", what="old", waste_code="09 01 01*", volume="1 L")
    page = text(technician.get(f"/waste/containers/{container.id}"))
    assert "not worked out (of developer only the kind is known)" in page
    assert "EUH208" in page  # of the developer on file, whose used solution goes in here
    assert "HP not worked out; not to leave until stated" in label_of(container, technician)


@pytest.mark.sqlite_only
def test_what_it_takes_leaves_out_what_it_would_stop(lab, member, wash_aid):
    container = lab.open_container("09 01 99")
    path = f"/waste/containers/{container.id}"
    empty = text(member.get(path))
    assert "Acetic stop concentrate" in empty.partition("Used solutions of:")[2].partition(".")[0]
    stop = {"of": f"product:{lab.ids['product stop']}:19000", "waste_code": "", "what": "stop", "volume": "2 L"}
    assert send(member, pour_path(container), **stop).status_code == 303
    taken = text(member.get(path)).partition("Used solutions of:")[2].partition(".")[0]
    assert "Acetic stop concentrate" in taken
    assert "Sulfite wash aid" not in taken


@pytest.mark.sqlite_only
def test_a_flash_point_nobody_knows_leaves_hp_3_open(lab, technician, member):
    """Acetic acid is Flam. Liq. 3 in Regulation (EC) No 1272/2008, Annex VI; what it makes of a drum is not known."""
    container = lab.open_container("09 01 99")
    stop = {"of": f"product:{lab.ids['product stop']}:19000", "waste_code": "", "what": "stop", "volume": "2 L"}
    assert send(member, pour_path(container), **stop).status_code == 303
    page = text(technician.get(f"/waste/containers/{container.id}"))
    for told in (page, label_of(container, technician)):
        assert "HP 3 not known: the flash point decides" in told
        assert "HP 3 flammable" not in told


def test_the_register_counts_what_was_poured_by_product(lab, technician, member):
    container = lab.open_container()
    fixer = {"of": f"product:{lab.ids['product fixer']}:4000", "waste_code": "", "what": "fixer"}
    send(member, pour_path(container), **fixer, volume="1.5 L")
    assert "1.5 L" in text(technician.get("/register"))
    assert container.label in source(technician.get("/register"))
    assert container.vessel.level == 1_500_000 <= 25 * L


def test_why_a_pour_is_wrong_is_kept_whole_however_long_the_names_are(lab, member):
    """PostgreSQL refuses what is longer than a column says; a product's name has up to 120 characters."""
    container = lab.open_container("09 01 99")
    container.stream.name = "Ω" * 80
    lab.session.commit()
    long = {
        kind: lab.add_product(kind, name=f"{kind} " + "Ω" * 100) for kind in (SolutionKind.STOP, SolutionKind.WASH_AID)
    }
    for kind, said in ((SolutionKind.STOP, {}), (SolutionKind.WASH_AID, {"record_done": "y"})):
        typed = {"of": f"product:{long[kind].id}", "waste_code": "", "what": "Ω" * 160, "volume": "1 L", **said}
        assert send(member, pour_path(container), **typed).status_code == 303
    wrong = lab.session.query(Pour).order_by(Pour.id.desc()).first()
    assert len(wrong.wrong_because) > 400
    assert wrong.wrong_because in text(member.get(f"/waste/containers/{container.id}"))


def test_rinse_water_first_does_not_open_a_container_to_what_its_code_keeps_out(lab, member):
    container = lab.open_container()
    rinse = {"of": "kind:rinse", "what": "rinse", "waste_code": "09 01 04*", "volume": "1 L"}
    assert send(member, pour_path(container), **rinse).status_code == 303
    answer = send(member, pour_path(container), **{**rinse, "of": "kind:developer", "what": "developer"})
    assert answer.status_code == 422
    assert "Developer does not go into Used fixer" in text(answer)
    assert send(member, pour_path(container), **RIGHT).status_code == 303

import json
from dataclasses import replace
from hashlib import sha256

import pytest
from sqlalchemy import update

from labsys.baths.models import Place
from labsys.chemistry.bath_rules import AreaCapacity, BathFacts, PieceCapacity
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import UNIT_MM2, Material
from labsys.documents.bath_label import BATH_LABEL, OfBath
from labsys.documents.bath_label.collected import NO_CAPACITY, NO_KEEPING_TIME, capacity_in_words
from labsys.documents.page import Paper
from labsys.documents.service import issue_document
from labsys.hazards.protective import ACID_GLOVES, THIN_GLOVES
from labsys.people.permissions import NotPermitted
from labsys.products.hazards import hazards_of
from labsys.products.models import ProductIngredient
from labsys.products.service import change_product
from labsys.records import queries as records
from labsys.records.models import IssuedDocument, RecordEntry
from tests.documents.issuing import IN_MARCH, PUBLIC, documents, label_data, label_path
from tests.support.lab import product_entry
from tests.support.pages import hidden_field, send, source


@pytest.fixture
def technician(client_as):
    return client_as("technician")


HOUSE_RULE = f"{THIN_GLOVES}: no bath belongs on bare skin"


def test_an_issued_label_reads_back_with_code_hazards_and_the_head_of_the_record(lab, technician, read_back):
    bath = lab.mix(SolutionKind.DEVELOPER, water_parts=1, working_ml=1_000)
    head = records.head(lab.session)
    answer = send(technician, label_path(bath))
    assert answer.status_code == 303
    pdf = technician.get(answer.headers["Location"])
    assert pdf.mimetype == "application/pdf"
    printed = read_back(pdf.data)
    hazards = hazards_of(bath.product, water_parts_milli=bath.water_parts_milli)
    assert "H317" in [code for code, _ in hazards.label.hazard_statements]
    for words in (
        bath.code,
        "Film developer, 1+1",
        "PQ liquid concentrate",
        "1 L",
        "Sol Haddad",
        f"Record {head.number:,} · {head.short_hash}…",
        "hydroquinone, up to",
        "09 01 01*",
        "Into a container of Used developer.",
        "Help here: Front desk 01632 960000",
        hazards.label.signal_word,
        *(f"{code} {said}" for code, said in hazards.label.hazard_statements),
    ):
        assert words in printed.text, words


def test_what_is_not_stated_is_printed_on_both_labels(lab, technician, read_back):
    bath = lab.mix(SolutionKind.DEVELOPER, water_parts=6, working_ml=1_000)
    bare = product_entry(SolutionKind.DEVELOPER, density_mg_per_ml=None)
    change_product(lab.act("technician"), product_id=bath.product_id, sheet=bare)
    for address, typed in (
        (label_path(bath), {}),
        ("/documents/labels", {"label": f"bath-{bath.id}", "size": "2 × 2", "first": "1"}),
    ):
        printed = read_back(technician.get(send(technician, address, typed).headers["Location"]).data)
        assert "No density is stated: 1 to 1.45 g/mL is assumed" in printed.text, address


def test_a_sensitiser_leads_with_skin_protection_where_the_dilution_is_not_classified(lab, technician, read_back):
    """Hydroquinone at most 5 % of a concentrate of 1.2 g/mL at 1+6 is 0.83 %, calculated: below 1 %, so EUH208."""
    bath = lab.mix_film_line()[Place.DEVELOPER]
    data = label_data(lab, bath)
    assert not data.classified
    assert data.headline == "Protect your skin"
    printed = read_back(BATH_LABEL.draw(data))
    for text in (printed.text, source(technician.get(label_path(bath)))):
        assert "EUH208 Contains hydroquinone. May produce an allergic reaction." in text
        first, second, third = (
            text.index(words) for words in ("Protect your skin", THIN_GLOVES, "Not classified as hazardous")
        )
        assert first < second < third
    sizes = {text.strip(): size for size, text in printed.texts()}
    assert sizes["Protect your skin"] > 1.5 * sizes["Not classified as hazardous by calculation."]


def test_hands_are_told_first_and_by_house_rule_where_the_hazards_ask_for_nothing(lab, technician):
    """Gloves or tongs through the whole process: common practice, no source. CAS number of ammonium thiosulfate."""
    bath = lab.mix_film_line()[Place.FIXER]
    assert label_data(lab, bath).wear == (HOUSE_RULE,)
    thiosulfate = ProductIngredient(
        name="ammonium thiosulfate", cas="7783-18-8", low_ppm=500_000, high_ppm=600_000, classification=""
    )
    bath.product.ingredients.append(thiosulfate)
    lab.session.commit()
    data = label_data(lab, bath)
    assert data.headline == "No hazard class by calculation"
    assert data.wear == (HOUSE_RULE, "Extraction running: with acid it frees a poisonous gas")
    shown = source(technician.get(label_path(bath)))
    assert shown.index(data.wear[0]) < shown.index(data.wear[1])


def test_what_acid_does_is_said_once(lab):
    """CAS number of sodium sulfite; it belongs to the developer's own group, which acid is kept from already."""
    bath = lab.mix_film_line()[Place.DEVELOPER]
    sulfite = ProductIngredient(
        name="sodium sulfite", cas="7757-83-7", low_ppm=50_000, high_ppm=100_000, classification=""
    )
    bath.product.ingredients.append(sulfite)
    lab.session.flush()
    hazards = hazards_of(bath.product, water_parts_milli=bath.water_parts_milli)
    assert hazards.classification.screening
    data = label_data(lab, bath)
    assert [line for line in (*data.keep_from, *data.statements) if "sulfur dioxide" in line] == [
        "Acid: frees sulfur dioxide (poisonous gas)"
    ]


def test_protection_asked_for_by_the_hazards_takes_the_place_of_the_house_rule(lab):
    bath = lab.mix_film_line()[Place.STOP]
    bath.product.ingredients.clear()  # so that the label carries the H314 of the concentrate
    lab.session.flush()
    data = label_data(lab, bath)
    assert data.headline == "Danger"
    assert [one.partition(":")[0] for one in data.wear] == [
        ACID_GLOVES,
        "Goggles that close all round",
        "Waterproof apron",
    ]


@pytest.mark.parametrize("paper", Paper)
def test_every_label_of_a_film_line_keeps_to_half_a_sheet(lab, read_back, paper):
    for bath in lab.mix_film_line().values():
        data = label_data(lab, bath)
        printed = read_back(BATH_LABEL.draw(replace(data, issue=replace(data.issue, paper=paper))))
        half = float(printed.reader.pages[0].mediabox.height) / 2
        assert min(height for height, _ in printed.baselines()) > half, data.product
        assert min(size for size, _ in printed.texts()) >= 7.5


def test_a_label_says_how_long_the_bath_lasts_and_what_it_must_not_meet(lab):
    data = label_data(lab, lab.mix_film_line()[Place.FIXER])
    assert data.capacity == "50 rolls"  # 20 to the litre, 2.5 L
    assert data.mixed_at.startswith("Mon 2 Mar 2026, ")
    assert data.use_by.startswith("Fri 1 May 2026, ")  # 60 days later, an hour on by the clock: summer time began
    assert data.keep_from[0] == "Acid: frees sulfur dioxide (poisonous gas)"
    assert len(data.keep_from) <= 4
    assert data.issue.scan_address == f"{PUBLIC}/c/{data.issue.scan_code}"


@pytest.mark.parametrize(
    ("materials", "areas", "pieces", "said"),
    [  # 2 L; the trade's unit is 80 square inches: one roll, one 8x10 in sheet
        ({Material.FILM}, {Material.FILM: 20}, None, "40 rolls"),
        ({Material.FILM}, {}, 15, "30 rolls or sheets"),
        ({Material.RC, Material.FIBRE}, {}, 15, "30 sheets of any size"),
        ({Material.RC, Material.FIBRE}, {Material.RC: 20, Material.FIBRE: 10}, None, "40 RC or 20 fibre sheets, 8x10"),
        ({Material.RC, Material.FIBRE}, {Material.RC: 20, Material.FIBRE: 20}, None, "40 RC or fibre sheets, 8x10"),
        ({Material.RC}, {Material.RC: 20, Material.FIBRE: 10}, 15, "40 RC sheets, 8x10; at most 30 sheets of any size"),
        (set(Material), {Material.FILM: 10, Material.RC: 20}, None, "20 rolls or 40 RC sheets, 8x10"),
        ({Material.FILM}, {}, None, NO_CAPACITY),
    ],
)
def test_what_a_bath_takes_is_said_in_the_words_of_its_line(materials, areas, pieces, said):
    facts = BathFacts(
        materials=frozenset(materials),
        total_ul=2_000_000,
        areas=tuple(AreaCapacity(material, units * UNIT_MM2, "data sheet") for material, units in areas.items()),
        pieces=PieceCapacity(pieces, "data sheet") if pieces else None,
    )
    assert capacity_in_words(facts) == said


def test_a_bath_without_rules_says_so_instead_of_guessing(lab):
    lab.add_product(SolutionKind.STOP, name="Plain stop", ages=[], capacities=[])
    bath = lab.mix(SolutionKind.STOP, water_parts=19, working_ml=1_000)
    bath.product.ages.clear()
    bath.product.capacities.clear()
    lab.session.flush()
    data = label_data(lab, bath)
    assert (data.use_by, data.capacity) == (NO_KEEPING_TIME, NO_CAPACITY)


def test_ingredients_carry_their_share_of_the_working_solution(lab):
    """Acetic acid at most 40 % of a concentrate of 1.05 g/mL at 1+19: 0.4 × 1.05 / (1.05 + 19) = 2.09 %, calculated."""
    data = label_data(lab, lab.mix_film_line()[Place.STOP])
    assert [(one.named, one.share) for one in data.ingredients] == [("acetic acid", "up to 2.1 % w/w")]


def test_a_product_with_hazards_but_no_ingredients_keeps_the_hazards_of_the_concentrate(lab):
    bath = lab.mix_film_line()[Place.STOP]
    bath.product.ingredients.clear()
    lab.session.flush()
    data = label_data(lab, bath)
    assert data.classified
    assert any(said.startswith("H314 ") for said in data.statements)
    assert "undiluted product" in data.statements[-1]


@pytest.mark.sqlite_only
def test_equal_labels_have_equal_bytes(lab):
    bath = lab.mix_film_line()[Place.FIXER]
    assert BATH_LABEL.draw(label_data(lab, bath)) == BATH_LABEL.draw(label_data(lab, bath))


@pytest.mark.sqlite_only
def test_the_page_of_a_label_says_what_the_pdf_says(lab, technician, read_back):
    bath = lab.mix_film_line()[Place.DEVELOPER]
    data = label_data(lab, bath)
    shown = source(technician.get(label_path(bath)))
    for words in (*data.statements, *data.keep_from, data.use_by, data.capacity, data.headline, *data.wear):
        assert words.replace("'", "&#39;") in shown, words
    assert "Oxidisers attack developer with heat" in shown  # what the label itself has no room for
    assert "Issue the label as PDF" in shown


@pytest.mark.sqlite_only
def test_a_member_reads_the_label_but_does_not_issue_it(lab, client_as):
    bath = lab.mix_film_line()[Place.FIXER]
    member = client_as("member")
    shown = source(member.get(label_path(bath)))
    assert "Issue the label as PDF" not in shown
    token = hidden_field(shown, "csrf_token")
    assert member.post(label_path(bath), data={"csrf_token": token, "submission_key": "k" * 20}).status_code == 403
    with pytest.raises(NotPermitted):
        issue_document(lab.act("member"), BATH_LABEL, OfBath(bath.id), public_url=PUBLIC)
    assert documents(lab) == 0


@pytest.mark.sqlite_only
def test_a_dumped_bath_gets_no_new_label(lab, technician):
    bath = lab.mix_film_line()[Place.FIXER]
    lab.dump(bath, lab.open_container(), volume_ml=2_400)
    answer = send(technician, label_path(bath))
    assert answer.status_code == 422
    assert "was dumped. Take its label off" in source(answer)
    assert documents(lab) == 0


def test_issuing_twice_with_one_key_gives_one_document(lab, technician):
    bath = lab.mix_film_line()[Place.FIXER]
    first, second = (send(technician, label_path(bath), key="one-and-the-same-key") for _ in range(2))
    assert first.headers["Location"] == second.headers["Location"]
    assert documents(lab) == 1
    assert "Issued before" in source(technician.get(label_path(bath)))


def test_the_record_keeps_the_digest_of_what_was_issued(lab, technician):
    send(technician, label_path(lab.mix_film_line()[Place.FIXER]))
    document = lab.session.query(IssuedDocument).one()
    newest = lab.session.query(RecordEntry).order_by(RecordEntry.number.desc()).first()
    assert json.loads(newest.payload)["facts"]["digest"] == document.digest
    assert newest.number == document.head_number + 1
    assert newest.previous_hash == document.head_hash
    assert records.find_fault(lab.session) is None


# Showing and listing


@pytest.mark.sqlite_only
def test_a_pdf_is_shown_with_a_name_and_may_do_nothing(lab, technician):
    bath = lab.mix_film_line()[Place.FIXER]
    answer = technician.get(send(technician, label_path(bath)).headers["Location"])
    assert answer.headers["Content-Disposition"] == f'inline; filename="bath-label-{bath.code.lower()}-1.pdf"'
    assert answer.headers["Content-Security-Policy"] == "sandbox; default-src 'none'"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"


def tamper(session, **values):
    session.execute(update(IssuedDocument).values(**values))
    session.commit()


def test_altered_bytes_are_not_shown_and_the_page_says_so(lab, technician):
    location = send(technician, label_path(lab.mix_film_line()[Place.FIXER])).headers["Location"]
    tamper(lab.session, content=b"%PDF-1.4 forged")
    answer = technician.get(location)
    assert answer.status_code == 409
    assert answer.mimetype == "text/html"
    assert "This document was altered" in source(answer)
    assert b"forged" not in answer.data


def test_bytes_altered_together_with_their_digest_are_noticed_by_the_record(lab, technician):
    location = send(technician, label_path(lab.mix_film_line()[Place.FIXER])).headers["Location"]
    forged = b"%PDF-1.4 forged"
    tamper(lab.session, content=forged, digest=sha256(forged).hexdigest())
    assert technician.get(location).status_code == 409


@pytest.mark.sqlite_only
def test_a_waste_log_is_seen_by_those_who_may_and_listed_for_them_only(lab, client_as, technician):
    location = send(technician, IN_MARCH, **{"from": "2026-03-01", "to": "2026-03-31"}).headers["Location"]
    send(technician, label_path(lab.mix_film_line()[Place.FIXER]))
    member = client_as("member")
    assert member.get(location).status_code == 403
    assert member.get(IN_MARCH).status_code == 403
    assert technician.get(location).status_code == 200
    assert "Waste log, 1 March" not in source(member.get("/documents"))
    assert "Bath label" in source(member.get("/documents"))
    assert "Waste log, 1 March" in source(technician.get("/documents"))
    assert technician.get("/documents/999").status_code == 404


@pytest.mark.sqlite_only
def test_an_empty_list_says_what_to_do_first_and_a_long_one_comes_in_pages(lab, technician):
    assert "Nothing issued yet" in source(technician.get("/documents"))
    bath = lab.mix_film_line()[Place.FIXER]
    for _ in range(27):
        issue_document(lab.act("technician"), BATH_LABEL, OfBath(bath.id), public_url=PUBLIC)
    first = source(technician.get("/documents"))
    assert "/documents?before=3" in first
    assert 'href="/documents/2"' not in first
    assert 'href="/documents/2"' in source(technician.get("/documents?before=3"))

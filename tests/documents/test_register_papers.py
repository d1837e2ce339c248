"""The register's papers, drawn from a small lab and issued through their pages."""

import pytest

from labsys.baths.models import Place
from labsys.chemistry.care import SolutionKind
from labsys.documents.document import WholeLab
from labsys.documents.first_aid import FIRST_AID_CARD
from labsys.documents.label_sheet import LABEL_SHEET, LabelChoice
from labsys.documents.label_sheet.drawn import GRIDS, SMALLEST, LabelFacts, LabelSheetData, Layout, draw
from labsys.documents.page import Paper
from labsys.documents.register import REGISTER
from labsys.documents.rules import DoesNotFit
from labsys.records import queries as records
from labsys.records.models import PaperSize
from tests.documents.issuing import documents, occasion
from tests.support.pages import hidden_field, send, source

pytestmark = pytest.mark.sqlite_only

PAPERS = list(PaperSize)


@pytest.fixture
def on(lab):
    """The occasion of a document on a paper."""

    def occasion_on(paper=PaperSize.A4):
        records.the_lab(lab.session).paper_size = paper
        lab.session.commit()
        return occasion(lab)

    return occasion_on


def label_keys(lab):
    line = lab.mix_film_line()
    container = lab.open_container()
    return [
        f"bottle-{lab.add_bottle(SolutionKind.STOP).id}",
        f"bath-{line[Place.DEVELOPER].id}",
        f"container-{container.id}",
    ]


@pytest.mark.parametrize("paper", PAPERS)
def test_the_register_prints_every_row_with_hazards_place_and_confirmation(lab, on, read_back, paper):
    line = lab.mix_film_line()
    found = read_back(REGISTER.draw(REGISTER.collect(lab.session, WholeLab(), on(paper))))
    wide, high = found.sizes.pop()
    assert wide > high
    for told in ("PQ liquid concentrate, 1+6", "H317 May cause an allergic skin reaction.", "Пётр Орлов", "1 May 2025"):
        assert told in found.text
    assert line[Place.FIXER].code in found.text
    assert "Record" in found.text
    assert not found.fonts_left_out()


@pytest.mark.parametrize("paper", PAPERS)
def test_the_first_aid_card_is_one_page_in_big_type_and_names_what_is_here(lab, on, read_back, paper):
    found = read_back(FIRST_AID_CARD.draw(FIRST_AID_CARD.collect(lab.session, WholeLab(), on(paper))))
    assert len(found.pages) == 1
    assert max(size for size, text in found.texts() if "Rinse. 20 minutes." in text) >= 18
    assert "Front desk 01632 960000" in found.text
    assert "Here: Acetic stop concentrate" in found.text
    assert "from memory" in found.text
    assert "Section 4 of the supplier's SDS comes first" in found.text


@pytest.mark.parametrize("paper", PAPERS)
def test_the_card_says_where_help_is_and_stays_one_page_when_all_is_stated_at_length(lab, on, read_back, paper):
    now = on(paper)
    told = records.the_lab(lab.session)
    names = ("first_aider", "eyewash", "spill_kit", "hospital", "telephone", "out_of_hours", "address")
    for number, name in enumerate(names[:-1]):
        setattr(told, name, f"{number} round the corner and up the stairs, " * 5)
    found = read_back(FIRST_AID_CARD.draw(FIRST_AID_CARD.collect(lab.session, WholeLab(), now)))
    assert len(found.pages) == 1
    assert all(f"{number} round the corner" in found.text for number in range(6))
    assert found.text.count("not stated: ask the lab's manager") == 1  # the address
    assert not found.fonts_left_out()


def test_without_an_emergency_line_the_card_says_so(lab, on, read_back):
    now = on()
    records.the_lab(lab.session).emergency = ""
    found = read_back(FIRST_AID_CARD.draw(FIRST_AID_CARD.collect(lab.session, WholeLab(), now)))
    assert "No emergency line is entered" in found.text


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("layout", Layout)
def test_labels_of_every_size_say_what_it_is_its_hazards_and_its_code(lab, on, read_back, paper, layout):
    keys = label_keys(lab)
    data = LABEL_SHEET.collect(lab.session, LabelChoice(keys, layout, first=1), on(paper))
    found = read_back(draw(data))
    assert len(found.pages) == 1
    for label in data.labels:
        assert label.code in found.text
        assert all(code in found.text for code, _ in label.statements)
    assert "Danger" in found.text
    assert "09 01 04*" in found.text
    assert min(size for size, text in found.texts() if "Record" not in text) >= SMALLEST - 0.01


@pytest.mark.parametrize("key", GRIDS)
def test_labels_stay_on_the_sheet_and_off_each_other(key):
    paper, layout = key
    grid = GRIDS[key]
    wide, high = (length * 25.4 / 72 for length in paper.size())
    corners = [grid.corner(place, paper=paper) for place in range(grid.places)]
    assert all(left >= 4 and left + grid.width <= wide - 4 for left, _ in corners)
    assert all(top >= 4 and top + grid.height <= high - 4 for _, top in corners)
    assert len({(round(left, 3), round(top, 3)) for left, top in corners}) == grid.places
    assert str(layout) == f"{grid.across} × {grid.down}"


SUPPLY = "CLP Annex I Table 1.3, read in reachonline.eu"


@pytest.mark.parametrize(
    ("layout", "short", "long", "source"), [(Layout.MEDIUM, 52, 74, SUPPLY), (Layout.LARGE, 74, 105, SUPPLY)]
)
@pytest.mark.parametrize("paper", Paper)
def test_a_size_is_as_large_as_a_supplied_package_needs(paper, layout, short, long, source):
    sides = sorted((GRIDS[paper, layout].width, GRIDS[paper, layout].height))
    assert sides[0] >= short, source
    assert sides[1] >= long, source


def test_a_part_used_sheet_is_begun_where_it_is_free(lab, on, read_back):
    keys = label_keys(lab)
    data = LABEL_SHEET.collect(lab.session, LabelChoice(keys, Layout.MEDIUM, first=7), on())
    found = read_back(draw(data))
    assert len(found.pages) == 2
    assert max(y for y, _ in found.baselines()) < 90 / 25.4 * 72


def test_a_label_with_too_much_to_say_is_refused(lab, on):
    data = LABEL_SHEET.collect(lab.session, LabelChoice(label_keys(lab), Layout.SMALL, first=1), on())
    endless = LabelFacts(
        **{name: getattr(data.labels[0], name) for name in data.labels[0].__slots__} | {"name": "A long name " * 60}
    )
    with pytest.raises(DoesNotFit):
        draw(LabelSheetData(data.issue, Layout.SMALL, 1, (endless,)))


def test_equal_data_gives_equal_bytes(lab, on):
    data = REGISTER.collect(lab.session, WholeLab(), on())
    assert REGISTER.draw(data) == REGISTER.draw(data)


# Issuing


@pytest.mark.parametrize("path", ["/documents/register", "/documents/first-aid"])
def test_a_paper_is_issued_once_and_streamed(lab, client_as, path):
    adviser = client_as("safety adviser")
    key = "the-same-key-twice"
    first, again = (send(adviser, path, key=key) for _ in range(2))
    assert first.status_code == again.status_code == 303
    assert documents(lab) == 1
    assert adviser.get(first.location).data.startswith(b"%PDF")
    assert client_as("member").post(path).status_code in {400, 403}


def test_labels_are_issued_from_the_page_that_shows_them(lab, client_as):
    technician = client_as("technician")
    keys = label_keys(lab)
    shown = source(technician.get("/documents/labels", query_string={"label": keys}))
    assert "WASTE: Used fixer" in shown
    assert send(technician, "/documents/labels", label=keys, size="3 × 8", first="5").status_code == 303
    assert documents(lab) == 1


BAD = [
    ({"size": "2 × 4", "first": "1"}, "Choose at least one label."),
    ({"size": "2 × 4", "first": "9", "label": "bottle-1"}, "places 1 to 8"),
    ({"size": "2 × 4", "first": "0", "label": "bottle-1"}, "Enter 1 to 24."),
]


@pytest.mark.parametrize(("fields", "message"), BAD)
def test_what_cannot_be_printed_is_said(lab, client_as, fields, message):
    lab.add_bottle(SolutionKind.STOP)
    answer = send(client_as("technician"), "/documents/labels", **fields)
    assert answer.status_code == 422
    assert message in source(answer)
    assert documents(lab) == 0


def test_a_contact_list_puts_on_the_record_who_asked(lab, client_as):
    lab.mix_film_line()
    lab.log(1)
    adviser = client_as("safety adviser")
    asked = {"cas": "64-19-7", "product": "0", "since": "2026-03-01"}
    shown = adviser.get("/register/contact", query_string=asked)
    assert "Issue the list" in source(shown)
    path = "/register/contact?cas=64-19-7&since=2026-03-01"
    token = hidden_field(source(adviser.get(path)), "csrf_token")
    answer = adviser.post("/documents/contact-list", data={**asked, "csrf_token": token})
    assert answer.status_code == 303
    assert adviser.get(answer.location).data.startswith(b"%PDF")
    assert client_as("manager").get(answer.location).status_code == 403

"""Two-bath fixing: the second bath takes the place of the first."""

import pytest
from sqlalchemy import select

from labsys.baths import queries, rotation, rules, uses
from labsys.baths.models import Bath, Place, Rotation
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.fixing import MOST_TURNS
from labsys.chemistry.life import Life, State
from labsys.chemistry.sizes import Material, Pieces, size_of
from labsys.people.permissions import NotPermitted
from labsys.records.models import RecordEntry
from tests.support.lab import SmallLab
from tests.support.pages import press, text

EXHAUSTS = 20  # rolls through one litre of the small lab's fixer


def mix(lab: SmallLab, place: Place, *, in_service: bool = True) -> Bath:
    return lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=1_000, place=place, in_service=in_service)


def rotate(lab: SmallLab) -> Rotation:
    return rotation.rotate(lab.act("technician"), line_id=lab.film_line_id)


def life(lab: SmallLab, bath: Bath) -> Life:
    return rules.life(queries.bath_or_raise(lab.session, bath.id), now=lab.now)


def rolls_left(lab: SmallLab, bath: Bath) -> int | None:
    return life(lab, bath).remaining_pieces(size=size_of(key="120"), material=Material.FILM)


@pytest.fixture
def spent(lab: SmallLab) -> tuple[Bath, Bath]:
    """A first fixer that is exhausted, and a second one."""
    baths = mix(lab, Place.FIXER), mix(lab, Place.SECOND_FIXER)
    lab.log(EXHAUSTS)
    return baths


def test_work_counts_in_the_first_bath_until_the_second_takes_its_place(lab: SmallLab, spent):
    first, second = spent
    assert life(lab, first).state is State.EXHAUSTED
    assert rolls_left(lab, second) == EXHAUSTS
    mix(lab, Place.SECOND_FIXER, in_service=False)
    rotate(lab)
    assert rolls_left(lab, second) == EXHAUSTS
    lab.log(5)
    assert rolls_left(lab, second) == EXHAUSTS - 5
    assert second.pieces == EXHAUSTS + 5  # what really went through stays written


def test_the_second_moves_up_the_spare_takes_its_place_and_the_first_waits(lab: SmallLab, spent):
    first, second = spent
    fresh = mix(lab, Place.SECOND_FIXER, in_service=False)
    done = rotate(lab)
    assert (done.number, done.bath_id) == (1, second.id)
    newest = lab.session.execute(select(RecordEntry).order_by(RecordEntry.number.desc()).limit(1)).scalar_one()
    assert '"act":"fixers.rotated"' in newest.payload
    assert f'"first":"{second.code}"' in newest.payload
    assert f'"second":"{fresh.code}"' in newest.payload
    standing = {
        one.place: one.id for one in queries.baths_in_service(lab.session, line_id=lab.film_line_id, at=lab.now)
    }
    assert standing == {Place.FIXER: second.id, Place.SECOND_FIXER: fresh.id}
    assert not first.is_in_service
    assert first.dumped_at is None


def test_a_first_bath_that_was_dumped_already_makes_room_as_well(lab: SmallLab, spent):
    first, second = spent
    lab.dump(first, lab.open_container(), volume_ml=950)
    assert rotate(lab).bath_id == second.id


def test_three_rotations_then_both_are_mixed_afresh(lab: SmallLab, spent):
    """S. Anchell, The Darkroom Cookbook, 3rd ed. (2008), p. 107: discard both after three rotations."""
    assert MOST_TURNS == 3
    for number in range(1, MOST_TURNS + 1):
        mix(lab, Place.SECOND_FIXER, in_service=False)
        assert rotate(lab).number == number
        lab.log(EXHAUSTS)
    with pytest.raises(rules.BathRefused, match="rotated 3 times, as often as they may be"):
        rotate(lab)
    mix(lab, Place.FIXER)  # a fresh first bath begins the count anew
    lab.log(EXHAUSTS)
    assert rotate(lab).number == 1


def test_a_first_bath_with_plenty_left_is_not_rotated_away(lab: SmallLab):
    mix(lab, Place.FIXER), mix(lab, Place.SECOND_FIXER)
    with pytest.raises(rules.BathRefused, match="has plenty left"):
        rotate(lab)


def test_a_line_without_a_second_fixer_cannot_rotate(lab: SmallLab):
    mix(lab, Place.FIXER)
    with pytest.raises(rules.BathRefused, match="No second fixer is in service"):
        rotate(lab)


def test_rotating_is_for_who_keeps_the_baths(lab: SmallLab, spent):
    with pytest.raises(NotPermitted):
        rotation.rotate(lab.act("member"), line_id=lab.film_line_id)


def test_a_use_before_the_rotation_can_still_be_corrected(lab: SmallLab, spent):
    use = lab.log(2)
    mix(lab, Place.SECOND_FIXER, in_service=False)
    rotate(lab)
    uses.correct_use(lab.act("member"), use_id=use.id, pieces=Pieces(size_of(key="120"), Material.FILM, 0))
    assert rolls_left(lab, spent[1]) == EXHAUSTS


def test_silver_in_a_rotated_bath_is_a_wider_range(lab: SmallLab, spent):
    second = spent[1]
    assert rules.silver_mg(bath=second)[0] == 0
    high = rules.silver_mg(bath=second)[1]
    rotate(lab)
    lab.log(10)
    low, higher = rules.silver_mg(bath=queries.bath_or_raise(lab.session, second.id))
    assert 0 < low < high < higher


def test_one_button_on_the_page_of_the_line_rotates(lab: SmallLab, spent, technician, member):
    address = f"/baths/lines/{lab.film_line_id}"
    assert "Rotate the fixers" not in text(member.get(address))
    page = technician.get(address).get_data(as_text=True)
    assert "second fixer: work counts in it once it takes the first place" in page
    answer = press(technician, f"{address}/rotate", opened=page)
    assert answer.status_code == 303
    told = text(technician.get(address))
    assert "Rotated for the first time: label the baths anew." in told
    assert "Rotate the fixers" not in told
    assert "rotation 1" in told
    assert "Waiting to be dumped" in told
    lab.session.rollback()
    assert lab.session.execute(select(Rotation.number)).scalar_one() == 1


@pytest.mark.sqlite_only
def test_a_second_press_rotates_once(lab: SmallLab, spent, technician):
    address = f"/baths/lines/{lab.film_line_id}"
    page = technician.get(address).get_data(as_text=True)
    for _ in range(2):
        assert press(technician, f"{address}/rotate", opened=page).location.endswith(address)
    assert "Saved already" in text(technician.get(address))

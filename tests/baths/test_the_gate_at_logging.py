"""Without a current induction new work is stopped before it starts, and finished work is written down and flagged."""

import pytest

from labsys.baths.models import Use
from labsys.chemistry.sizes import Material
from labsys.inductions.models import Hazard, Induction
from labsys.inductions.rules import NotCleared
from tests.baths.counting import film
from tests.support.lab import SmallLab
from tests.support.pages import send, text


@pytest.fixture
def needed(lab: SmallLab):
    lab.mix_film_line()
    return lab.add_induction("Skin care", hazards=frozenset({Hazard.SENSITISER}))


def test_new_work_is_stopped_and_says_what_is_missing_and_where_to_get_it(lab: SmallLab, needed):
    with pytest.raises(NotCleared, match=r"Skin care .*never signed off.*Come to the induction"):
        lab.log(1, before_start=True)
    assert lab.session.query(Use).count() == 0


def test_finished_work_is_recorded_and_flagged(lab: SmallLab, needed):
    assert lab.log(1).flag == "Done without a current induction: Skin care. Get it before the next time."


def test_with_the_induction_nothing_stands_in_the_way(lab: SmallLab, needed):
    lab.appoint(needed)
    lab.sign_off(needed)
    assert lab.log(1, before_start=True).flag == ""


def test_a_sensitiser_asks_for_the_induction_though_the_dilution_calculates_as_unclassified(lab: SmallLab, needed):
    """Common practice, no source: developers irritate and can sensitise, so gloves and the induction stay."""
    assert "Skin care" in lab.log(1, material=Material.FILM).flag


def test_a_flag_of_many_long_names_is_kept_whole(lab: SmallLab, client_as):
    """PostgreSQL refuses what is longer than a column says; an induction's name has up to 80 characters."""
    lab.mix_film_line()
    names = [f"{number:02} {'Ω' * 77}" for number in range(12)]
    for name in names:
        assert len(name) == Induction.NAME_LENGTH
        lab.add_induction(name, hazards=frozenset({Hazard.SENSITISER}))
    member = client_as("member")
    answer = send(member, f"/baths/lines/{lab.film_line_id}/log", **film(1), started="done")
    assert answer.status_code == 303
    (use,) = lab.session.query(Use)
    assert all(name in use.flag for name in names)
    assert names[-1] in text(member.get("/uses"))


def test_a_shared_bath_asks_nothing_of_the_product_as_supplied(lab: SmallLab):
    """Whoever uses the bath that somebody else mixed handles no concentrate; whoever mixes it is asked."""
    lab.mix_film_line()
    lab.add_induction("Pouring concentrates", hazards=frozenset({Hazard.CONCENTRATE, Hazard.CORROSIVE}))
    assert lab.log(1, before_start=True).flag == ""

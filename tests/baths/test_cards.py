"""A bath at a glance. Figures are calculated from the capacities of the small lab; no outside source."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from flask import g

from labsys.baths import queries
from labsys.baths.cards import card, dilution_in_words
from labsys.baths.models import Bath, Place
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material
from labsys.drawing.graduate import BOTTOM, LEFT, TOP
from labsys.drawing.scene import Rect, Role
from tests.support.lab import SmallLab

pytestmark = pytest.mark.sqlite_only


def shown(lab: SmallLab, bath: Bath):
    lab.session.expire_all()
    return card(queries.bath_or_raise(lab.session, bath.id), now=lab.now)


def liquid(scene) -> Rect:
    return next(one for one in scene.shapes if isinstance(one, Rect) and one.x == LEFT)


def test_a_fresh_fixer_says_plenty_and_how_many_rolls(lab: SmallLab):
    """2.5 L at 20 rolls per litre take 50: calculated from the capacity entered."""
    fixer = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    lab.log(12)
    assert shown(lab, fixer).state_words == "Plenty: about 38 rolls of 120"
    assert shown(lab, fixer).limit_words == "Limit: area. 12 of 50 rolls."


def test_a_bath_near_its_end_is_hatched_and_says_so(lab: SmallLab):
    fixer = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    lab.log(44)
    assert shown(lab, fixer).state_words == "Near its end: about 6 rolls of 120"
    assert liquid(shown(lab, fixer).graduate).role is Role.LIQUID_NEAR_END


def test_an_exhausted_bath_says_do_not_use_and_is_crossed(lab: SmallLab):
    fixer = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    lab.log(50)
    assert shown(lab, fixer).state_words == "Exhausted: do not use"
    assert liquid(shown(lab, fixer).graduate).role is Role.LIQUID_EXHAUSTED
    assert shown(lab, fixer).life_bar.title == "Life left: 0 %"


def test_a_bath_without_a_capacity_is_not_known_and_dotted(lab: SmallLab):
    odd = lab.mix(SolutionKind.FIXER, water_parts=7, working_ml=2_000)
    assert shown(lab, odd).state_words == "Not known: no capacity is set"
    assert "Set a capacity" in shown(lab, odd).limit_words
    assert liquid(shown(lab, odd).graduate).role is Role.LIQUID_UNKNOWN


def test_a_bath_counted_in_pieces_names_pieces_as_its_limit(lab: SmallLab):
    """2.5 L at 10 pieces per litre take 25: calculated from the capacity entered."""
    developer = lab.mix(SolutionKind.DEVELOPER, water_parts=6, working_ml=2_500)
    lab.log(5)
    assert shown(lab, developer).limit_words == "Limit: pieces. 5 of 25 pieces."


def test_pieces_a_bath_takes_are_whole_ones(lab: SmallLab):
    """2.555 L at 10 pieces per litre take 25.55, which is 25: calculated from the capacity entered."""
    developer = lab.mix(SolutionKind.DEVELOPER, water_parts=6, working_ml=2_555)
    assert shown(lab, developer).limit_words == "Limit: pieces. 0 of 25 pieces."


def test_a_young_bath_names_its_age_in_days_once_that_limits(lab: SmallLab):
    fixer = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    lab.tick(days=48)
    assert shown(lab, fixer).limit_words == "Limit: age. 48 of 60 days."
    assert shown(lab, fixer).state_words.startswith("Near its end")


def test_a_paper_bath_counts_in_sheets_for_rc_and_fibre(lab: SmallLab):
    """1 L at 40 sheets of RC or 20 of fibre; 10 of RC use a quarter: calculated from the capacities entered."""
    fixer = lab.mix(SolutionKind.FIXER, water_parts=9, working_ml=1_000, paper=True)
    lab.log(10, size="8x10 in", line_id=lab.paper_line_id, material=Material.RC)
    assert shown(lab, fixer).state_words == "Plenty: about 30 on RC or 15 on fibre, sheets 8x10"
    limit = shown(lab, fixer).limit_words
    assert limit == "Limit: area. RC paper: 10 of 40 sheets 8x10; fibre paper: 0 of 20 sheets 8x10."


def test_the_graduate_is_filled_to_the_true_level(lab: SmallLab):
    """Calculated from the scene's own glass: 2.5 L of 3 L fill five sixths of its height."""
    fixer = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500, capacity_ul=3_000_000)
    assert liquid(shown(lab, fixer).graduate).height == pytest.approx((BOTTOM - TOP) * 5 / 6)


def test_a_dumped_bath_says_when_and_is_empty(lab: SmallLab):
    fixer = lab.mix_film_line()[Place.FIXER]
    lab.dump(fixer, lab.open_container(), volume_ml=2_500)
    assert shown(lab, fixer).state_words.startswith("Dumped on ")
    assert not [one for one in shown(lab, fixer).graduate.shapes if isinstance(one, Rect) and one.x == LEFT]


def test_the_day_is_that_of_the_wall_clock_of_the_lab(lab: SmallLab, app):
    """23:30 UTC on 30 June is 00:30 on 1 July in London: calculated from British Summer Time."""
    lab.now = lab.now.replace(month=6, day=30, hour=23, minute=29)
    fixer = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    lab.now = fixer.mixed_at + timedelta(hours=1)
    with app.test_request_context():
        g.zone = ZoneInfo("Europe/London")
        assert shown(lab, fixer).detail == "2.5 L of 1+4 · mixed Wed 1 Jul by Sol Haddad"


@pytest.mark.parametrize(("milli", "words"), [(4_000, "1+4"), (1_500, "1+1.5"), (0, "undiluted")])
def test_a_dilution_reads_as_the_trade_writes_it(milli, words):
    """Notation 1+N: common practice, no source."""
    assert dilution_in_words(milli) == words


def test_the_last_roll_is_said_in_the_singular(lab: SmallLab):
    fixer = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    lab.log(49)
    assert shown(lab, fixer).state_words == "Near its end: about 1 roll of 120"

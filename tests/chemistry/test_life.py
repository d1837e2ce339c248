from dataclasses import replace
from fractions import Fraction
from types import SimpleNamespace as Row

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.chemistry.bath_rules import (
    AgeLimit,
    AreaCapacity,
    BathFacts,
    ClearingTest,
    Colour,
    GravityTest,
    Holding,
    IndicatorTest,
    Judged,
    NotForPaper,
    PersonsVerdict,
    PhTest,
    PieceCapacity,
    SilverTest,
    Stain,
    StainTest,
    StripTest,
)
from labsys.chemistry.life import Fit, Limit, State, life_of
from labsys.chemistry.sizes import Load, Material, WrongMaterial, area_of_units_mm2, load_of, size_of

HOUSE = "house rule"
FILM_20 = AreaCapacity(Material.FILM, area_of_units_mm2(units=20), HOUSE)
RC_40 = AreaCapacity(Material.RC, area_of_units_mm2(units=40), HOUSE)
FIBRE_20 = AreaCapacity(Material.FIBRE, area_of_units_mm2(units=20), HOUSE)
ONE_LITRE = 1_000_000
WEEK_IN_TRAY = AgeLimit(Holding.TRAY, 168, HOUSE)
FILM_ONLY = frozenset({Material.FILM})
ALL = frozenset(Material)


def rolls(count):
    return load_of(size=size_of(key="120"), material=Material.FILM, count=count)


def sheets(count, material):
    return load_of(size=size_of(key="8x10 in"), material=material, count=count)


def fixer(**changes):
    facts = {"materials": FILM_ONLY, "total_ul": ONE_LITRE, "areas": (FILM_20,), "ages": (WEEK_IN_TRAY,)}
    return life_of(facts=BathFacts(**{**facts, **changes}))


STATES = [
    Row(count=0, state=State.PLENTY, left=1, source="calculated: 20 rolls per litre, none used"),
    Row(count=14, state=State.PLENTY, left=Fraction(6, 20), source="calculated from 14/20"),
    Row(count=15, state=State.NEAR_ITS_END, left=Fraction(1, 4), source="calculated from 15/20; near its end at 25 %"),
    Row(count=19, state=State.NEAR_ITS_END, left=Fraction(1, 20), source="calculated from 19/20"),
    Row(count=20, state=State.EXHAUSTED, left=0, source="calculated from 20/20"),
    Row(count=25, state=State.EXHAUSTED, left=0, source="calculated: past 20, nothing is left"),
]


@pytest.mark.parametrize("row", STATES, ids=lambda row: f"{row.count} rolls")
def test_rolls_use_up_a_litre_at_twenty_to_the_litre(row):
    life = fixer(used=rolls(row.count))
    assert (life.state, life.share_left) == (row.state, row.left)
    assert life.remaining_pieces(size=size_of(key="120"), material=Material.FILM) == max(0, 20 - row.count)


def test_the_limiting_rule_says_why_and_by_whose_word():
    life = fixer(used=rolls(15), held_hours={Holding.TRAY: 24})
    assert life.limiting.limit is Limit.AREA
    assert life.limiting.reason == "Gone through: film 0.774 of 1.03 m²."
    assert life.limiting.source == HOUSE


def test_materials_add_up_as_shares():
    """Calculated: half the film capacity, a quarter of the RC, an eighth of the fibre leave an eighth."""
    used = rolls(10) + sheets(10, Material.RC) + Load(fibre_mm2=FIBRE_20.mm2_per_litre // 8)
    life = fixer(materials=ALL, areas=(FILM_20, RC_40, FIBRE_20), used=used)
    assert float(life.share_left) == pytest.approx(1 / 8, abs=1e-6)
    assert life.state is State.NEAR_ITS_END


def test_a_mixed_pile_of_prints_leaves_seven_units():
    """Calculated: 2 L of acid fixer at 20 per litre, less 32.3 units of 8x10, 11x14 and 5x7 in, leaves 7.7."""
    pile = {"8x10 in": 12, "11x14 in": 6, "5x7 in": 20}
    used = Load()
    for key, count in pile.items():
        used += load_of(size=size_of(key=key), material=Material.FIBRE, count=count)
    life = fixer(materials=frozenset({Material.FIBRE}), areas=(FIBRE_20,), total_ul=2 * ONE_LITRE, used=used)
    assert float(life.share_left) * 2 * 20 == pytest.approx(7.7, abs=0.01)
    assert life.remaining_pieces(size=size_of(key="8x10 in"), material=Material.FIBRE) == 7


def test_replenishment_adds_life():
    assert fixer(used=rolls(20), total_ul=1_500_000).share_left == Fraction(1, 3)


def test_a_tenth_of_a_litre_is_counted_exactly():
    life = fixer(total_ul=600_000)
    assert life.remaining_pieces(size=size_of(key="135-36"), material=Material.FILM) == 12


def test_pieces_count_whatever_their_size():
    """S. Anchell, The Darkroom Cookbook, 3rd ed. (2008), p. 268: about 12 rolls per litre of non-swelling stop."""
    twelve = PieceCapacity(12, "S. Anchell, The Darkroom Cookbook, 3rd ed. (2008), p. 268")
    life = fixer(areas=(), pieces=twelve, used=rolls(9))
    assert (life.state, life.share_left) == (State.NEAR_ITS_END, Fraction(1, 4))
    assert life.limiting.limit is Limit.PIECES
    assert life.remaining_pieces(size=size_of(key="135-36"), material=Material.FILM) == 3


def test_the_stricter_of_area_and_pieces_decides():
    life = fixer(pieces=PieceCapacity(10, HOUSE), used=rolls(6))
    assert life.limiting.limit is Limit.PIECES
    assert life.remaining_pieces(size=size_of(key="120"), material=Material.FILM) == 4
    assert life.remaining_pieces(size=size_of(key="8x10 in"), material=Material.FILM) == 4


AGES = [
    Row(hours=84, state=State.PLENTY, source="calculated from 84/168"),
    Row(hours=126, state=State.NEAR_ITS_END, source="calculated from 126/168"),
    Row(hours=168, state=State.EXHAUSTED, source="common practice, no source: open tray 7 days"),
]


@pytest.mark.parametrize("row", AGES, ids=lambda row: f"{row.hours} h")
def test_age_uses_up_a_bath_that_nobody_used(row):
    assert fixer(held_hours={Holding.TRAY: row.hours}).state is row.state


def test_times_in_different_holdings_add_up_as_shares():
    """Calculated: 84 of 168 h and 180 of 720 h leave a quarter."""
    bottle = AgeLimit(Holding.PART_FULL_BOTTLE, 720, HOUSE)
    life = fixer(ages=(WEEK_IN_TRAY, bottle), held_hours={Holding.TRAY: 84, Holding.PART_FULL_BOTTLE: 180})
    assert life.share_left == Fraction(1, 4)
    assert life.limiting.reason == "Kept 84 of 168 h in an open tray; 180 of 720 h in a part-full bottle."


@pytest.mark.parametrize(("hours", "rolls_left"), [(160, 20), (168, 0)])
def test_age_never_takes_room_away_until_it_takes_all(hours, rolls_left):
    life = fixer(held_hours={Holding.TRAY: hours})
    assert life.remaining_pieces(size=size_of(key="120"), material=Material.FILM) == rolls_left


def test_time_in_a_holding_without_a_limit_is_said_to_be_unknown():
    life = fixer(held_hours={Holding.TANK: 10})
    assert (life.state, life.share_left, life.limiting) == (State.NOT_KNOWN, None, None)
    assert life.unknowns == ("No keeping time is set for a tank with a floating lid; 10 h there cannot be judged.",)


NO_AGE = {"ages": (), "held_hours": {Holding.TRAY: 0}}
WITHOUT_A_KEEPING_TIME = [
    Row(count=5, state=State.NOT_KNOWN, left=None, source="by definition: what is not known is never plenty"),
    Row(
        count=15, state=State.NEAR_ITS_END, left=Fraction(1, 4), source="calculated: 15/20; age can only make it worse"
    ),
    Row(count=20, state=State.EXHAUSTED, left=0, source="calculated from 20/20"),
]


@pytest.mark.parametrize("row", WITHOUT_A_KEEPING_TIME, ids=lambda row: f"{row.count} rolls")
def test_a_bath_without_a_keeping_time_is_never_plenty_and_counts_on(row):
    life = fixer(**NO_AGE, used=rolls(row.count))
    assert (life.state, life.share_left) == (row.state, row.left)
    room = life.remaining_pieces(size=size_of(key="120"), material=Material.FILM)
    assert room == (0 if row.state is State.EXHAUSTED else None)
    assert fixer(**NO_AGE).fit(load=rolls(1)) is Fit.NOT_KNOWN


def test_a_sum_about_the_work_alone_asks_for_no_keeping_time():
    assert fixer(ages=(), used=rolls(5)).state is State.PLENTY


def test_the_first_of_two_baths_with_no_second_behind_it_is_not_known():
    life = fixer(lacks_second_bath=True)
    assert life.state is State.NOT_KNOWN
    assert life.unknowns == ("It took the first place of two, and no second bath stands behind it.",)
    assert fixer(lacks_second_bath=True, used=rolls(20)).state is State.EXHAUSTED


def test_a_young_bath_without_a_capacity_is_not_called_plenty():
    life = fixer(areas=(), held_hours={Holding.TRAY: 1})
    assert (life.state, life.share_left, life.limiting) == (State.NOT_KNOWN, None, None)
    assert "No capacity is set, so what goes through this bath cannot be weighed." in life.unknowns
    assert life.remaining_pieces(size=size_of(key="120"), material=Material.FILM) is None


@pytest.mark.parametrize(("hours", "state"), [(125, "not_known"), (126, "near_its_end"), (168, "exhausted")])
def test_the_age_of_a_bath_without_a_capacity_counts_all_the_same(hours, state):
    """Calculated: 126 of 168 h leave a quarter; whatever went through can only make that worse."""
    life = fixer(areas=(), held_hours={Holding.TRAY: hours})
    assert life.state == state
    assert life.fit(load=rolls(1)) is not Fit.FITS


def test_paper_through_a_bath_with_a_film_capacity_only_makes_it_not_known():
    life = fixer(used=rolls(1) + sheets(1, Material.RC))
    assert life.state is State.NOT_KNOWN
    assert "No capacity is set for RC paper; 0.0516 m² went through." in life.unknowns


def test_film_past_its_capacity_exhausts_whatever_else_went_through():
    assert fixer(used=rolls(20) + sheets(1, Material.RC)).state is State.EXHAUSTED


NAV = "NAVEDTRA 14209, Photography (Basic): discard at twice the fresh clearing time"
CLEARING = [
    Row(fresh=45, now=70, state=State.PLENTY, source=NAV + "; calculated 70/45 = 1.56"),
    Row(fresh=45, now=80, state=State.NEAR_ITS_END, source=NAV + "; calculated 80/45 = 1.78"),
    Row(fresh=45, now=90, state=State.EXHAUSTED, source=NAV),
    Row(fresh=45, now=40, state=State.PLENTY, source="calculated: faster than fresh counts as fresh"),
]


@pytest.mark.parametrize("row", CLEARING, ids=lambda row: f"{row.now} s")
def test_a_fixer_is_exhausted_at_twice_its_fresh_clearing_time(row):
    life = fixer(checks=(ClearingTest(row.fresh, row.now),))
    assert life.state is row.state
    assert fixer(areas=(), checks=(ClearingTest(row.fresh, row.now),)).state is row.state


def test_a_passing_test_does_not_take_back_what_counting_says():
    assert fixer(used=rolls(20), checks=(ClearingTest(45, 50),)).state is State.EXHAUSTED


def test_work_done_since_a_test_adds_to_it():
    """Calculated: 1.4 times fresh is 40 %, eight rolls of twenty another 40 %."""
    life = fixer(used=rolls(8), checks=(ClearingTest(50, 70, since=rolls(8)),))
    assert float(life.share_left) == pytest.approx(0.2)
    assert life.limiting.limit is Limit.CLEARING
    assert life.remaining_pieces(size=size_of(key="120"), material=Material.FILM) == 4


def test_a_test_alone_knows_nothing_of_the_work_done_since():
    life = fixer(areas=(), used=rolls(8), checks=(ClearingTest(50, 70, since=rolls(8)),))
    assert life.state is State.NOT_KNOWN
    assert any("work done since then cannot be weighed" in unknown for unknown in life.unknowns)


def test_a_clearing_time_says_nothing_about_a_paper_bath():
    with pytest.raises(NotForPaper, match="paper cannot be seen to clear"):
        fixer(materials=frozenset({Material.RC}), areas=(RC_40,), checks=(ClearingTest(45, 70),))


GLAF = "P. Glafkides, Physique et chimie photographique: a stop bath must stay below pH 5.8"
PH = [
    Row(ph=5.7, state=State.PLENTY, source=GLAF),
    Row(ph=5.8, state=State.EXHAUSTED, source=GLAF),
    Row(ph=7.0, state=State.EXHAUSTED, source=GLAF),
]


@pytest.mark.parametrize("row", PH, ids=lambda row: f"pH {row.ph}")
def test_a_stop_bath_is_exhausted_at_its_highest_ph(row):
    assert fixer(checks=(PhTest(row.ph),)).state is row.state


INDICATOR = "common practice, no source: bromocresol purple yellow below pH 5.2, purple above 6.8"
COLOURS = [
    Row(colour=Colour.UNCHANGED, counted=State.PLENTY, alone=State.NOT_KNOWN, source=INDICATOR),
    Row(colour=Colour.TURNING, counted=State.NEAR_ITS_END, alone=State.NEAR_ITS_END, source=INDICATOR),
    Row(colour=Colour.CHANGED, counted=State.EXHAUSTED, alone=State.EXHAUSTED, source=INDICATOR),
]


@pytest.mark.parametrize("row", COLOURS, ids=lambda row: row.colour)
def test_the_first_change_of_an_indicator_warns_before_the_limit(row):
    assert fixer(checks=(IndicatorTest(row.colour),)).state is row.counted
    assert fixer(areas=(), checks=(IndicatorTest(row.colour),)).state is row.alone


VERDICTS = [
    Row(judged=Judged.GOOD, counted=State.PLENTY, alone=State.NOT_KNOWN, source="common practice, no source"),
    Row(judged=Judged.NEAR_ITS_END, counted=State.NEAR_ITS_END, alone=State.NEAR_ITS_END, source="by definition"),
    Row(judged=Judged.EXHAUSTED, counted=State.EXHAUSTED, alone=State.EXHAUSTED, source="by definition"),
]


@pytest.mark.parametrize("row", VERDICTS, ids=lambda row: row.judged)
def test_a_persons_verdict_can_only_make_it_stricter(row):
    assert fixer(checks=(PersonsVerdict(row.judged),)).state is row.counted
    assert fixer(areas=(), checks=(PersonsVerdict(row.judged),)).state is row.alone


def test_a_passing_test_says_that_it_does_not_say_how_much_is_left():
    life = fixer(areas=(), checks=(PhTest(4.5),))
    assert "pH 4.5; it must stay below 5.8. That passes, and does not say how much is left." in life.unknowns


FITS = [
    Row(used=0, plan=20, fit=Fit.FITS, source="calculated: the last roll that fits exactly, 20 of 20"),
    Row(used=0, plan=21, fit=Fit.TOO_MUCH, source="calculated: 21 of 20"),
    Row(used=18, plan=2, fit=Fit.FITS, source="calculated: 20 of 20"),
    Row(used=18, plan=3, fit=Fit.TOO_MUCH, source="calculated: 21 of 20"),
    Row(used=20, plan=0, fit=Fit.TOO_MUCH, source="calculated: exhausted already"),
]


@pytest.mark.parametrize("row", FITS, ids=lambda row: f"{row.used}+{row.plan}")
def test_a_planned_load_fits_or_not(row):
    assert fixer(used=rolls(row.used)).fit(load=rolls(row.plan)) is row.fit


def test_a_load_without_a_capacity_is_not_known_to_fit():
    assert fixer().fit(load=sheets(1, Material.RC)) is Fit.NOT_KNOWN
    assert fixer(areas=()).fit(load=rolls(1)) is Fit.NOT_KNOWN


def test_after_a_load_the_life_is_as_if_it_had_gone_through():
    after = fixer(used=rolls(3)).after(load=rolls(4))
    assert after == fixer(used=rolls(7))


def test_a_roll_on_paper_has_no_life_to_ask_for():
    with pytest.raises(WrongMaterial):
        fixer().remaining_pieces(size=size_of(key="120"), material=Material.RC)


ORDER = [State.PLENTY, State.NEAR_ITS_END, State.EXHAUSTED]
loads = st.builds(Load, *[st.integers(0, 2 * 10**6)] * 3, st.integers(0, 30))
checks = st.lists(
    st.builds(ClearingTest, st.floats(20, 60), st.floats(20, 150), since=loads)
    | st.builds(IndicatorTest, st.sampled_from(Colour), since=loads)
    | st.builds(PhTest, st.floats(3, 7), since=loads)
    | st.builds(PersonsVerdict, st.sampled_from(Judged), since=loads),
    max_size=3,
).map(tuple)
baths = st.builds(
    BathFacts,
    materials=st.just(ALL),
    total_ul=st.integers(100_000, 5_000_000),
    used=loads,
    areas=st.sampled_from([(FILM_20, RC_40, FIBRE_20), (FILM_20,), ()]),
    pieces=st.sampled_from([None, PieceCapacity(12, HOUSE)]),
    ages=st.sampled_from([(), (WEEK_IN_TRAY,)]),
    held_hours=st.fixed_dictionaries({Holding.TRAY: st.floats(0, 300)}),
    checks=checks,
)


@given(baths, loads)
def test_more_work_never_gives_more_life(facts, load):
    before = life_of(facts=facts)
    after = before.after(load=load)
    if State.NOT_KNOWN not in (before.state, after.state):
        assert after.share_left <= before.share_left
        assert ORDER.index(after.state) >= ORDER.index(before.state)
        roll = {"size": size_of(key="120"), "material": Material.FILM}
        left, left_before = after.remaining_pieces(**roll), before.remaining_pieces(**roll)
        assert None in (left, left_before) or left <= left_before
    if before.state is State.EXHAUSTED:
        assert after.state is State.EXHAUSTED


@given(baths, st.integers(1, 1_000_000))
def test_more_solution_never_gives_less_life(facts, more_ul):
    one, other = life_of(facts=facts), life_of(facts=replace(facts, total_ul=facts.total_ul + more_ul))
    if one.share_left is not None and other.share_left is not None:
        assert other.share_left >= one.share_left


@given(baths, st.sampled_from(["120", "8x10 in"]))
def test_the_pieces_it_has_room_for_fit_and_one_more_does_not(facts, key):
    life = life_of(facts=facts)
    size = size_of(key=key)
    count = life.remaining_pieces(size=size, material=Material.FILM)
    if count is None or life.state is State.EXHAUSTED:
        return
    assert life.fit(load=load_of(size=size, material=Material.FILM, count=count)) is Fit.FITS
    assert life.fit(load=load_of(size=size, material=Material.FILM, count=count + 1)) is Fit.TOO_MUCH


@given(baths)
def test_what_is_known_of_a_bath_is_consistent(facts):
    life = life_of(facts=facts)
    assert (life.share_left is None) is (life.state is State.NOT_KNOWN)
    if life.share_left is not None:
        assert 0 <= life.share_left <= 1
        assert (life.share_left == 0) is (life.state is State.EXHAUSTED)
        assert (life.share_left <= Fraction(1, 4)) is (life.state is not State.PLENTY)
    assert all(finding.source for finding in life.findings)


@pytest.mark.parametrize(
    ("check", "state", "source"),
    [
        (GravityTest(1.085, 1.08, 1.09, "x"), State.PLENTY, "calculated from limits made up for the test"),
        (GravityTest(1.079, 1.08, 1.09, "x"), State.EXHAUSTED, "calculated from limits made up for the test"),
        (GravityTest(1.091, 1.08, 1.09, "x"), State.EXHAUSTED, "calculated from limits made up for the test"),
        (SilverTest(0.3, 0.5, "x"), State.PLENTY, "Archival Processing: 0.5 g/L in a single bath; calculated share"),
        (SilverTest(0.4, 0.5, "x"), State.NEAR_ITS_END, "Archival Processing: 0.5 g/L; calculated share of 0.8"),
        (SilverTest(0.5, 0.5, "x"), State.EXHAUSTED, "Archival Processing: 0.5 g/L in a single bath"),
        (SilverTest(2, 2, "x"), State.EXHAUSTED, "US compliance guide for printers: about 2 g/L, film"),
        (StripTest(()), State.PLENTY, "NAVEDTRA 14208: within its limits, by definition"),
        (StripTest(("fog",)), State.NEAR_ITS_END, "NAVEDTRA 14208: a second strip is part of the search"),
        (StripTest(("fog",), is_confirmed=True), State.EXHAUSTED, "NAVEDTRA 14208, p. 2-22: outside, stop"),
        (StainTest(Stain.FAINT), State.PLENTY, "from memory: a barely visible tint is fixed"),
        (StainTest(Stain.PLAIN), State.EXHAUSTED, "from memory: more than a barely visible tint is not fixed"),
    ],
)
def test_each_way_to_test_a_bath_has_its_say(check, state, source):
    """Nothing has gone through: counting alone says plenty."""
    assert fixer(checks=(check,)).state is state

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.chemistry.sizes import Material
from labsys.hazards.statements import all_statements
from labsys.inductions import rules
from labsys.inductions.models import Hazard
from labsys.inductions.rules import Edition, InductionState, Missing, Required, Signed, Subject

LONDON = ZoneInfo("Europe/London")
AT = datetime(2026, 6, 15, 18, 0, tzinfo=UTC)
ANNA, BEN = 1, 2
SKIN, ENLARGER = 10, 11
FIRST = [Edition(SKIN, 1, False, AT - timedelta(days=900))]
SECOND = Edition(SKIN, 2, True, datetime(2026, 6, 1, 12, 0, tzinfo=UTC))
GOOD = Signed(
    ANNA,
    SKIN,
    1,
    taught_at=AT - timedelta(days=100),
    lapses_at=AT + timedelta(days=265),
    confirmed_at=AT - timedelta(days=99),
)
ON_A_PLACE = Required(ENLARGER, "Enlarger", "Ask Ines.", station_id=7, station_name="Enlarger A")
ON_FILM = Required(SKIN, "Skin care", "Mondays at six", material=Material.FILM)
ON_SENSITISERS = Required(SKIN, "Skin care", "Mondays at six", hazard=Hazard.SENSITISER)
EVERYTHING = Subject(7, Material.FILM, frozenset({Hazard.SENSITISER}))


def ask(subject, *, requirements, sign_offs=(), editions=FIRST, at=AT, now=None):
    found = rules.clearance(
        person_ids=[ANNA],
        subjects=[subject],
        requirements=requirements,
        editions=editions,
        sign_offs=sign_offs,
        at=at,
        now=now or at,
        zone=LONDON,
    )
    return found[ANNA, subject]


@pytest.mark.parametrize(
    ("need", "asked_for", "not_asked_for"),
    [
        (ON_A_PLACE, Subject(station_id=7), Subject(station_id=8)),
        (ON_FILM, Subject(material=Material.FILM), Subject(material=Material.RC)),
        (ON_SENSITISERS, Subject(hazards=frozenset({Hazard.SENSITISER})), Subject()),
    ],
)
def test_a_requirement_holds_for_its_own_subject_and_no_other(need, asked_for, not_asked_for):
    assert not ask(asked_for, requirements=[need]).is_clear
    assert ask(not_asked_for, requirements=[need]).is_clear


def test_what_is_missing_names_the_subject_and_the_way_to_get_it():
    enlarger, skin = ask(EVERYTHING, requirements=[ON_A_PLACE, ON_FILM, ON_SENSITISERS]).missing
    assert enlarger.sentence == "Enlarger is needed for Enlarger A: never signed off. Ask Ines."
    assert skin.sentence == (
        "Skin care is needed for film and because a chemical in use is a sensitiser (it can cause an allergy): "
        "never signed off. Mondays at six."
    )


@pytest.mark.parametrize(
    ("sign_offs", "editions", "state"),
    [
        ([], FIRST, "never signed off"),
        ([replace(GOOD, lapses_at=datetime(2026, 5, 3, 12, tzinfo=UTC))], FIRST, "lapsed on 3 May"),
        ([replace(GOOD, lapses_at=datetime(2025, 5, 3, 12, tzinfo=UTC))], FIRST, "lapsed on 3 May 2025"),
        ([replace(GOOD, confirmed_at=None)], FIRST, "waits for your own confirmation"),
        ([replace(GOOD, withdrawn_at=datetime(2026, 6, 2, tzinfo=UTC))], FIRST, "withdrawn on 2 June"),
        ([GOOD], [*FIRST, SECOND], "must be repeated: version 2 of 1 June"),
    ],
)
def test_the_state_says_in_words_how_somebody_stands(sign_offs, editions, state):
    (missing,) = ask(EVERYTHING, requirements=[ON_FILM], sign_offs=sign_offs, editions=editions).missing
    assert missing.state == state
    assert "your" not in missing.state_for_others


def test_a_version_that_need_not_be_repeated_leaves_what_was_signed():
    editions = [*FIRST, replace(SECOND, must_repeat=False)]
    assert ask(EVERYTHING, requirements=[ON_FILM], sign_offs=[GOOD], editions=editions).is_clear


def test_an_old_version_signed_after_one_that_must_be_repeated_was_issued_does_not_count():
    third = [*FIRST, SECOND, Edition(SKIN, 3, False, SECOND.issued_at)]
    assert not ask(EVERYTHING, requirements=[ON_FILM], sign_offs=[GOOD], editions=third).is_clear
    of_second = replace(GOOD, version_number=2)
    assert ask(EVERYTHING, requirements=[ON_FILM], sign_offs=[of_second], editions=third).is_clear


def test_what_happens_later_does_not_count_yet():
    later = AT + timedelta(hours=1)
    assert ask(EVERYTHING, requirements=[ON_FILM], sign_offs=[replace(GOOD, withdrawn_at=later)]).is_clear
    assert not ask(EVERYTHING, requirements=[ON_FILM], sign_offs=[replace(GOOD, confirmed_at=later)]).is_clear
    taught_later = replace(GOOD, taught_at=later, confirmed_at=later)
    (missing,) = ask(EVERYTHING, requirements=[ON_FILM], sign_offs=[taught_later]).missing
    assert missing.standing is InductionState.NEVER


def test_it_lapses_at_its_instant_and_not_before():
    last = replace(GOOD, lapses_at=AT)
    assert not ask(EVERYTHING, requirements=[ON_FILM], sign_offs=[last]).is_clear
    assert ask(EVERYTHING, requirements=[ON_FILM], sign_offs=[last], at=AT - timedelta(seconds=1)).is_clear


def test_what_lapses_before_a_later_beginning_is_said_as_still_to_come():
    last = replace(GOOD, lapses_at=AT + timedelta(days=5))
    later = AT + timedelta(days=9)
    (missing,) = ask(EVERYTHING, requirements=[ON_FILM], sign_offs=[last], at=later, now=AT).missing
    assert missing.state == "lapses on 20 June, before that time is over"


def test_the_sign_off_of_somebody_else_or_of_something_else_does_not_help():
    for other in (replace(GOOD, person_id=BEN), replace(GOOD, induction_id=ENLARGER)):
        assert not ask(EVERYTHING, requirements=[ON_FILM], sign_offs=[other]).is_clear


def test_of_several_sign_offs_the_one_that_only_waits_for_its_confirmation_is_named():
    lapsed = replace(GOOD, taught_at=AT - timedelta(days=1), lapses_at=AT - timedelta(hours=1))
    (missing,) = ask(EVERYTHING, requirements=[ON_FILM], sign_offs=[lapsed, replace(GOOD, confirmed_at=None)]).missing
    assert missing.standing is InductionState.WAITING


def test_what_is_missing_for_several_subjects_is_named_once():
    one = Missing(SKIN, "Skin care", ("for film",), "Mondays", "never signed off", InductionState.NEVER)
    both = rules.joined([one, replace(one, whys=("for Film sink", "for film"))])
    assert [missing.why for missing in both] == ["for film and for Film sink"]


@pytest.mark.parametrize("code", sorted(rules.SENSITISER_CODES))
def test_each_code_that_asks_for_skin_care_speaks_of_an_allergy(code):
    """Statement texts as in labsys/hazards/data/statements.csv: CLP Annexes II and III, from memory."""
    assert "aller" in next(one.text for one in all_statements() if one.code == code)


def test_every_statement_that_speaks_of_an_allergy_asks_for_skin_care():
    """Statement texts as in labsys/hazards/data/statements.csv: CLP Annexes II and III, from memory."""
    alike = {one.code for one in all_statements() if "allerg" in one.text and one.code.startswith(("H", "EUH"))}
    assert alike <= rules.SENSITISER_CODES


# The gate is monotone

instants = st.integers(min_value=0, max_value=40).map(lambda days: AT + timedelta(days=days))
maybe = st.none() | instants
PEOPLE, INDUCTIONS = st.sampled_from([ANNA, BEN]), st.sampled_from([SKIN, ENLARGER])
SIGNED = st.builds(
    Signed,
    person_id=PEOPLE,
    induction_id=INDUCTIONS,
    version_number=st.integers(1, 3),
    taught_at=instants,
    lapses_at=maybe,
    confirmed_at=maybe,
    withdrawn_at=maybe,
)
EDITIONS = st.lists(
    st.builds(Edition, induction_id=INDUCTIONS, number=st.integers(1, 3), must_repeat=st.booleans(), issued_at=instants)
)
NEED = st.sampled_from([ON_A_PLACE, ON_FILM, ON_SENSITISERS, replace(ON_FILM, material=Material.RC)])
SUBJECT = st.builds(
    Subject,
    station_id=st.sampled_from([None, 7, 8]),
    material=st.sampled_from([None, *Material]),
    hazards=st.sampled_from([frozenset(), frozenset(Hazard)]),
)


@given(st.lists(SIGNED), SIGNED, EDITIONS, st.lists(NEED), SUBJECT, instants)
def test_a_sign_off_more_never_takes_a_clearance_away(signed, more, editions, needs, subject, at):
    asked = {"requirements": needs, "editions": editions, "at": at}
    if ask(subject, sign_offs=signed, **asked).is_clear:
        assert ask(subject, sign_offs=[*signed, more], **asked).is_clear


@given(st.lists(SIGNED), EDITIONS, st.lists(NEED), NEED, SUBJECT, instants)
def test_a_requirement_more_never_gives_a_clearance(signed, editions, needs, more, subject, at):
    asked = {"sign_offs": signed, "editions": editions, "at": at}
    if not ask(subject, requirements=needs, **asked).is_clear:
        assert not ask(subject, requirements=[*needs, more], **asked).is_clear


@given(st.lists(SIGNED), EDITIONS, st.lists(NEED), SUBJECT, st.integers(0, 60), st.integers(0, 400))
def test_time_passing_never_gives_a_clearance(signed, editions, needs, subject, days, more_days):
    """From an instant on at which all there is has been taught and confirmed."""
    known = [at for one in signed for at in (one.taught_at, one.confirmed_at) if at is not None]
    at = max([AT, *known]) + timedelta(days=days)
    asked = {"requirements": needs, "sign_offs": signed, "editions": editions}
    if not ask(subject, at=at, **asked).is_clear:
        assert not ask(subject, at=at + timedelta(days=more_days), **asked).is_clear


@given(st.lists(SIGNED), EDITIONS, st.lists(NEED, min_size=1), st.lists(SUBJECT, min_size=1), instants)
def test_asking_in_bulk_answers_as_asking_one_by_one(signed, editions, needs, subjects, at):
    asked = {"requirements": needs, "sign_offs": signed, "editions": editions, "at": at}
    together = rules.clearance(person_ids={ANNA, BEN}, subjects=set(subjects), now=at, zone=LONDON, **asked)
    assert set(together) == {(person, subject) for person in (ANNA, BEN) for subject in subjects}
    for subject in subjects:
        assert together[ANNA, subject] == ask(subject, **asked)

"""What everybody agrees to who works here: issued by version, signed by each, asked again where a version says so."""

from sqlalchemy import select
from sqlalchemy.orm import joinedload

from labsys.database import DbSession
from labsys.membership import rules
from labsys.membership.keeping import own_matter, ward
from labsys.membership.models import Agreement, AgreementSignature
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import Permission, require
from labsys.records.models import Lab


@act
def issue(act: Act, *, text: str, sign_again: bool) -> Agreement:
    """Issue a version. With `sign_again` what was signed before no longer counts.

    Raises NotPermitted or MembershipRefused.
    """
    require(act.actor, Permission.KEEP_LAB)
    act.session.execute(select(Lab).with_for_update())
    newest = newest_of(act.session)
    if newest is not None and newest.text == text.strip() and not sign_again:
        raise rules.MembershipRefused("Nothing is different from the version that stands.", field="text")
    agreement = Agreement(
        number=newest.number + 1 if newest else 1,
        text=text.strip(),
        sign_again=sign_again,
        issued_at=act.now,
        issued_by_id=act.actor.id,
    )
    act.session.add(agreement)
    act.session.flush()
    act.tell("agreement.issued", about=agreement, facts={"number": agreement.number, "sign_again": sign_again})
    return agreement


@act
def sign(act: Act, *, number: int) -> Person:
    """Agree, for oneself, to the version that was read. Raises NotPermitted or MembershipRefused."""
    return _sign(act, own_matter(act), number=number, paper="")


@act
def enter_signed(act: Act, *, person_id: int, number: int, paper: str) -> Person:
    """Enter that somebody else signed a version on paper. Raises NotPermitted, NotFound or MembershipRefused."""
    if not paper.strip():
        raise rules.MembershipRefused("Say where the signed paper is kept.", field="paper")
    return _sign(act, ward(act, person_id), number=number, paper=paper.strip())


def _sign(act: Act, person: Person, *, number: int, paper: str) -> Person:
    newest = newest_of(act.session)
    if newest is None or newest.number != number:
        raise rules.MembershipRefused("A new version was issued meanwhile. Read that one.")
    if signed_by(act.session, person.id, newest) is not None:
        raise rules.MembershipRefused("This version is signed already. There is nothing left to do.")
    act.session.add(
        AgreementSignature(
            agreement_id=newest.id, person_id=person.id, paper=paper, signed_at=act.now, recorded_by_id=act.actor.id
        )
    )
    act.tell("person.agreement_signed", about=person, facts={"version": number, "paper": paper})
    return person


def every(session: DbSession) -> list[Agreement]:
    """All versions, the newest first."""
    return list(session.execute(select(Agreement).order_by(Agreement.number.desc())).scalars())


def newest_of(session: DbSession) -> Agreement | None:
    return session.execute(select(Agreement).order_by(Agreement.number.desc()).limit(1)).scalar_one_or_none()


def signed_by(session: DbSession, person_id: int, agreement: Agreement) -> AgreementSignature | None:
    query = select(AgreementSignature).where(
        AgreementSignature.person_id == person_id, AgreementSignature.agreement_id == agreement.id
    )
    return session.execute(query).scalar_one_or_none()


def signatures_of(session: DbSession, person_id: int) -> list[AgreementSignature]:
    """What somebody signed, the newest first."""
    query = (
        select(AgreementSignature)
        .where(AgreementSignature.person_id == person_id)
        .options(joinedload(AgreementSignature.agreement))
        .order_by(AgreementSignature.id.desc())
    )
    return list(session.execute(query).scalars())


def needed_from(session: DbSession) -> int:
    """The number of the earliest version whose signature still counts; 0 where none was issued."""
    versions = every(session)
    return next((version.number for version in versions if version.sign_again), min([1, len(versions)]))


def why_unsigned(session: DbSession, person: Person) -> str:
    """Why somebody's signature is missing, to them; empty where it is not, or nothing was issued to sign."""
    if not (needed := needed_from(session)):
        return ""
    signed = [signature.agreement.number for signature in signatures_of(session, person.id)]
    return rules.why_unsigned(signed, needed=needed)

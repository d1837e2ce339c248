"""What pages read of washes and safelights."""

from datetime import datetime, timedelta

from sqlalchemy import ColumnElement, and_, or_, select, tuple_
from sqlalchemy.orm import aliased, joinedload

from labsys.baths.models import Bath
from labsys.baths.rules import TAKES_SILVER
from labsys.chemistry.bath_rules import Stain
from labsys.chemistry.sizes import Material
from labsys.chemistry.washing import limit_g_per_m2
from labsys.database import DbSession
from labsys.people.models import Person
from labsys.proving.fog import DUE_AFTER_DAYS, MOST_GAIN
from labsys.proving.models import UG_PER_G, SafelightTest, WashTest

WASH_DUE_AFTER_DAYS = 30  # a maker's radiography manual, p. 49, on ISO 11699-2: at least monthly
SHOWN = 50


def wash_tests(session: DbSession, *, line_id: int) -> list[WashTest]:
    """The newest tests of a line's washing, newest first."""
    newest_first = WashTest.tested_at.desc(), WashTest.id.desc()
    of_line = select(WashTest).where(WashTest.line_id == line_id).order_by(*newest_first)
    tested_by = joinedload(WashTest.tested_by).lazyload(Person.role_rows)
    return list(session.execute(of_line.options(tested_by, joinedload(WashTest.bath)).limit(SHOWN)).scalars())


def fixers_of_line(session: DbSession, *, line_id: int) -> list[Bath]:
    """Fixers of a line, those that stand and those dumped last."""
    fixers = select(Bath).where(Bath.line_id == line_id, Bath.place.in_(TAKES_SILVER), Bath.in_service_at.is_not(None))
    return list(session.execute(fixers.order_by(Bath.id.desc()).limit(SHOWN)).scalars())


def safelight_tests(session: DbSession) -> list[SafelightTest]:
    """The newest test of each paper under each light of each place, newest first."""
    newest = select(SafelightTest).where(is_newest_of_light()).order_by(SafelightTest.tested_at.desc())
    tested_by = joinedload(SafelightTest.tested_by).lazyload(Person.role_rows)
    return list(session.execute(newest.options(tested_by, joinedload(SafelightTest.station))).scalars())


def is_newest_of_wash() -> ColumnElement[bool]:
    """That no newer test of the same material of the line stands."""
    newer = aliased(WashTest)
    is_newer = tuple_(newer.tested_at, newer.id) > tuple_(WashTest.tested_at, WashTest.id)
    same = newer.line_id == WashTest.line_id, newer.material == WashTest.material
    return ~select(newer.id).where(*same, is_newer).exists()


def is_newest_of_light() -> ColumnElement[bool]:
    """That no newer test of the same paper at the place stands."""
    newer = aliased(SafelightTest)
    is_newer = tuple_(newer.tested_at, newer.id) > tuple_(SafelightTest.tested_at, SafelightTest.id)
    same = newer.station_id == SafelightTest.station_id, newer.paper == SafelightTest.paper
    return ~select(newer.id).where(*same, is_newer).exists()


def wash_failed() -> ColumnElement[bool]:
    """`WashTest.is_washed` is false, asked of the database."""
    most = round(limit_g_per_m2(material=Material.FILM) * UG_PER_G)
    return or_(WashTest.stain == Stain.PLAIN, and_(WashTest.material == Material.FILM, WashTest.ug_per_m2 > most))


def light_failed() -> ColumnElement[bool]:
    """`SafelightTest.is_safe` is false, asked of the database."""
    return or_(SafelightTest.clean_s < SafelightTest.needed_s, SafelightTest.gain_milli > MOST_GAIN)


def wash_due(now: datetime) -> ColumnElement[bool]:
    """That a newest wash test failed, or is a month old."""
    return or_(wash_failed(), WashTest.tested_at <= now - timedelta(days=WASH_DUE_AFTER_DAYS))


def light_due(now: datetime) -> ColumnElement[bool]:
    """That a newest safelight test failed, or is a year old."""
    return or_(light_failed(), SafelightTest.tested_at <= now - timedelta(days=DUE_AFTER_DAYS))

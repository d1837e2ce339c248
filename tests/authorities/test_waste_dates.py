"""When the consignee's return is due, as the page of a collection tells it."""

from datetime import UTC, datetime

import pytest
import time_machine
from sqlalchemy import update

from labsys.records.models import Lab
from tests.support.pages import send, text
from tests.waste.sending import NOTE, RIGHT, pour_path

pytestmark = pytest.mark.sqlite_only

LAW = "SI 2005/894 reg 53(4), with gov.uk on consignee returns"
DUE = [
    (datetime(2027, 3, 31, 10, tzinfo=UTC), "30 Apr 2027", LAW),
    (datetime(2027, 6, 30, 10, tzinfo=UTC), "31 Jul 2027", LAW),
    (datetime(2027, 9, 30, 10, tzinfo=UTC), "31 Oct 2027", LAW),
    (datetime(2027, 12, 31, 10, tzinfo=UTC), "31 Jan 2028", LAW),
    (datetime(2027, 4, 1, 10, tzinfo=UTC), "31 Jul 2027", "calculated: the first day of a quarter"),
    (datetime(2027, 3, 31, 23, 30, tzinfo=UTC), "31 Jul 2027", "calculated: past midnight by the clock in the lab"),
]


def collection_page(lab, client_as, now):
    with time_machine.travel(now, tick=False):
        technician = client_as("technician")
        container = lab.open_container()
        send(technician, pour_path(container), **RIGHT)
        lab.state(container)
        return text(technician.get(send(technician, "/waste/collect", containers=[container.id], **NOTE).location))


@pytest.mark.parametrize(("now", "due", "source"), DUE)
def test_the_return_is_due_a_month_after_the_quarter(lab, client_as, now, due, source):
    assert f"sends you a return on this waste by {due}" in collection_page(lab, client_as, now), source


def test_where_the_rule_is_not_on_file_no_day_is_told(lab, client_as):
    lab.session.execute(update(Lab).values(nation="Scotland"))
    lab.session.commit()
    assert "sends you a return" not in collection_page(lab, client_as, DUE[0][0])

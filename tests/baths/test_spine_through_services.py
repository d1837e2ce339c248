"""The spine, at the level of the services: from bottle to consignment, on both databases."""

from labsys.baths import queries, rules, testing
from labsys.baths.models import CheckKind, Place
from labsys.baths.testing import Found
from labsys.chemistry.life import State
from labsys.ledger import queries as ledger
from labsys.ledger.models import Account, Unit, VesselKind
from labsys.people.acts import Act
from labsys.records import queries as records
from labsys.waste import service as waste
from tests.support.lab import SmallLab


def test_every_litre_from_bottle_to_consignment_is_on_the_ledger(lab: SmallLab):
    line = lab.mix_film_line()
    fixer = line[Place.FIXER]
    technician = lab.person("technician")
    for fresh, seconds in ((True, 40), (False, 85)):
        testing.check_bath(
            Act(lab.session, by=technician, now=lab.now),
            bath_id=fixer.id,
            kind=CheckKind.CLEARING_TIME,
            found=Found(value_milli=seconds * 1000, is_fresh=fresh),
            checked_at=lab.tick(),
        )
        if fresh:
            lab.log(5)
    life = rules.life(queries.bath_or_raise(lab.session, fixer.id), now=lab.now)
    assert life.state is State.EXHAUSTED
    assert life.limiting.limit == "clearing"

    container = lab.open_container()
    lab.dump(fixer, container, volume_ml=2_480)
    lab.state(container)
    collection = waste.collect(
        Act(lab.session, by=lab.person("manager"), now=lab.now),
        handed_over=[waste.HandedOver(container.id, carrier_ul=2_470_000, weight_mg=2_700_000)],
        note_code="ALDERS/00001",
        carrier="Invented Carriers",
        collected_at=lab.tick(),
    )
    assert collection.lines[0].difference_ul == -10_000

    balance = ledger.balances(lab.session, start=lab.now.replace(year=2025), end=lab.tick(days=1))[Unit.UL]
    assert balance.difference == 0
    assert balance.accounts[Account.CARRIER] == 2_470_000
    assert balance.accounts[Account.CARRIED_OUT] + balance.unexplained == 30_000
    assert balance.after[VesselKind.BATH] == 5_000_000
    assert balance.after.get(VesselKind.CONTAINER, 0) == 0
    assert ledger.wrong_levels(lab.session) == []
    assert ledger.unbalanced_movements(lab.session) == []
    assert records.find_fault(lab.session) is None

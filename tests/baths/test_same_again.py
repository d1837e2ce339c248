"""Mixing the same bath again: two touches as planned, or what was measured; not once what is known of it changed."""

from dataclasses import replace

import pytest

from labsys.baths.models import Batch, Bath, Place
from labsys.chemistry.care import SolutionKind
from labsys.products import service as products
from labsys.store.models import Bottle
from tests.support.lab import SmallLab, product_entry
from tests.support.pages import links, send, source, text


@pytest.fixture
def fixer(lab: SmallLab) -> Bath:
    return lab.mix_film_line()[Place.FIXER]


def newest(lab: SmallLab) -> tuple[Bath, Batch]:
    lab.session.rollback()
    bath = lab.session.query(Bath).order_by(Bath.id.desc()).first()
    return bath, bath.batches[0]


def test_two_touches_mix_it_again_as_planned_and_the_bath_says_so(lab: SmallLab, technician, fixer):
    lab.add_bottle(SolutionKind.FIXER)
    page = f"/baths/{fixer.id}"
    again = next(link for link in links(source(technician.get(page))) if link.endswith("/again"))
    shown = text(technician.get(again))
    assert "As planned:" in shown
    assert "500 mL out of" in shown
    assert "2000 mL of water" in shown
    answer = send(technician, again, as_planned="Save as planned", name="Film fixer", capacity="3 L", begins="service")
    assert answer.status_code == 303
    bath, batch = newest(lab)
    assert (bath.id, bath.line_id, bath.place) != (fixer.id, fixer.line_id, fixer.place)
    assert (batch.volume_ul, batch.is_as_planned) == (2_500_000, True)
    assert "saved as planned: nobody wrote down what was measured" in text(technician.get(answer.location))
    assert "waits to be dumped" in text(technician.get(page))


def test_what_was_measured_is_kept_as_measured(lab: SmallLab, technician, fixer):
    bottle = lab.add_bottle(SolutionKind.FIXER)
    again = f"/baths/{fixer.id}/again"
    rows = [row for row in source(technician.get(again)).split('name="bottles-')[1:] if f'value="{bottle.id}"' in row]
    number = rows[0].partition("-")[0]
    typed = {f"bottles-{number}-bottle_id": bottle.id, f"bottles-{number}-amount": "510", "water": "2000"}
    assert send(technician, again, typed, name="Film fixer", capacity="3 L", begins="spare").status_code == 303
    _, batch = newest(lab)
    assert (batch.volume_ul, batch.is_as_planned) == (2_510_000, False)


@pytest.mark.sqlite_only
def test_a_shortage_is_said_before_anything_is_poured(lab: SmallLab, technician, fixer):
    for bottle in lab.session.query(Bottle).filter_by(product_id=fixer.product_id):
        bottle.vessel.level = 100_000
    lab.session.commit()
    page = technician.get(f"/baths/{fixer.id}/again")
    assert "There is too little to mix this again" in text(page)
    assert 'name="as_planned"' not in source(page)
    sent = send(technician, f"/baths/{fixer.id}/again", as_planned="yes", name="F", capacity="3 L", begins="service")
    assert sent.status_code == 422


@pytest.mark.sqlite_only
def test_it_is_not_offered_once_the_product_or_its_assessment_changed(lab: SmallLab, technician, fixer):
    path = f"/baths/{fixer.id}"
    assert f"{path}/again" in links(source(technician.get(path)))
    read = replace(product_entry(SolutionKind.FIXER), h_codes="H319")
    products.change_product(
        lab.act("technician"), product_id=fixer.product_id, edition=fixer.product.edition, sheet=read
    )
    products.confirm_product(lab.act("safety adviser"), product_id=fixer.product_id)
    page = technician.get(path)
    assert f"{path}/again" not in links(source(page))
    assert "changed since this was mixed: plan it anew" in text(page)
    answer = technician.get(f"{path}/again")
    assert answer.location.startswith("/baths/mix")
    assert "changed since this was mixed" in text(technician.get(answer.location))


@pytest.mark.sqlite_only
def test_those_who_do_not_keep_baths_are_not_offered_it(lab: SmallLab, member, fixer):
    assert f"/baths/{fixer.id}/again" not in links(source(member.get(f"/baths/{fixer.id}")))

"""Assessments of the demonstration lab: written by the technicians, approved by the safety adviser."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import time, timedelta
from typing import Any

from labsys.demo.play import Play
from labsys.demo.visits import Scene
from labsys.people.acts import Act
from labsys.products import service as products
from labsys.risk import actions, approving, service
from labsys.risk.models import AssessedSubstance, Assessment, Level, Residual, Route, Under18, Version, Who
from labsys.risk.rules import Content, Judgement

_WRITTEN, _APPROVED = time(9, 20), time(9, 30)  # before the technician's round


def assess(play: Play) -> Iterator[Scene]:
    """Every scene of `assessments.toml`, each at its time."""
    found = play.fixtures.assessments

    def scene(days_ago: int, clock: time, act: Callable[[], None]) -> Scene:
        return play.instant(play.today - timedelta(days=days_ago), clock), act

    for row in found["assessment"]:
        yield scene(row["begun"], _WRITTEN, lambda row=row: _write(play, row))  # type: ignore[misc]
        if "approved" in row or "submitted" in row:
            day = row.get("submitted", row.get("approved"))
            yield scene(day, _WRITTEN, lambda row=row: _submit(play, row))  # type: ignore[misc]
        if "approved" in row:
            yield scene(row["approved"], _APPROVED, lambda row=row: _approve(play, row))  # type: ignore[misc]
    for row in found["action"]:
        yield scene(row["added"], _APPROVED, lambda row=row: _add_action(play, row))  # type: ignore[misc]
        if "done" in row:
            yield scene(row["done"], _WRITTEN, lambda row=row: _finish(play, row))  # type: ignore[misc]
    for row in found["new_sds"]:
        yield scene(row["days_ago"], _WRITTEN, lambda row=row: _enter_new_sds(play, row))  # type: ignore[misc]


def _write(play: Play, row: dict[str, Any]) -> None:
    made = _begin(play, row)
    play.ids[f"assessment {made.title}"] = made.id
    row["title"] = made.title
    version = made.newest
    content = _content(version)
    if "residual" not in row:
        return  # begun and left as it was filled in
    service.change_version(
        play.act(row["by"]),
        assessment_id=made.id,
        content=replace(
            content,
            who=frozenset(Who(one) for one in row["who"]) if "who" in row else content.who,
            air_changes_tenths=round(row["air_changes"] * 10) if "air_changes" in row else None,
            residual=Residual(row["residual"]),
            under_18=Under18(row["under_18"]),
            review_on=play.today + timedelta(days=row["review_in"]),
            judgements=tuple(_judgement(play, substance, row) for substance in version.substances),
            **{name: row[name].strip() for name in Content.TEXTS if name in row},
            **{name: row[name] for name in ("how_many", "glove_minutes") if name in row},
        ),
    )


def _begin(play: Play, row: dict[str, Any]) -> Assessment:
    actor, now = play.person(row["by"]), play.later()
    if "process" in row:
        process_id = play.ids[f"process {row['process']}"]
        return service.assess_process(Act(play.session, by=actor, now=now), process_id=process_id)
    if "products" in row:
        ids = [play.ids[f"product {key}"] for key in row["products"]]
        return service.assess_products(Act(play.session, by=actor, now=now), product_ids=ids, title=row["title"])
    return service.assess_room_hazard(Act(play.session, by=actor, now=now), key=row["hazard"], title="")


def _content(version: Version) -> Content:
    """What a version says, to go on from."""
    return Content(
        **{name: getattr(version, name) for name in Content.PLAIN},
        who=frozenset(Who(one) for one in version.who.split(";") if one),
        routes=frozenset(Route(one) for one in version.routes.split(";") if one),
        controls=tuple((Level(one.level), one.text) for one in version.controls),
    )


def _judgement(play: Play, substance: AssessedSubstance, row: dict[str, Any]) -> Judgement:
    said: dict[str, Any] = {}
    for each in row.get("chosen", []):
        if play.ids[f"product {each['product']}"] == substance.product_id:
            said = each
    return Judgement(substance.id, substance.amount, substance.spread, said.get("approach"), said.get("because", ""))


def _submit(play: Play, row: dict[str, Any]) -> None:
    approving.submit(play.act(row["by"]), assessment_id=_id_of(play, row["title"]))


def _approve(play: Play, row: dict[str, Any]) -> None:
    approving.approve(play.act("odile"), assessment_id=_id_of(play, row["title"]))


def _add_action(play: Play, row: dict[str, Any]) -> None:
    added = actions.add_action(
        play.act(row["by"]),
        assessment_id=_id_of(play, row["about"]),
        text=row["text"],
        owner_id=play.ids[row["owner"]],
        due_on=play.today - timedelta(days=row["due"]),
    )
    play.ids[f"action {row['text']}"] = added.id


def _finish(play: Play, row: dict[str, Any]) -> None:
    actions.finish_action(
        play.act(row["owner"]),
        action_id=play.ids[f"action {row['text']}"],
        note=row["note"],
    )


def _enter_new_sds(play: Play, row: dict[str, Any]) -> None:
    """A new issue of an SDS that changes nothing else, compared and confirmed."""
    product = next(one for one in play.fixtures.products if one.key == row["product"])
    product_id = play.ids[f"product {product.key}"]
    day = play.today - timedelta(days=row["days_ago"] + 3)
    entry = replace(product.entry, sds_date=day)
    products.change_product(play.act(row["by"]), product_id=product_id, sheet=entry)
    products.confirm_product(play.act(row["confirmed_by"]), product_id=product_id)


def _id_of(play: Play, title: str) -> int:
    return play.ids[f"assessment {title}"]

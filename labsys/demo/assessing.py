"""Assessments of the demonstration lab: written by the technicians, approved by the safety adviser."""

from dataclasses import replace

from labsys.demo.fixtures import Entry
from labsys.demo.play import Play
from labsys.products import service as products
from labsys.risk import actions, approving, service
from labsys.risk.models import AssessedSubstance, Level, Residual, Route, Under18, Version, Who
from labsys.risk.rules import Content, Judgement


def write(play: Play, told: Entry) -> None:
    """Begin it and, where it says what is left, fill it in."""
    act = play.act(told["by"])
    if "process" in told:
        assessment = service.assess_process(act, process_id=play.ids[f"process {told['process']}"])
    elif "products" in told:
        ids = [play.ids[f"product {key}"] for key in told["products"]]
        assessment = service.assess_products(act, product_ids=ids, title=told["title"])
    else:
        assessment = service.assess_room_hazard(act, key=told["hazard"], title="")
    play.ids[f"assessment {assessment.title}"] = assessment.id
    told["title"] = assessment.title
    if "residual" not in told:
        return
    version = assessment.newest
    content = _content(version)
    service.change_version(
        play.act(told["by"]),
        assessment_id=assessment.id,
        content=replace(
            content,
            who=frozenset(Who(group) for group in told["who"]) if "who" in told else content.who,
            air_changes_tenths=round(told["air_changes"] * 10) if "air_changes" in told else None,
            residual=Residual(told["residual"]),
            under_18=Under18(told["under_18"]),
            review_on=play.day(-told["review_in"]),
            controls=tuple((Level(level), text) for level, text in told.get("controls", content.controls)),
            judgements=tuple(_judgement(play, substance, told) for substance in version.substances),
            **{name: told[name].strip() for name in Content.TEXTS if name in told},
            **{name: told[name] for name in ("how_many", "glove_minutes") if name in told},
        ),
    )


def _content(version: Version) -> Content:
    """What a version says, to go on from."""
    return Content(
        **{name: getattr(version, name) for name in Content.PLAIN},
        who=frozenset(Who(group) for group in version.who.split(";") if group),
        routes=frozenset(Route(route) for route in version.routes.split(";") if route),
        controls=tuple((Level(control.level), control.text) for control in version.controls),
    )


def _judgement(play: Play, substance: AssessedSubstance, told: Entry) -> Judgement:
    chosen = {play.ids[f"product {row['product']}"]: row for row in told.get("chosen", [])}
    said = chosen.get(substance.product_id, {})
    approach, because = said.get("approach"), said.get("because", "")
    return Judgement(substance.id, substance.amount, substance.spread, approach, because)


def submit(play: Play, told: Entry) -> None:
    approving.submit(play.act(told["by"]), assessment_id=play.ids[f"assessment {told['title']}"])


def approve(play: Play, told: Entry) -> None:
    approving.approve(play.act("odile"), assessment_id=play.ids[f"assessment {told['title']}"])


def add_action(play: Play, told: Entry) -> None:
    added = actions.add_action(
        play.act(told["by"]),
        assessment_id=play.ids[f"assessment {told['about']}"],
        text=told["text"],
        owner_id=play.ids[told["owner"]],
        due_on=play.day(told["due"]),
    )
    play.ids[f"action {told['text']}"] = added.id


def finish(play: Play, told: Entry) -> None:
    action_id = play.ids[f"action {told['text']}"]
    actions.finish_action(play.act(told["owner"]), action_id=action_id, note=told["note"])


def enter_new_sds(play: Play, told: Entry) -> None:
    """A new issue of an SDS that changes nothing else, compared and confirmed."""
    product_id = play.ids[f"product {told['product']}"]
    sheet = replace(play.fixtures.products[told["product"]].sheet, sds_date=play.day(told["days_ago"] + 3))
    products.change_product(play.act(told["by"]), product_id=product_id, sheet=sheet)
    products.confirm_product(play.act(told["confirmed_by"]), product_id=product_id)

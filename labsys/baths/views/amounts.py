"""What the lab puts through and throws away by day, month and year, against the rules it comes under."""

from flask import abort, g, render_template, request
from flask.typing import ResponseReturnValue
from wtforms import SelectMultipleField

from labsys import clock
from labsys.answers import csv_file, refusals_at, saved
from labsys.baths import amounts as sums
from labsys.baths.blueprint import bp
from labsys.baths.following import follow_rules as follow
from labsys.baths.following import followed
from labsys.database import db
from labsys.drawing.bars import Bar, bars
from labsys.drawing.graduate import share_bar
from labsys.drawing.scene import Scene
from labsys.forms import LabForm
from labsys.hazards.amounts import UNIT_OF, Reached, rules_of_lab, rules_to_choose
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission, may
from labsys.timetable.local_time import to_local

FIRST_YEAR = 2000


class RulesForm(LabForm):
    """The rules a lab says it comes under."""

    rules = SelectMultipleField("Rules", validate_choice=False)


@bp.get("/uses/amounts")
@permits(Permission.SEE_USES)
def amounts() -> ResponseReturnValue:
    """Show the sums of a year, against the limits of the lab's own rules alone."""
    year, today_year, shown = _asked()
    chosen, nation = followed(db.session), g.lab.nation
    against = sums.against(shown, rules_of_lab(nation, chosen=chosen))
    to_choose = rules_to_choose(nation)
    return render_template(
        "baths/amounts.html",
        year=year,
        is_running=year == today_year,
        first_year=sums.first_year(db.session, zone=g.zone) or year,
        sums=shown,
        against=against,
        verdict=_verdict(against),
        chart=_chart(shown),
        heads=[sums.HEADS[0], *((head, "n") for head in sums.HEADS[1:])],
        labels=sums.HEADS,
        unit_of=UNIT_OF,
        share_bar=share_bar,
        nation=nation,
        to_choose=to_choose,
        chosen=chosen,
        form=RulesForm() if to_choose and may(current_person(), Permission.KEEP_LAB) else None,
    )


@bp.get("/uses/amounts.csv")
@permits(Permission.SEE_USES)
def amounts_csv() -> ResponseReturnValue:
    """Give the sums of a year as a table for a spreadsheet."""
    year, _, shown = _asked()
    return csv_file(sums.HEADS, [month.cells for month in shown.months], name=f"amounts-{year}")


@bp.post("/uses/amounts/rules")
@permits(Permission.KEEP_LAB)
def follow_rules() -> ResponseReturnValue:
    """Say which rules the lab comes under."""
    form = RulesForm()
    with refusals_at(".amounts"):
        follow(this_act(form), rules=form.rules.data or ())
    return saved("Noted. The sums are shown against these rules.", ".amounts")


def _asked() -> tuple[int, int, sums.YearAmounts]:
    """The year asked for, the year it is now, and the sums of the first."""
    today = to_local(clock.now(), zone=g.zone).date()
    year = request.args.get("year", today.year, type=int)
    if not FIRST_YEAR <= year <= today.year:
        abort(404)
    return year, today.year, sums.year_amounts(db.session, year, today=today, zone=g.zone)


def _verdict(against: list[sums.AgainstRule]) -> str:
    """How the sums stand to all rules, in a sentence."""
    if not against:
        return ""
    reached = [each for each in against if each.reached is not Reached.NO]
    if not reached:
        return "No limit of this lab's rules is reached."
    return f"{'1 limit is' if len(reached) == 1 else f'{len(reached)} limits are'} reached, or may be."


def _chart(shown: sums.YearAmounts) -> Scene | None:
    """The area of each month as a bar; None in a year without any."""
    if not shown.area_m2:
        return None
    rows = [
        Bar(
            f"{month.first_day:%B}",
            f"film {month.film_mm2 / 1e6:.2f} + paper {month.paper_mm2 / 1e6:.2f} m²",
            month.area_m2,
        )
        for month in shown.months
    ]
    told = "; ".join(f"{row.name} {row.said}" for row in rows)
    return bars(rows, title=f"Film and paper by month: {told}")

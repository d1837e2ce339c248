"""The questions of the bench page on the command line: asked with words, answered in text or as keys."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import click
from werkzeug.datastructures import MultiDict

from labsys.bench.cylinders import NO_CYLINDERS, NOT_LOOKED_UP, lab_here
from labsys.bench.forms import Question
from labsys.bench.results import Answer, WhichOne, sentence
from labsys.chemistry.errors import CalculationError


class CannotBeWorkedOut(click.ClickException):
    """What was typed cannot be read, or has no answer: one line, exit 2."""

    exit_code = 2

    def show(self, file: Any = None) -> None:
        click.echo(self.message, err=True, file=file)


def typed(answers: Sequence[str]) -> dict[str, str]:
    """Read FIELD=VALUE; a field given again is its next line."""
    read: dict[str, str] = {}
    for told in answers:
        name, sign, value = told.partition("=")
        if not sign:
            raise CannotBeWorkedOut(f"“{told}”: write it as FIELD=VALUE.")
        read[name] = f"{read[name]}\n{value}" if name in read else value
    return read


def fields_of(question: type[Question]) -> list[str]:
    """What a question asks for, a line each, with what stands in it when nothing is given."""
    return [
        f"{field.name}: {field.label.text}" + (f" (default {field.data})" if field.data else "")
        for field in question(formdata=None)
    ]


def asked(question: type[Question], told: Mapping[str, str]) -> Answer:
    """Ask as the page does, with what is not given left as the page offers it, and the cylinders of the lab here.

    Raises CannotBeWorkedOut.
    """
    here = lab_here()
    fresh = question(formdata=None)
    if here:
        fresh.offer(here.instruments)
    offered = {field.name: field.data for field in fresh}
    if strange := sorted(set(told) - set(offered)):
        raise CannotBeWorkedOut(f"There is no {', '.join(strange)} here. The fields are {', '.join(offered)}.")
    form = question(formdata=MultiDict({name: value for name, value in {**offered, **told}.items() if value}))
    if not form.validate():
        complaints = [f"{field.name}: {message}" for field in form for message in field.errors]
        raise CannotBeWorkedOut(" ".join([*complaints, *form.form_errors]))
    try:
        answer = form.work_out(here.cylinders, here.instruments) if here else form.work_out([])
    except CalculationError as error:
        raise CannotBeWorkedOut(sentence(error)) from error
    if isinstance(answer, WhichOne):
        meanings = "; or ".join(meaning.gives for meaning in answer.meanings)
        raise CannotBeWorkedOut(f"{answer.asks} {meanings}.")
    if here is not None:
        return answer
    remarks = tuple(NOT_LOOKED_UP if remark == NO_CYLINDERS else remark for remark in answer.remarks)
    return replace(answer, remarks=remarks)


def in_text(answer: Answer) -> str:
    """An answer as lines: what to do first, and what must not be overlooked next."""
    lines = [" ".join(filter(None, (figure.amount, figure.what, figure.how))) for figure in answer.figures]
    lines += filter(None, (answer.margin, *answer.warnings))
    for table in answer.tables:
        lines += [f"{table.caption}:", *("  " + "; ".join(filter(None, row)) for row in table.rows)]
    return "\n".join([*lines, *answer.formula, *answer.remarks, f"Source: {answer.sources}"])


def in_keys(answer: Answer) -> dict[str, Any]:
    """An answer for another program."""
    return {
        "figures": [{"amount": figure.amount, "what": figure.what, "how": figure.how} for figure in answer.figures],
        "margin": answer.margin,
        "warnings": list(answer.warnings),
        "remarks": list(answer.remarks),
        "formula": list(answer.formula),
        "source": answer.sources,
    }

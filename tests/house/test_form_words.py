"""What a form says is in our words, also where the form library would have words of its own."""

import ast
import importlib
import inspect
import pkgutil
import re
import textwrap
from collections.abc import Iterator

import pytest
import wtforms
from flask_wtf import FlaskForm
from werkzeug.datastructures import MultiDict
from wtforms.fields.core import UnboundField

import labsys
from labsys.forms import MESSAGES, LabForm, PlainForm

# Handed on by functions of the library, not said by them; and a label made of a field's name.
_HANDED_ON = {"string", "singular", "plural", "e", "name.replace('_', ' ').title()"}


def _said(kind: type) -> set[str]:
    """Every message a class of the library says: what stands in gettext(...) and ngettext(...)."""
    said: set[str] = set()
    for node in ast.walk(ast.parse(textwrap.dedent(inspect.getsource(kind)))):
        if isinstance(node, ast.Call):
            name = getattr(node.func, "attr", getattr(node.func, "id", ""))
            if name in ("gettext", "ngettext"):
                words = node.args[: 2 if name == "ngettext" else 1]
                said |= {word.value if isinstance(word, ast.Constant) else ast.unparse(word) for word in words}
    return said


def _forms() -> list[type[wtforms.Form]]:
    """Every form of the house."""
    for module in pkgutil.walk_packages(labsys.__path__, "labsys."):
        importlib.import_module(module.name)
    return [form for form in _below(wtforms.Form) if form.__module__.startswith("labsys.")]


def _can_speak(form: type[wtforms.Form]) -> Iterator[type]:
    """What can complain in a form: its fields, what fills their lists, their validators, and its guard's."""
    attributes = [getattr(form, name) for name in dir(form)]
    unbound = [field for field in attributes if isinstance(field, UnboundField)]
    for field in unbound:
        yield field.field_class
        unbound += [inner for inner in (*field.args, *field.kwargs.values()) if isinstance(inner, UnboundField)]
        for given in (*field.args, field.kwargs.get("validators")):
            if isinstance(given, list | tuple):
                yield from map(type, given)
    if issubclass(form, FlaskForm):
        yield FlaskForm.Meta.csrf_class


def _of_the_library() -> set[type]:
    speakers = {kind for form in _forms() for speaker in _can_speak(form) for kind in speaker.__mro__}
    return {kind for kind in speakers if kind.__module__.startswith(("wtforms.", "flask_wtf."))}


def test_every_message_a_form_of_the_house_can_get_has_one_of_ours_and_no_other_has():
    """A message of a field or validator that is new here, or new in it, fails here until it has words of ours."""
    assert set(MESSAGES) == set().union(*map(_said, _of_the_library())) - _HANDED_ON


@pytest.mark.parametrize("theirs", MESSAGES)
def test_our_words_take_what_theirs_take(theirs: str):
    holes = re.compile(r"%\(\w+\)[sd]|%s|\{\w+\}")
    assert set(holes.findall(MESSAGES[theirs])) <= set(holes.findall(theirs))
    assert MESSAGES[theirs] not in MESSAGES
    assert MESSAGES[theirs].endswith(".")


def test_every_form_of_the_house_says_them():
    assert len(_forms()) > 50
    assert [form for form in _forms() if not issubclass(form, LabForm | PlainForm)] == []


class _Row(PlainForm):
    count = wtforms.IntegerField()


class _Sent(PlainForm):
    name = wtforms.StringField(validators=[wtforms.validators.DataRequired(), wtforms.validators.Length(max=3)])
    rows = wtforms.FieldList(wtforms.FormField(_Row))


def test_a_form_and_its_parts_say_them():
    sent = _Sent(MultiDict({"name": "", "rows-0-count": "many"}))
    assert not sent.validate()
    assert sent.errors == {"name": ["Fill this in."], "rows": [{"count": ["Write a whole number, such as 12."]}]}
    too_long = _Sent(MultiDict({"name": "longer"}))
    assert not too_long.validate()
    assert too_long.errors == {"name": ["Use at most 3 characters."]}


def _below(form: type) -> list[type]:
    return [form, *(deeper for below in form.__subclasses__() for deeper in _below(below))]

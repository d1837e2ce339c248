"""What a form says is in our words, also where the form library would have words of its own."""

import ast
import importlib
import pkgutil
import re
from pathlib import Path

import flask_wtf.file
import pytest
import wtforms
from werkzeug.datastructures import MultiDict

import labsys
from labsys.forms import MESSAGES, LabForm, PlainForm

# Handed on by functions of the library, not said by them; and a label made of a field's name.
_HANDED_ON = {"string", "singular", "plural", "e", "name.replace('_', ' ').title()"}
_NOT_USED = {"f'File must be between {self.min_size} and {self.max_size} bytes.'"}  # no form limits a file by this


def _said(path: Path) -> set[str]:
    """Every message a module of the library says: what stands in gettext(...) and ngettext(...)."""
    said: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call):
            name = getattr(node.func, "attr", getattr(node.func, "id", ""))
            if name in ("gettext", "ngettext"):
                words = node.args[: 2 if name == "ngettext" else 1]
                said |= {word.value if isinstance(word, ast.Constant) else ast.unparse(word) for word in words}
    return said


def _library() -> set[str]:
    files = [*Path(wtforms.__file__).parent.rglob("*.py"), Path(flask_wtf.file.__file__)]
    return set().union(*map(_said, files)) - _HANDED_ON - _NOT_USED


def test_every_message_of_the_form_library_has_one_of_ours_and_no_other_has():
    """A message that comes with a new version of the library fails here until it has words of ours."""
    assert set(MESSAGES) == _library()


@pytest.mark.parametrize("theirs", MESSAGES)
def test_our_words_take_what_theirs_take(theirs: str):
    holes = re.compile(r"%\(\w+\)[sd]|%s|\{\w+\}")
    assert set(holes.findall(MESSAGES[theirs])) <= set(holes.findall(theirs))
    assert MESSAGES[theirs] not in MESSAGES
    assert MESSAGES[theirs].endswith(".")


def test_every_form_of_the_house_says_them():
    for module in pkgutil.walk_packages(labsys.__path__, "labsys."):
        importlib.import_module(module.name)
    ours = [form for form in _below(wtforms.Form) if form.__module__.startswith("labsys.")]
    assert len(ours) > 50
    assert [form for form in ours if not issubclass(form, LabForm | PlainForm)] == []


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

"""A roster is read from whatever people have, and nobody comes on it twice."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from labsys.courses import service
from labsys.courses.models import Student
from labsys.people.roster import ENCODINGS, NotText, decode, read_roster, usable
from tests.courses.test_setting_up import entry, furnished, weekly

__all__ = ["furnished"]

NAMES = {
    "utf-8": "Žofie Ωμέγα 李雷 🙂",
    "utf-16": "李雷",
    "cp1250": "Žofie Dvořáková",
    "cp1251": "Пётр Орлов",
    "cp1252": "Zoë Åström",
    "cp1253": "Θάλεια Ρήγα",
    "cp1254": "Işıl Çağ",
    "cp1255": "דוד",
    "cp1256": "محمد",
    "cp1257": "Žydrė",
    "shift_jis": "山田太郎",
    "gb18030": "李雷",
    "big5": "陳小明",
    "euc_kr": "김철수",
}


@pytest.mark.parametrize("encoding", [encoding for encoding in ENCODINGS if encoding])
def test_a_name_in_any_encoding_that_is_offered_is_read_as_it_was_written(encoding):
    content = f"Name,E-mail\n{NAMES[encoding]},a@example.org\n".encode(encoding)
    (row,) = usable(read_roster(decode(content, encoding=encoding).text))
    assert row.name == NAMES[encoding]


def test_unicode_is_found_out_and_western_european_is_said():
    for content in ("Žofie,z@example.org".encode("utf-8-sig"), "Žofie,z@example.org".encode("utf-16")):
        assert usable(read_roster(decode(content).text))[0].name == "Žofie"
    read = decode("Zoë,z@example.org".encode("cp1252"))
    assert read.text.startswith("Zoë")
    assert "Western European" in read.remark


def test_bytes_that_are_no_text_are_refused():
    with pytest.raises(NotText):
        decode("Žofie".encode("cp1250"), encoding="utf-8")


@pytest.mark.parametrize(
    "text",
    [
        "Ana,ana@example.org\nBo,bo@example.org",
        "Ana;ana@example.org\r\nBo;bo@example.org\r\n",
        "Ana\tana@example.org\nBo\tbo@example.org",
        "E-mail,Name\nana@example.org,Ana\nbo@example.org,Bo",
        'Name,E-mail,Note\n"Ana",ana@example.org,x\n\n"Bo",bo@example.org,"two\nlines"',
        "First name,Surname,Email\nAna,,ana@example.org\nBo,,bo@example.org",
        "ana@example.org,Ana\nbo@example.org,Bo",
    ],
)
def test_every_way_to_write_two_people_is_read_as_two(text):
    assert [(row.name, row.email) for row in usable(read_roster(text))] == [
        ("Ana", "ana@example.org"),
        ("Bo", "bo@example.org"),
    ]


@pytest.mark.parametrize("cell", ["=1+1", "+1", "-1", "@now", "'=1+1", '=HYPERLINK("http://example.org")'])
def test_a_formula_is_no_name(cell):
    (row,) = read_roster(f'Name;E-mail\n"{cell.replace(chr(34), chr(34) * 2)}";a@example.org')
    assert "formula" in row.problem


@given(st.text(max_size=400))
def test_whatever_is_typed_is_read_or_refused_and_gives_no_address_twice(text):
    try:
        rows = read_roster(text)
    except NotText:
        return
    emails = [row.email for row in usable(rows)]
    assert len(emails) == len(set(emails))
    assert all(row.name and "\0" not in row.name for row in usable(rows))


EMAILS = st.sampled_from([f"{name}@example.org" for name in ("a", "b", "c", "member", "instructor")])
LISTS = st.lists(st.lists(st.tuples(st.sampled_from(["Ana", "Bo"]), EMAILS), max_size=6), max_size=4)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(lists=LISTS)
def test_nobody_is_on_a_roster_twice_whatever_is_sent_again(furnished, lists):
    """One course takes all examples: what was added stays, and is sent again and again."""
    course_id = furnished.ids.get("course")
    if course_id is None:
        course_id = service.set_up(furnished.act("instructor"), entry=entry(furnished), dates=weekly(1)).id
        furnished.ids["course"] = course_id
    sent = set()
    for people in lists:
        text = "\n".join(f"{name}, {email}" for name, email in people)
        rows = usable(read_roster(text))
        sent |= {row.email for row in rows}
        service.add_students(furnished.act("instructor"), course_id=course_id, rows=rows)
    emails = furnished.session.execute(select(Student.email)).scalars().all()
    people = furnished.session.execute(select(Student.person_id).where(Student.person_id.is_not(None))).scalars().all()
    assert len(emails) == len(set(emails))
    assert len(people) == len(set(people))
    assert sent <= set(emails)

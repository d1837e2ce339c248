"""What a version holds besides its points, from the keeper's form to the gate: sections, pictures, quiz, practice."""

import io
import struct
import zlib
from datetime import timedelta

import pytest
from PIL import Image
from sqlalchemy import select
from werkzeug.datastructures import FileStorage
from werkzeug.test import encode_multipart

from labsys.inductions import gate, signing
from labsys.inductions.contents import questions_of
from labsys.inductions.models import Hazard, InductionPicture, QuizAttempt, SignOff
from labsys.inductions.rules import InductionRefused, Subject
from labsys.pictures import PictureRefused, written_anew
from labsys.records.models import RecordEntry
from tests.support.pages import fill_in, hidden, links, send, source, text
from tests.support.pictures import jpeg, png

QUIZ = """Splashed in the eye: what first?
+ Rinse for 20 minutes
- Neutralise it
Gloves come off:
- after the door
+ before anything dry is touched
"""
WHOLE = {
    "name": "Powders",
    "how_to_get": "Ask Ines.",
    "text": "Weigh in the hood.\n# Eyes\n- Goggles on.\n[picture 1]",
    "valid_days": "100",
    "covers": ["a powder"],
    "hazards": ["a powder"],
    "practice": "- Fits the mask\nTares the scales",
    "refresher": "Goggles on.",
    "refresher_days": "30",
    "quiz": QUIZ,
    "pass_mark": "2",
}


@pytest.fixture
def powders(lab, as_role):
    """An induction with all that one may hold, made through the keeper's pages; the instructor holds it."""
    keeper = as_role("safety adviser")
    assert "no picture 1" in text(send(keeper, "/inductions/add", **WHOLE))
    made = send(keeper, "/inductions/add", **{**WHOLE, "text": "Weigh in the hood. Keep the lid on between."}).location
    induction_id = int(made.rpartition("/")[2])
    added = send(
        keeper,
        f"{made}/pictures",
        file=FileStorage(io.BytesIO(jpeg(exif=_place()) + b"<script>hidden</script>"), "where.jpg"),
        shows="Three trays, <b>tongs</b> in each",
    )
    assert added.location == f"{made}/pictures"
    asked = {name: WHOLE[name] for name in WHOLE if name not in ("name", "how_to_get", "hazards")}
    assert send(keeper, f"{made}/versions/add", **asked, earlier="stands").location == made
    signed = signing.appoint_holder(
        lab.act("safety adviser"), induction_id=induction_id, person_id=lab.ids["instructor"], taught_at=lab.now
    )
    holder = as_role("instructor")
    refused = send(holder, f"/inductions/sign-offs/{signed.id}/confirm", at="/inductions")
    assert "the quiz has to be passed first" in text(holder.get(refused.location))
    assert _answer(holder, made, "1", "2").location == "/inductions"
    send(holder, f"/inductions/sign-offs/{signed.id}/confirm", at="/inductions")
    return made


def _place() -> Image.Exif:
    exif = Image.Exif()
    exif[0x010F] = "Telephone of somebody"
    return exif


def _answer(client, made, *answers):
    return send(client, f"{made}/quiz", {f"question_{number}": answer for number, answer in enumerate(answers)})


def _may_use_powders(lab, role="member"):
    subject = Subject(hazards=frozenset({Hazard.POWDER}))
    answers = gate.clearances(lab.session, person_ids=[lab.ids[role]], subjects=[subject], at=lab.now)
    return answers[lab.ids[role], subject].is_clear


def test_a_text_with_sections_and_pictures_is_shown_and_a_picture_carries_nothing_that_was_sent_with_it(
    lab, as_role, powders
):
    client = as_role("member")
    page = source(client.get(powders))
    for words in ("<h3>Eyes</h3>", 'alt="Three trays, &lt;b&gt;tongs&lt;/b&gt; in each"', "Fits the mask", "A powder."):
        assert words in page
    assert "earlier sign-offs stand" in page
    shown = client.get(f"{powders}/pictures/1")
    assert (shown.status_code, shown.mimetype) == (200, "image/jpeg")
    assert "default-src 'none'" in shown.headers["Content-Security-Policy"]
    assert not any(told in shown.data for told in (b"script", b"Telephone"))
    assert client.get(f"{powders}/pictures/2").status_code == 404
    lab.session.execute(select(InductionPicture)).scalar_one().content = png()
    lab.session.commit()
    assert client.get(f"{powders}/pictures/1").status_code == 404  # no longer what was added


def test_quiz_and_practice_come_before_the_confirmation_each_attempt_is_kept_and_passing_signs_nobody_off(
    lab, as_role, powders
):
    induction_id = int(powders.rpartition("/")[2])
    member = as_role("member")
    assert "Not passed: 0 of 2 right; 2 are needed." in text(member.get(_answer(member, powders, "2", "1").location))
    assert "Read again what answers: Splashed in the eye" in text(member.get(powders))
    assert _answer(member, powders, "1").status_code == 422
    assert _answer(member, powders, "1", "9").status_code == 422
    page = source(member.get(f"{powders}/quiz"))
    twice = {"data": {**hidden(page), "question_0": "1", "question_1": "2"}}
    assert [member.post(f"{powders}/quiz", **twice).status_code for _ in range(2)] == [303, 303]
    kept = lab.session.execute(select(QuizAttempt).where(QuizAttempt.person_id == lab.ids["member"])).scalars()
    assert [(attempt.answers, attempt.is_passed) for attempt in kept] == [("2 1", False), ("1 2", True)]
    assert not _may_use_powders(lab)  # passed, and never signed off

    sign_off = {"inductions": [induction_id], "people": [lab.ids["member"]], "how": "whole"}
    not_held = send(as_role("technician"), "/inductions/sign-off", **sign_off)
    assert (not_held.status_code, "You hold nothing that you could sign off" in source(not_held)) == (422, True)
    instructor = as_role("instructor")
    assert send(instructor, "/inductions/sign-off", **sign_off).status_code == 303
    signed = lab.session.execute(select(SignOff).where(SignOff.person_id == lab.ids["member"])).scalar_one()
    page = source(as_role("member").get("/inductions"))
    assert "First show somebody who holds it" in page
    assert "Yes, I was taught" not in page
    confirm = f"/inductions/sign-offs/{signed.id}/confirm"
    member = as_role("member")
    send(member, confirm, at="/inductions")
    assert "somebody who holds it has to see the practice first" in text(member.get("/inductions"))
    by_sheet = send(as_role("instructor"), "/inductions/waiting", sign_offs=[signed.id], sheet="Folder 3")
    assert (by_sheet.status_code, "see the practice first" in source(by_sheet)) == (422, True)
    assert not _may_use_powders(lab)
    not_held = send(as_role("technician"), "/inductions/waiting", sign_offs=[signed.id], practice="seen")
    assert (not_held.status_code, "You do not hold Powders yourself" in source(not_held)) == (422, True)
    instructor = as_role("instructor")
    assert "First: the practice." in text(instructor.get("/inductions/waiting"))
    send(instructor, "/inductions/waiting", sign_offs=[signed.id], practice="seen")
    member = as_role("member")
    send(member, confirm, at="/inductions")
    assert _may_use_powders(lab)
    history = text(as_role("instructor").get(f"/inductions/people/{lab.ids['member']}"))
    for words in ("practice seen by Ines Carrow", "not passed, 0 of 2 right", "passed, 2 of 2 right", "Neutralise it"):
        assert words in history


@pytest.mark.sqlite_only
def test_a_refresher_is_for_who_held_it_a_short_time_ago_and_a_new_version_says_whether_it_stands(
    lab, as_role, powders
):
    induction_id = int(powders.rpartition("/")[2])
    sign_off = {"inductions": [induction_id], "people": [lab.ids["member"]], "how": "refresher"}

    def refresh():
        return send(as_role("instructor"), "/inductions/sign-off", **sign_off)

    assert "The refresher of Powders is not enough for Łukasz Żak: they never held it." in text(refresh())
    send(as_role("instructor"), "/inductions/sign-off", **{**sign_off, "how": "whole", "saw_practice": "y"})
    first = lab.session.execute(select(SignOff).where(SignOff.person_id == lab.ids["member"])).scalar_one()
    member = as_role("member")
    _answer(member, powders, "1", "2")
    send(member, f"/inductions/sign-offs/{first.id}/confirm", at="/inductions")
    keep = {name: WHOLE[name] for name in WHOLE if name not in ("name", "how_to_get", "hazards")}
    keeper = as_role("safety adviser")
    uncovered = send(keeper, f"{powders}/versions/add", **{**keep, "covers": []}, earlier="stands")
    assert "cover that, or take the need away first" in text(uncovered)
    other = fill_in(keeper, f"{powders}/requirements", hazards=["a powder", "toxic"])
    assert "Its text does not cover chemicals that are toxic" in text(other)
    longer = {**keep, "text": keep["text"] + "\nLid on.", "refresher_days": "10"}
    send(keeper, f"{powders}/versions/add", **longer, earlier="stands")
    assert _may_use_powders(lab)  # what was signed under the version before still counts
    lab.tick(days=60)
    assert "current until" in text(as_role("member").get("/inductions"))
    assert refresh().status_code == 303
    second = lab.session.execute(select(SignOff).where(SignOff.is_refresher)).scalar_one()
    member = as_role("member")
    page = text(member.get("/inductions"))
    assert "It was the refresher." in page
    assert "First pass the quiz" not in page
    send(member, f"/inductions/sign-offs/{second.id}/confirm", at="/inductions")
    assert second.lapses_at == second.taught_at + timedelta(days=100)
    send(as_role("safety adviser"), f"{powders}/versions/add", **longer, earlier="ends")
    assert not _may_use_powders(lab)
    again = signing.appoint_holder(
        lab.act("safety adviser"), induction_id=induction_id, person_id=lab.ids["instructor"], taught_at=lab.now
    )
    holder = as_role("instructor")
    _answer(holder, powders, "1", "2")  # what they passed was an earlier version
    send(holder, f"/inductions/sign-offs/{again.id}/confirm", at="/inductions")
    assert "everybody has to repeat the whole of it" in text(refresh())
    assert "must be repeated: version 4" in text(as_role("member").get("/inductions"))


@pytest.mark.sqlite_only
def test_who_does_not_keep_inductions_adds_no_picture_and_no_other_page_takes_one(lab, as_role, powders):
    assert as_role("instructor").get(f"{powders}/pictures").status_code == 403
    assert f"{powders}/pictures" not in links(source(as_role("member").get(powders)))
    keeper = as_role("manager")
    for sent, said in (
        (b"", "Choose a picture."),
        (b"GIF89a" + bytes(100), "This is no whole picture."),
        (png()[:60], "This is no whole picture."),
        (_unfolding(), "too many pixels"),
    ):
        answer = send(keeper, f"{powders}/pictures", file=FileStorage(io.BytesIO(sent), "a.png"), shows="Trays")
        assert (answer.status_code, said in text(answer)) == (422, True), said
    assert "Say what it shows" in text(
        send(keeper, f"{powders}/pictures", file=FileStorage(io.BytesIO(png()), "a.png"), shows=" ")
    )
    boundary, body = encode_multipart({"file": FileStorage(io.BytesIO(bytes(10 * 2**20)), "a.png")})
    whole = {"data": body, "content_type": f"multipart/form-data; boundary={boundary}"}
    assert keeper.post(f"{powders}/pictures", **whole).status_code == 413
    assert keeper.post(f"{powders}/quiz", **whole).status_code == 413
    assert lab.count(InductionPicture) == 1
    told = [entry.payload for entry in lab.session.execute(select(RecordEntry)).scalars()]
    assert sum('"induction.picture_added"' in payload for payload in told) == 1


def _unfolding() -> bytes:
    """A small file whose head says that it unfolds to 9,000 by 9,000 pixels."""
    sent = png()
    head = b"IHDR" + struct.pack(">II", 9_000, 9_000) + sent[24:29]
    return sent[:12] + head + struct.pack(">I", zlib.crc32(head)) + sent[33:]


@pytest.mark.parametrize(
    ("quiz", "said"),
    [
        ("What?\n+ This", "2 to 6 answers"),
        ("What?\n- This\n- That", "Begin one answer, the right one, with a plus"),
        ("What?\n+ This\n+ That", "Begin one answer, the right one, with a plus"),
        ("+ This\n- That", "Write a question before its answer"),
        ("What?\nWhy?\n+ This\n- That", "2 to 6 answers"),
        ("What?\n+ This\n- That\n" * 21, "at most 20 questions"),
    ],
)
def test_a_quiz_that_is_not_whole_says_where(quiz, said):
    with pytest.raises(InductionRefused, match=said.replace("+", r"\+")):
        questions_of(quiz)


def test_a_picture_is_kept_upright_small_and_bare():
    sent = io.BytesIO()
    exif = Image.Exif()
    exif[0x0112] = 6  # lying on its side
    Image.new("RGB", (3_200, 1_600), "white").save(sent, "JPEG", exif=exif)
    kept = written_anew(sent.getvalue())
    assert (kept.width, kept.height, kept.media_type) == (800, 1_600, "image/jpeg")
    assert not Image.open(io.BytesIO(kept.content)).getexif()
    with pytest.raises(PictureRefused, match="larger than 8 MB"):
        written_anew(bytes(9 * 2**20))

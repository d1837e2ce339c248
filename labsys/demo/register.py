"""The papers of the register in the demonstration: what hangs on the wall, what the inspector got, labels stuck on."""

from typing import Any

from labsys.config import Config
from labsys.demo.play import Play
from labsys.documents.document import Document, WholeLab
from labsys.documents.first_aid import FIRST_AID
from labsys.documents.label_sheet import LABEL_SHEET, LabelChoice, Layout, everything_to_label
from labsys.documents.occasion import occasion_of
from labsys.documents.register import REGISTER
from labsys.documents.service import issue_document

DAYS_AGO = 7


def issue_papers(play: Play) -> None:
    """The safety adviser issues the register and the card; the technician prints labels for what there is."""
    papers: tuple[Document[WholeLab, Any], ...] = (FIRST_AID, REGISTER)
    for document in papers:
        issue_document(play.act("odile"), document, WholeLab(), public_url=Config.public_url)
    occasion = occasion_of(play.session, person=play.person("joss"), now=play.at, public_url=Config.public_url)
    keys = [one.key for one in everything_to_label(play.session, occasion)]
    choice = LabelChoice(keys, Layout.MEDIUM, first=1)
    issue_document(play.act("joss"), LABEL_SHEET, choice, public_url=Config.public_url)

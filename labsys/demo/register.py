"""The papers of the register in the demonstration: what hangs on the wall, what the inspector got, labels stuck on."""

from labsys.config import Config
from labsys.demo.play import Play
from labsys.documents import register_service
from labsys.documents.collect_register import everything_to_label
from labsys.documents.label_sheet import Layout

DAYS_AGO = 7


def issue_papers(play: Play) -> None:
    """The safety adviser issues the register and the card; the technician prints labels for what there is."""
    for issue in (register_service.issue_first_aid, register_service.issue_register):
        issue(play.act("odile"), public_url=Config.public_url)
    keys = [one.key for one in everything_to_label(play.session, public_url=Config.public_url, now=play.at)]
    register_service.issue_labels(
        play.act("joss"),
        keys=keys,
        layout=Layout.MEDIUM,
        first=1,
        public_url=Config.public_url,
    )

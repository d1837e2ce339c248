"""The label of a bath, to cut out and fix to the tank or hang above the tray."""

from labsys.documents.bath_label.collected import OfBath, collect, refuse_dumped
from labsys.documents.bath_label.data import ESTIMATE
from labsys.documents.bath_label.drawn import draw
from labsys.documents.document import Document
from labsys.people.permissions import Permission

__all__ = ["BATH_LABEL", "OfBath"]

BATH_LABEL = Document(
    kind="bath label",
    path="bath-label/<int:bath_id>",
    may_see=Permission.SEE_LAB,
    may_issue=Permission.KEEP_BATHS,
    read=lambda form, bath_id: OfBath(bath_id),
    written=lambda asked, data: {"bath": asked.bath_id},
    collect=collect,
    title=lambda data: f"Bath label {data.issue.scan_code}",
    draw=draw,
    check=refuse_dumped,
    labels=lambda data: (data.issue.scan_code,),
    shows={"estimate": ESTIMATE},
)

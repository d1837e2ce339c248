"""All kinds of document, in one place: a new one is its module, its template and a line here."""

from typing import Any

from labsys.documents import (
    assessment,
    attendance,
    contact_list,
    door_notice,
    downtime,
    equipment_list,
    fire_list,
    first_aid,
    guest_label,
    register,
    training_record,
    uses,
    who_holds_what,
)
from labsys.documents.bath_label import BATH_LABEL
from labsys.documents.document import Document
from labsys.documents.label_sheet import LABEL_SHEET
from labsys.documents.session_sheet import SESSION_SHEET
from labsys.documents.waste_log import WASTE_LOG
from labsys.people.row_kinds import Page, RowKind
from labsys.records.models import CodeKind, IssuedDocument

DOCUMENTS: tuple[Document[Any, Any], ...] = (
    BATH_LABEL,
    SESSION_SHEET,
    WASTE_LOG,
    assessment.ASSESSMENT,
    guest_label.GUEST_LABEL,
    register.REGISTER,
    first_aid.FIRST_AID_CARD,
    LABEL_SHEET,
    contact_list.CONTACT_LIST,
    uses.USES,
    attendance.ATTENDANCE,
    fire_list.FIRE_LIST,
    door_notice.DOOR_NOTICE,
    who_holds_what.WHO_HOLDS_WHAT,
    training_record.TRAINING_RECORD,
    downtime.DOWNTIME,
    equipment_list.EQUIPMENT_LIST,
)
ISSUED = RowKind(
    table=IssuedDocument,
    called="document",
    many="documents",
    pages=(Page("documents.show", "document_id"),),
    coded=CodeKind.DOCUMENT,
)
OF_KIND = {document.kind: document for document in DOCUMENTS}

import io

import pytest
from pypdf import PdfReader

from labsys.documents.page import Issue


@pytest.fixture
def issue():
    return Issue(
        lab_name="Quarry Street Darkroom",
        issued_by="Ελένη Παπαδοπούλου",
        issued_at="Friday 15 May 2026, 09:12",
        record_number=1204,
        record_hash="3f9a0c",
        scan_address="https://lab.quarry-street.example/c/QSD-F118-7",
        scan_code="QSD-F118-7",
    )


class ReadBack:
    """A PDF as a reader meets it."""

    def __init__(self, data):
        self.reader = PdfReader(io.BytesIO(data))
        self.pages = [" ".join(page.extract_text().split()) for page in self.reader.pages]
        self.text = " ".join(self.pages)
        self.title = self.reader.metadata.title
        self.author = self.reader.metadata.author
        self.language = self.reader.trailer["/Root"]["/Lang"]
        self.sizes = {(round(float(p.mediabox.width)), round(float(p.mediabox.height))) for p in self.reader.pages}

    def baselines(self):
        """Height above the foot of the first page of every piece of text, with the text."""
        return [(y, text) for _, y, _, text in self.pieces()]

    def texts(self):
        """Size of type of every piece of text of the first page, with the text."""
        return [(size, text) for _, _, size, text in self.pieces()]

    def pieces(self):
        """Where each piece of text of the first page begins, its size and the text."""
        found = []

        def meet(text, cm, tm, _font, size):
            if text.strip():
                found.append((tm[4] * cm[0] + cm[4], tm[5] * cm[3] + cm[5], size * abs(tm[3] * cm[3]), text.strip()))

        self.reader.pages[0].extract_text(visitor_text=meet)
        return found

    def fonts_left_out(self):
        """Names of the fonts any page or form names without carrying their shapes inside."""
        missing = set()
        for page in self.reader.pages:
            resources = [page["/Resources"].get_object()]
            forms = resources[0].get("/XObject", {})
            resources += [form.get_object().get("/Resources", {}).get_object() for form in forms.values()]
            for each in resources:
                for font in each.get("/Font", {}).get_object().values():
                    font = font.get_object()
                    if "/FontFile2" not in font.get("/FontDescriptor", {}).get_object():
                        missing.add(font["/BaseFont"])
        return missing


@pytest.fixture
def read_back():
    return ReadBack

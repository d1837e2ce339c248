"""The session sheet: one page that hangs at the wet side and says what to do today, step by step.

Amounts and times read at arm's length. The sheet is set as large as one page allows, and never smaller than 6.5
points. Which cylinder and how exact are said in words; errors in per cent belong to the technician.

Source:
    What a sheet at the wet side must say, and how large: common practice, no source.
"""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reportlab.lib.colors import white
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import Flowable, Paragraph, Spacer, Table

from labsys.documents import blocks
from labsys.documents.blocks import ALL, NOTE, Command, Figure, caution, gap, grid, height_of, masthead, style
from labsys.documents.fonts import BOLD, REGULAR, printable
from labsys.documents.page import BLACK, FOOT, GREY, HEAD, RULE, Issue, bind, text_width
from labsys.documents.rules import DoesNotFit
from labsys.drawing.pictograms import pictogram
from labsys.hazards.protective import DEFERENCE, Equipment, Protection
from labsys.planning.facts import Dangers
from labsys.planning.mixing import FreshMix
from labsys.planning.pages import graduate_of, load_in_words
from labsys.planning.plan import IN_THE_DARK, ChosenBath, DangerRow, PlannedStep, SessionPlan
from labsys.quantities import show_volume

_SCALES = tuple(percent / 100 for percent in range(73, 132, 3))  # of the sizes of type below; none under 6.5 pt
_SMALL, _TEXT, _NAME, _LARGE = 9.0, 9.5, 13.0, 14.5  # [pt]
_CLOSE, _LOOSE = 1.12, 1.27  # leading of the smallest type, and of type from the usual size up
_TICK = 5 * mm
_ROUNDING = 0.01  # [pt]


@dataclass(frozen=True, slots=True)
class SessionSheetData:
    """All that a session sheet prints. `person` is empty where the name is left open; `where` is place and time.

    `needs` are the inductions the work needs, each with how the person stands with it; `missing` says of those the
    person lacks how to get them.
    """

    issue: Issue
    plan: SessionPlan
    person: str
    date: str
    where: str = ""
    needs: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        return f"Session sheet: {self.plan.process.name}"


def draw(data: SessionSheetData) -> bytes:
    """Return the sheet as a one-page PDF; equal data gives equal bytes.

    Raises:
        DoesNotFit: More to say than one page holds at the smallest type.
    """
    width = text_width(data.issue.paper)
    room = data.issue.paper.size()[1] - HEAD - FOOT

    def spare(scale: float, *, brief: bool) -> float:
        sheet = _Sheet(data, width=width, scale=scale, brief=brief)
        return room - _ROUNDING - height_of((*sheet.body(), sheet.signatures()), width)

    brief = spare(_SCALES[0], brief=False) < 0  # then what is not known is left to the labels
    fitting = bisect_left(_SCALES, True, key=lambda scale: spare(scale, brief=brief) < 0)
    if not fitting:
        raise DoesNotFit(
            f"{data.plan.process.name} has more to say than one page holds. Print the page of the plan instead, or "
            "shorten the notes of its steps."
        )
    scale = _SCALES[fitting - 1]
    sheet = _Sheet(data, width=width, scale=scale, brief=brief)
    story = (
        *sheet.body(),
        Spacer(0, spare(scale, brief=brief)),
        sheet.signatures(),
    )  # signed at the foot, wherever the text ends
    return bind(story, title=data.title, issue=data.issue, closing=DEFERENCE)


def words(text: str, style: ParagraphStyle) -> Paragraph:
    """Return a paragraph in which no number is parted from its degrees."""
    return blocks.words(text.replace(" °C", "\u00a0°C"), style)


class _Box(Flowable):
    """An empty square to tick; white inside, so that it stands on black too."""

    def wrap(self, *_: float) -> tuple[float, float]:
        return (_TICK, _TICK)

    def draw(self) -> None:
        self.canv.setStrokeColor(BLACK)
        self.canv.setFillColor(white)
        self.canv.setLineWidth(1.1)
        self.canv.rect(0, 0, _TICK, _TICK, fill=1)


class _Sheet:
    """The sheet set at one scale of type; `brief` about what is not known of a solution."""

    def __init__(self, data: SessionSheetData, *, width: float, scale: float, brief: bool) -> None:
        self.data = data
        self.brief = brief
        self.width = width
        self.scale = scale
        leading = _CLOSE + (_LOOSE - _CLOSE) * min(1.0, (scale - _SCALES[0]) / (1.0 - _SCALES[0]))
        self.small = style(REGULAR, scale * _SMALL, leading=leading)
        self.quiet = style(REGULAR, scale * _SMALL, leading=leading, colour=GREY)
        self.text = style(REGULAR, scale * _TEXT, leading=leading)
        self.strong = style(BOLD, scale * _TEXT, leading=leading)
        self.name = style(BOLD, scale * _NAME, leading=_CLOSE)
        self.large = style(BOLD, scale * _LARGE, leading=_CLOSE)

    def body(self) -> list[Flowable]:
        """All that stands above the lines to sign."""
        return [
            self._head(),
            gap(2 * self.scale),
            self._protection(),
            *self._assessed(),
            gap(2 * self.scale),
            *(self._warning(told, width=self.width) for told in self.data.missing),
            gap(1 if self.data.missing else 0),
            *self._making_up(),
            self._steps(),
            gap(2.5 * self.scale),
            *self._dangers(),
            *self._cautions(),
            gap(1),
        ]

    def _head(self) -> Table:
        data = self.data
        who = data.person or "Name " + "_" * 30
        load = " ".join([f"{load_in_words(data.plan.load)}.", *data.plan.load.notes])
        lead = "\n".join(filter(None, (load, f"{who} · {data.date}", data.where)))
        side = min(27 * mm, 24 * mm * self.scale)
        return masthead(title=data.plan.process.name, lead=lead, issue=data.issue, width=self.width, side=side)

    def _protection(self) -> Table:
        """What to wear: the whole session through, then while mixing, as one strip each."""
        plan = self.data.plan
        rows = [("Wear and use", plan.working.protection)]
        if plan.mixing is not None:
            rows.append(("To pour and mix", plan.mixing.protection))
        label = 27 * mm * self.scale
        strips = [[words(head, self.strong), self._strip(items, self.width - label - 6 * mm)] for head, items in rows]
        return grid(
            strips,
            [label + 3 * mm, self.width - label - 3 * mm],
            ("BOX", *ALL, 1.2, BLACK, 0),
            ("LINEBELOW", (0, 0), (-1, -2), 0.4, RULE, 0),
            ("LEFTPADDING", *ALL, 3 * mm),
            ("TOPPADDING", *ALL, 1.2 * mm),
            ("BOTTOMPADDING", *ALL, 1.2 * mm),
        )

    def _assessed(self) -> Iterator[Flowable]:
        """Whether what to wear is assessed or worked out, and where the assessment asks less."""
        plan = self.data.plan
        if plan.assessed_briefly:
            yield words(plan.assessed_briefly, self.small if plan.is_assessed and not plan.questions else self.strong)

    def _strip(self, items: Sequence[Protection], width: float) -> Table:
        shown = sorted(items, key=lambda item: item.kind is not Equipment.HANDS)
        cells = [[words(item.words, self.strong)] for item in shown]
        if not self.brief:
            cells = [[*cell, words(item.reason, self.small)] for cell, item in zip(cells, shown, strict=True)]
        return grid([cells], [width / len(cells)] * len(cells), ("RIGHTPADDING", *ALL, 3 * mm))

    def _making_up(self) -> Iterator[Flowable]:
        made = self.data.plan.making_up
        if made:
            order = ", ".join(solution.step.name for solution in made)
            told = f"Make up first, in this order: {order}. Water first, then the chemical into the water."
            yield words(f"{told} {self.data.plan.assumption}".rstrip(), self.text)
            yield gap(1.5 * self.scale)

    def _steps(self) -> Table:
        share = min(1.0, self.scale)
        widths = [9 * mm, 0.27 * self.width, 0.0, 22 * mm * share, 29 * mm * share]
        widths[2] = self.width - sum(widths)
        rows: list[list[object]] = [["", *(words(head, NOTE) for head in ("Step", "With", "At", "For"))]]
        commands: list[Command] = [
            ("LINEBELOW", (0, 0), (-1, 0), 1, BLACK, 0),
            ("LEFTPADDING", (0, 1), (0, -1), 2 * mm),
            ("LEFTPADDING", (1, 0), (1, -1), 2 * mm),
            ("RIGHTPADDING", (1, 0), (-1, -1), 2 * mm),
            ("BOTTOMPADDING", *ALL, 1.4 * mm * self.scale),
            ("TOPPADDING", (0, 1), (-1, -1), 1.2 * mm * self.scale),
        ]
        for planned in self.data.plan.steps:
            if planned.step.in_the_dark:
                row = len(rows)
                bar = words(IN_THE_DARK, style(BOLD, self.scale * _TEXT, leading=1.2, colour=white))
                rows.append([bar, "", "", "", ""])
                commands += [
                    ("SPAN", (0, row), (-1, row)),
                    ("BACKGROUND", (0, row), (-1, row), BLACK),
                    ("LEFTPADDING", (0, row), (-1, row), 11 * mm),
                ]
            row = len(rows)
            rows.append([_Box(), self._what(planned), self._with(planned, widths[2]), *self._when(planned)])
            commands.append(("LINEBELOW", (0, row), (-1, row), 0.5, RULE, 0))
            if planned.step.in_the_dark:
                commands.append(("BACKGROUND", (0, row), (0, row), BLACK))
        return grid(rows, widths, *commands)

    def _what(self, planned: PlannedStep) -> list[Flowable]:
        shown: list[Flowable] = [words(f"{planned.number}. {planned.step.name}", self.name)]
        shown += [words(told, self.small) for told in (planned.step.note, *planned.remarks) if told]
        if planned.solution is not None and planned.solution.working.signal_word:
            shown += [gap(0.8), self._pictograms(planned.solution.working)]
        return shown

    def _pictograms(self, dangers: Dangers) -> Table:
        side = 9 * mm * self.scale
        cells = [Figure(pictogram(code), width=side) for code in dangers.pictograms]
        row = [*cells, words(dangers.signal_word, self.strong)]
        return grid([row], [*[side + 1 * mm] * len(cells), None], valign="MIDDLE", hAlign="LEFT")

    def _with(self, planned: PlannedStep, width: float) -> list[Flowable]:
        shown: list[Flowable] = []
        if planned.bath is not None and planned.solution is not None:
            shown.append(self._bath(planned.bath, planned.solution.strength, width=width - 2 * mm))
        elif planned.mix is not None and planned.solution is not None:
            named = f"{planned.solution.product} {planned.solution.strength}, {show_volume(planned.mix.working_ul)}"
            shown += [words(named, self.text), *self._mix(planned.mix, width=width - 2 * mm)]
        elif planned.water_ul is not None:
            shown.append(words(f"Water, {show_volume(planned.water_ul)} in all", self.text))
        elif planned.celsius is not None:
            shown.append(words("Water", self.text))
        if planned.tempered is not None:
            shown.append(words(planned.tempered.sentence, self.small))
        if planned.step.air:
            shown.append(words(f"Air: {planned.step.air}", self.strong))
        for told in planned.warnings:
            shown += [gap(0.5), self._warning(told, width=width - 2 * mm)]
        return shown

    def _warning(self, told: str, *, width: float) -> Table:
        """A sentence with a heavy left edge: it must not be overlooked."""
        edge = 1.4 * mm
        return grid(
            [["", words(told, self.strong)]],
            [edge, width - edge],
            ("BACKGROUND", (0, 0), (0, 0), BLACK),
            ("LEFTPADDING", (1, 0), (1, 0), 1.6 * mm),
            valign="BOTTOM",
        )

    def _bath(self, chosen: ChosenBath, strength: str, *, width: float) -> Table:
        bath = chosen.bath
        drawn = 8.5 * mm * self.scale
        told = [
            words(bath.code, self.large),
            words(f"{bath.name}, {strength} · {bath.line}", self.text),
            words(f"{bath.state}. {chosen.for_this}", self.small),
        ]
        return grid([[Figure(graduate_of(bath), width=drawn), told]], [drawn + 2 * mm, width - drawn - 2 * mm])

    def _mix(self, mix: FreshMix, *, width: float) -> Iterator[Flowable]:
        """The amounts under each other, each with its cylinder beside it."""
        told = [printable(f"{pour.words} {pour.what}") for pour in mix.pours]
        large = max(stringWidth(text, BOLD, self.large.fontSize) for text in told) + 3 * mm
        pours = [
            [words(amount, self.large), words(pour.cylinder, self.small)]
            for amount, pour in zip(told, mix.pours, strict=True)
        ]
        yield grid(pours, [large, width - large], valign="MIDDLE")
        tempered = f" {mix.tempered.sentence}" if mix.tempered else ""
        yield words(f"{mix.how_exact}{tempered}", self.small)

    def _when(self, planned: PlannedStep) -> tuple[list[Flowable], list[Flowable]]:
        at = [words(planned.temperature, self.large)] if planned.temperature else []
        if planned.tolerance:
            at.append(words(planned.tolerance, self.strong))
        long = [words(planned.time, self.large)] if planned.time else []
        if planned.changes:
            long.append(words(planned.changes, self.strong))
        return [*at], [*long]

    def _dangers(self) -> Iterator[Flowable]:
        rows = self.data.plan.dangers
        if not rows:
            return
        side = 8 * mm * self.scale
        most = max(len(row.dangers.pictograms) for row in rows)
        drawn = most * (side + 0.5 * mm) + 2 * mm
        named = 0.27 * self.width
        yield grid(
            [[self._diamonds(row, side), self._named(row), self._said(row)] for row in rows],
            [drawn, named, self.width - drawn - named],
            ("BOTTOMPADDING", *ALL, 0.8 * mm),
            ("RIGHTPADDING", (1, 0), (1, -1), 2 * mm),
            valign="MIDDLE",
        )
        yield gap(2 * self.scale)

    def _diamonds(self, row: DangerRow, side: float) -> Table | str:
        drawn = [Figure(pictogram(code), width=side) for code in row.dangers.pictograms]
        return grid([drawn], [side + 0.5 * mm] * len(drawn), hAlign="LEFT") if drawn else ""

    def _named(self, row: DangerRow) -> Flowable:
        where = "in the bottle" if row.is_bottle else "as used"
        named = f"{row.named}, {where}"
        signal = row.dangers.signal_word
        return words(f"{signal}: {named}", self.strong) if signal else words(named, self.small)

    def _said(self, row: DangerRow) -> Flowable:
        return words(row.dangers.told_briefly if self.brief else row.dangers.told, self.small)

    def _cautions(self) -> Iterator[Flowable]:
        cautions = self.data.plan.cautions
        if cautions:
            yield caution(
                head="Keep safe", body="\n".join(cautions), width=self.width, size=max(6.5, self.scale * _SMALL)
            )

    def signatures(self) -> Table:
        """Inductions the work needs, then lines to sign."""
        needs = self.data.needs
        top: list[Flowable] = [words(f"Inductions needed: {'; '.join(needs)}.", self.text), gap(1)] if needs else []
        third = self.width / 3
        lines = grid(
            [["", "", ""], [words(head, self.quiet) for head in ("Done by", "Date and time", "Checked by")]],
            [third] * 3,
            ("RIGHTPADDING", *ALL, 4 * mm),
            ("LINEBELOW", (0, 0), (-1, 0), 0.7, BLACK, 0),
            valign="BOTTOM",
            rowHeights=[8 * mm * min(1.0, self.scale), None],
        )
        return grid([[[*top, lines]]], [self.width])

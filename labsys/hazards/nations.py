"""The nations whose rules are on file, and what each changes here: waste law and exposure limits are national."""

from enum import StrEnum

from .tables import read_table

ELSEWHERE = "another nation"  # what a lab writes that lies in none of these


class Nation(StrEnum):
    ENGLAND = "England"
    WALES = "Wales"
    SCOTLAND = "Scotland"
    NORTHERN_IRELAND = "Northern Ireland"


class Rules(StrEnum):
    """Whose list of harmonised classes, and whose text of the regulation, holds."""

    GB = "GB"
    EU = "EU"


_IN_GREAT_BRITAIN = frozenset({Nation.ENGLAND, Nation.WALES, Nation.SCOTLAND})


def rules_of(nation: str) -> Rules:
    """Return whose classification rules hold in a nation.

    Parameters:
        nation: A nation, on file or not. [-]
    Returns:
        GB for England, Wales and Scotland. EU for Northern Ireland (Windsor Framework, from memory) and, where nothing
        is on file, for any other nation: the EU's is the stricter of the two. [-]

    >>> rules_of("Scotland"), rules_of("Northern Ireland")
    (<Rules.GB: 'GB'>, <Rules.EU: 'EU'>)
    """
    return Rules.GB if nation in _IN_GREAT_BRITAIN else Rules.EU


UNITED_KINGDOM, EUROPE = "999", "112"


def emergency_number(nation: str | None) -> str:
    """Return the number of the emergency services to ring first.

    Parameters:
        nation: A nation, on file or not; None where nobody has said which. [-]
    Returns:
        999 in the United Kingdom; else 112, which holds in Europe and from mobile telephones nearly everywhere. [-]
    Source:
        999 and 112 in the United Kingdom; 112 in Europe by Directive (EU) 2018/1972, article 109; 112 from mobile
        telephones by 3GPP TS 22.101: all from memory.

    >>> emergency_number("Scotland"), emergency_number(ELSEWHERE)
    ('999', '112')
    """
    return UNITED_KINGDOM if nation in tuple(Nation) else EUROPE


def is_number_sure(nation: str | None) -> bool:
    """Whether the number is known to be that of the nation.

    Parameters:
        nation: A nation, on file or not; None where nobody has said which. [-]
    Returns:
        False where people must be told to ring their own country's number if it is another. [-]
    """
    return nation in tuple(Nation)


def what_is_known(nation: str) -> str:
    """Say which rules of a nation are on file; for what is not, whom to ask.

    Parameters:
        nation: A nation, on file or not. [-]
    Returns:
        Sentences to show. [-]

    >>> what_is_known("Northern Ireland").partition(". ")[0]
    'Exposure limits are on file'
    """
    codes = "How consignment note codes are written"
    return " ".join(
        (
            "Exposure limits are on file."
            if _is_in("exposure_limits", nation)
            else "Exposure limits are not known here: ask the competent person.",
            f"{codes} is on file, and a code that looks otherwise is pointed out."
            if _is_in("note_codes", nation)
            else f"{codes} is not known here: ask the competent person.",
            _LISTS[rules_of(nation)] if nation in set(Nation) else _LIST_ELSEWHERE,
            *(["The lab's next code is suggested."] if nation == Nation.ENGLAND else []),
        )
    )


_LISTS = {
    Rules.GB: "Harmonised classes are those of the GB list, and of the EU's where the GB list has not been read.",
    Rules.EU: "Harmonised classes are those of the EU list (CLP Annex VI).",
}
_LIST_ELSEWHERE = "Its list of harmonised classes is not known here: ask the competent person; the EU's is used."


def _is_in(table: str, nation: str) -> bool:
    return any(nation in row["nation"].split("; ") for row in read_table(table))

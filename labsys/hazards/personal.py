"""Families of substance that a person may have to keep away from: an allergy, asthma.

A substance is known by its name, as entered or as on file for its number. What is not known of it is never the mild
side: `labsys.restrictions.rules` says what follows from that.
"""

import re
from enum import StrEnum

from .classes import Family
from .errors import HazardsError
from .substances import substance


class PersonalFamily(StrEnum):
    """Substances that count as one for a person.

    The para-amino developing agents (metol, aminophenol, phenylenediamines) count as one family until occupational
    health says otherwise: common practice, no source; so does the extent of each of the others.
    """

    PARA_AMINO = "para-amino developing agents"
    HYDROQUINONE = "hydroquinone"
    PYRAZOLIDINONE = "phenidone and its kin"
    PRESERVATIVE = "isothiazolinone preservatives"
    CHROMIUM = "chromates and dichromates"
    ALDEHYDE = "formaldehyde and other aldehydes"
    SULFITE = "sulfites and sulfur dioxide"
    AMMONIA = "ammonia"

    @property
    def is_skin_sensitiser(self) -> bool:
        """Whether an SDS has to name it as a sensitiser; sulfites and ammonia are breathed in, and need not be named.

        Source: common practice, no source.
        """
        return self not in (PersonalFamily.SULFITE, PersonalFamily.AMMONIA)


_NAMED = {  # as suppliers write them, with and without hyphens; in doubt a name counts
    PersonalFamily.PARA_AMINO: (
        r"metol|amino\)?[- ]?phenol|hydroxy(-n-methyl)?anilin|phenylene[- ]?diamin|benzene-?1,4-?diamin|diaminobenzene"
        r"|toluene-?2,5-?diamin|amino-n\b|amino-?n,|anilino|amidol|\bcd[- ]?[1-4]\b|colou?r developing agent|\bglycin\b"
        r"|hydroxyphenyl\)glycine|methylaminophenol"
    ),
    PersonalFamily.HYDROQUINONE: r"hydroquinone|\bquinol\b|benzene-?1,4-?diol|1,4-(benzenediol|dihydroxybenzene)",
    PersonalFamily.PYRAZOLIDINONE: r"phenidone|dimezone|pyrazolid",
    PersonalFamily.PRESERVATIVE: r"isothiazol",
    PersonalFamily.CHROMIUM: r"chromat|chromic|chromium|chrome",
    PersonalFamily.ALDEHYDE: r"aldehyde|formalin|glyoxal|methanal",
    PersonalFamily.SULFITE: r"sul(f|ph)ite|sul(f|ph)ur dioxide|thiosul(f|ph)ate|dithionite",
    PersonalFamily.AMMONIA: r"ammoni",
}
_KINDS = {
    Family.ALDEHYDE: PersonalFamily.ALDEHYDE,
    Family.SULFITE: PersonalFamily.SULFITE,
    Family.THIOSULFATE: PersonalFamily.SULFITE,  # acid sets sulfur dioxide free from it
    Family.AMMONIUM: PersonalFamily.AMMONIA,
}


def personal_families_of(*, cas: str, name: str) -> frozenset[PersonalFamily]:
    """Return the families an ingredient belongs to, by its name and by what is on file for its number.

    Parameters:
        cas: Its CAS number as entered; one that cannot be read says nothing. [-]
        name: Its name as entered. [-]
    Returns:
        Its families; empty where none is known. [-]

    >>> sorted(personal_families_of(cas="55-55-0", name="developing agent"))
    [<PersonalFamily.PARA_AMINO: 'para-amino developing agents'>]
    """
    names, kinds = [name], frozenset[Family]()
    try:
        on_file = substance(cas)
    except HazardsError:
        pass
    else:
        names += [on_file.name, *on_file.short_names]
        kinds = on_file.families
    by_name = {
        family for family, pattern in _NAMED.items() if any(re.search(pattern, each.casefold()) for each in names)
    }
    return frozenset(by_name | {_KINDS[kind] for kind in kinds if kind in _KINDS})


def is_on_file(cas: str) -> bool:
    """Say whether a reference entry tells what a number stands for.

    Parameters:
        cas: A CAS number as entered. [-]
    Returns:
        Whether one does. [-]
    """
    try:
        substance(cas)
    except HazardsError:
        return False
    return True

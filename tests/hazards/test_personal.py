"""Which family a substance counts with for a person, as suppliers write it.

Names are those of `labsys/hazards/data/substances.csv`, and others from memory; that the para-amino developing agents
count as one is common practice, no source.
"""

import pytest

from labsys.hazards.personal import PersonalFamily, is_on_file, personal_families_of

P = PersonalFamily


@pytest.mark.parametrize(
    ("name", "cas", "families"),
    [
        ("metol", "", {P.PARA_AMINO}),
        ("a developing agent", "55-55-0", {P.PARA_AMINO}),  # known by its number alone
        ("4-Aminophenol", "123-30-8", {P.PARA_AMINO}),
        ("N-methyl-p-aminophenol sulfate", "", {P.PARA_AMINO}),
        ("4-(methylamino)phenol", "", {P.PARA_AMINO}),
        ("bis(4-hydroxy-N-methylanilinium) sulphate", "", {P.PARA_AMINO}),
        ("p-Phenylenediamine", "", {P.PARA_AMINO}),
        ("CD-4", "", {P.PARA_AMINO}),
        ("colour developing agent 3", "25646-71-3", {P.PARA_AMINO}),
        ("2,4-diaminophenol dihydrochloride", "", {P.PARA_AMINO}),
        ("N-(4-hydroxyphenyl)glycine", "", {P.PARA_AMINO}),
        ("hydroquinone", "123-31-9", {P.HYDROQUINONE}),
        ("benzene-1,4-diol", "", {P.HYDROQUINONE}),
        ("phenidone", "92-43-3", {P.PYRAZOLIDINONE}),
        ("4-hydroxymethyl-4-methyl-1-phenyl-3-pyrazolidinone", "", {P.PYRAZOLIDINONE}),
        ("sodium sulfite", "7757-83-7", {P.SULFITE}),
        ("sodium bisulphite", "", {P.SULFITE}),
        ("ammonium thiosulfate", "7783-18-8", {P.SULFITE, P.AMMONIA}),
        ("potassium dichromate", "", {P.CHROMIUM}),
        ("formaldehyde", "", {P.ALDEHYDE}),
        ("2-methyl-2H-isothiazol-3-one", "", {P.PRESERVATIVE}),
        ("ascorbic acid", "50-81-7", set()),
        ("acetic acid", "64-19-7", set()),
        ("potassium carbonate", "584-08-7", set()),
        ("sodium hydrogensulfate", "", set()),
        ("propylene glycol", "", set()),
        ("glycine", "", set()),
    ],
)
def test_the_families_of_a_substance(name: str, cas: str, families: set[PersonalFamily]) -> None:
    assert personal_families_of(cas=cas, name=name) == families


def test_a_number_that_cannot_be_read_says_nothing() -> None:
    assert personal_families_of(cas="not a number", name="something") == set()
    assert not is_on_file("not a number")
    assert is_on_file("55-55-0")

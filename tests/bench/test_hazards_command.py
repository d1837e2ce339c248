"""`labsys hazards`: published mixtures, the same answer as the pages give, and one clear sentence for what is bad."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from labsys.chemistry.care import SolutionKind
from labsys.cli import main
from labsys.hazards.cas import cas_check_digit
from labsys.products.hazards import hazards_of
from labsys.products.sheet import StatedDilution
from tests.support.lab import HYDROQUINONE, SmallLab

KEYS = {"classes", "h_codes", "euh_codes", "pictograms", "signal_word", "open_points", "reasons"}
Run = Callable[..., Result]


@pytest.fixture
def run(tmp_path: Path) -> Run:
    def command(content: str | bytes, *options: str) -> Result:
        file = tmp_path / "mixture.toml"
        file.write_bytes(content if isinstance(content, bytes) else content.encode())
        return CliRunner().invoke(main, ["hazards", str(file), *options])

    return command


def worked(result: Result) -> dict[str, Any]:
    assert result.exit_code == 0, result.output
    told: dict[str, Any] = json.loads(result.output)
    assert set(told) == KEYS
    return told


def unnamed(number: int) -> str:
    """A CAS number for a published example's nameless ingredient: rightly formed, and of no substance on the list."""
    body = f"99999-{number:02}"
    return f"{body}-{cas_check_digit(body)}"


def mixture(*ingredients: str, **of_it: Any) -> str:
    top = [f"{key} = {json.dumps(value)}" for key, value in of_it.items()]
    rows = [f'[[ingredient]]\ncas = "{unnamed(n)}"\n{told}' for n, told in enumerate(ingredients, start=1)]
    return "\n".join([*top, *rows])


PUBLISHED: dict[str, tuple[str, set[str], str]] = {  # mixture, its classes, what a reason says
    "UN ST/SG/AC.10/C.4/2008/23, example 3.1(a): 1880 mg/kg by the UN's bounds, which are not CLP's": (
        mixture(
            'percent = "16"\nclasses = "Acute Tox. 4 H302"\nate_oral = 1600',
            'percent = "4"\nclasses = "Acute Tox. 3 H301"\nate_oral = 200',
            'percent = "80"\nclasses = "not classified"\nate_oral = 3450',
        ),
        set(),
        "the other, Acute Tox. 4 H302: ATE 1880 mg/kg",
    ),
    "UN ST/SG/AC.10/C.4/2008/23, example 3.1(d): 873 mg/kg, 6.6 mg/L, 11 % unknown": (
        mixture(
            "percent = 26\nate_oral = 2737\nate_vapour = 11",
            "percent = 23\nate_oral = 4500\nate_vapour = 19",
            "percent = 11\nate_oral = 5001",
            "percent = 40\nate_oral = 400\nate_vapour = 4",
        ),
        {"Acute Tox. 4 H302", "Acute Tox. 3 H331"},
        "ATE of the mixture 6.557 mg/L, 11 % of unknown toxicity left out",
    ),
    "UN ST/SG/AC.10/C.4/2012/25, example 4.1(a): chronic 4": (
        mixture(
            'percent = "0.01"\nclasses = ["Aquatic Acute 1 H400", "Aquatic Chronic 1 H410"]\n'
            "m_acute = 10\nm_chronic = 10",
            'percent = "1"\nclasses = "Aquatic Chronic 2 H411"',
            'percent = "25"\nclasses = "Aquatic Chronic 4 H413"',
        ),
        {"Aquatic Chronic 4 H413"},
        "Aquatic Chronic 4",
    ),
    "ECHA Helpdesk seminar (O. Tunnela, 2012): 0.8 % of an irritant is below its cut-off": (
        mixture('percent = "0.8"\nclasses = "Skin Irrit. 2 H315"'),
        set(),
        "no declared ingredient reaches any cut-off",
    ),
    "enviprofi.cz 4.8.6.2: a corrosive at 4 % does not reach 5 %": (
        mixture('percent = "4"\nclasses = "Skin Corr. 1 H314"'),
        {"Skin Irrit. 2 H315", "Eye Dam. 1 H318"},
        "not corrosive",
    ),
    "enviprofi.cz 4.8.6.2: declared as 3-7 % it does": (
        mixture('percent = "3-7"\nclasses = "Skin Corr. 1 H314"'),
        {"Skin Corr. 1 H314", "Eye Dam. 1 H318"},
        "corrosive",
    ),
}


@pytest.mark.parametrize(("content", "classes", "reason"), PUBLISHED.values(), ids=PUBLISHED)
def test_a_published_mixture_comes_out_as_published(run: Run, content: str, classes: set[str], reason: str):
    told = worked(run(content, "--json"))
    assert set(told["classes"]) == classes
    assert any(reason in line for line in told["reasons"]), told["reasons"]


def test_what_is_not_stated_stands_among_the_open_points(run: Run):
    open_points = worked(run(mixture('percent = "5-10"'), "--dilution", "1+4", "--json"))["open_points"]
    assert any("what" in point.lower() and "is not stated" in point for point in open_points)
    assert any(point.startswith("No density is stated") for point in open_points)


LYE = '[[ingredient]]\ncas = "1310-73-2"\npercent = "{percent}"'  # its classes and limits from the list


@pytest.mark.parametrize(
    ("content", "dilution", "is_corrosive", "point"),
    [
        ("ph = 13\n" + LYE.format(percent="0.4"), "1+0", True, None),  # CLP 3.2.3.1.2: 11.5 and above
        (LYE.format(percent="0.4"), "1+0", False, "No pH is stated"),
        ('ph = "13.5-14"\ndensity = 1.2\n' + LYE.format(percent="10"), "1+49", True, None),  # 12.3 at least
        ("ph = 12.2\ndensity = 1.0\n" + LYE.format(percent="2"), "1+9", False, "The pH as used is not stated"),
        ("ph = 12.2\nph_used = 11.0\ndensity = 1.0\n" + LYE.format(percent="2"), "1+9", False, None),
        ("ph = 13\nph_used = 10.4\n" + LYE.format(percent="0.4"), "1+0", True, None),  # two of one liquid: a range
        ("ph = 10.9\ndensity = 1.0\n" + LYE.format(percent="2"), "1+9", False, None),
    ],
)
def test_the_ph_decides_or_is_an_open_point(
    run: Run, content: str, dilution: str, is_corrosive: bool, point: str | None
):
    told = worked(run(content, "--dilution", dilution, "--json"))
    assert ("H314" in told["h_codes"]) is is_corrosive
    of_ph = [each for each in told["open_points"] if "pH" in each]
    assert of_ph == [] if point is None else [each.startswith(point) for each in of_ph] == [True]


def test_both_ends_of_a_range_of_density_are_worked(run: Run):
    """4.5 % of lye at 1+9 is 0.45 % at 1.00 g/mL and 0.57 % at 1.30; its own limit for irritation is 0.5 %."""

    def codes(density: str) -> list[str]:
        content = f"ph = 11\ndensity = {density}\n{LYE.format(percent='4.5')}"
        return list(worked(run(content, "--dilution", "1+9", "--json"))["h_codes"])

    assert codes("1.0") == []
    assert codes('"0.9-1.3"') == codes("1.3") == ["H315", "H319"]


def test_the_estimate_of_the_list_counts_where_none_is_given(run: Run):
    """100 × 481 / 24.5 = 1963 mg/kg, category 4 to 2000; by its category alone it would be 2041."""
    content = '[[ingredient]]\ncas = "7758-99-8"\npercent = 24.5\n'
    assert "H302" in worked(run(content, "--json"))["h_codes"]
    assert "H302" not in worked(run(content + "ate_oral = 600", "--json"))["h_codes"]


@pytest.mark.sqlite_only
def test_it_gives_what_the_pages_give(lab: SmallLab, run: Run):
    """The same facts as a product and as a file."""
    made = lab.add_product(
        SolutionKind.DEVELOPER,
        name="The same",
        h_codes="not classified",  # a file says nothing of the supplier's own classes
        density_mg_per_ml=950,
        density_high_mg_per_ml=1_250,
        ph_low_milli=12_000,
        ph_high_milli=12_500,
        dilutions=[StatedDilution(4_000, "film")],
    )
    content = (
        f'nation = "England"\nph = "12-12.5"\ndensity = "0.95-1.25"\n[[ingredient]]\ncas = "{HYDROQUINONE.cas}"\n'
        f'percent = "3-5"\nclasses = "{HYDROQUINONE.classification}"\nm_acute = 10\n'
    )
    told = worked(run(content, "--dilution", "1+4", "--json"))
    page = hazards_of(made, water_parts_milli=4_000)
    assert page.classification is not None
    assert told["classes"] == [str(hazard) for hazard in page.classification.classes]
    assert told["open_points"] == list(page.declared_unknown)
    assert told["reasons"] == [f"{reason.topic}: {reason.text}" for reason in page.classification.reasons]


def test_without_json_it_can_be_read(run: Run):
    result = run(LYE.format(percent="4-5"), "--dilution", "1+1")
    assert result.exit_code == 0
    for words in ("1+1: Danger.", "Estimate", "H314 Causes severe skin burns", "No density is stated", "The working:"):
        assert words in result.output


ACID = '[[ingredient]]\ncas = "64-19-7"\npercent = "{}"\n'
BAD: list[tuple[str | bytes, str]] = [
    ("colour = 3\n" + ACID.format(5), "“colour” is no key of the file"),
    (ACID.format(5) + 'colour = "red"', "“colour” is no key of ingredient 1"),
    ('[[ingredient]]\ncas = "64-19-8"\npercent = "5"', "its last digit does not fit"),
    ('[[ingredient]]\ncas = 64197\npercent = "5"', "cas is a text"),
    ('[[ingredient]]\npercent = "5"', "cas is missing"),
    ('[[ingredient]]\ncas = "64-19-7"', "say how much of it there is"),
    ('[[ingredient]]\ncas = "64-19-7"\npercent = [5]', "percent is a number"),
    ('[[ingredient]]\ncas = "64-19-7"\npercent = nan', "percent is no number that can be meant"),
    ('[[ingredient]]\ncas = "64-19-7"\npercent = -5', "write a figure or a range"),
    (ACID.format("101"), "nothing holds more than 100 %"),
    (ACID.format("10-5"), "typed backwards"),
    (ACID.format("60-70") + ACID.format("50").replace("64-19-7", "1310-73-2"), "110 % at the least: over 100 %"),
    (ACID.format("5") + ACID.format("5"), "CAS 64-19-7 stands in two ingredients"),
    (ACID.format("5") + 'classes = "Skin Corr. 9 H314"', "does not fit together"),
    (ACID.format("5") + "classes = [5]", "classes is a text or a list of texts"),
    (ACID.format("5") + 'limits = "plenty"', "is not a specific limit"),
    (ACID.format("5") + "m_acute = 0.5", "m_acute is a whole number"),
    (ACID.format("5") + "m_chronic = true", "m_chronic is a number"),
    (ACID.format("5") + "ate_oral = inf", "ate_oral is no number that can be meant"),
    (ACID.format("5") + "ate_oral = 0", "ate_oral must be above zero"),
    ("ph = 20\n" + ACID.format(5), "it lies between 0 and 14"),
    ("ph = nan\n" + ACID.format(5), "ph is no number that can be meant"),
    ("ph = true\n" + ACID.format(5), "ph is a number"),
    ('density = "heavy"\n' + ACID.format(5), "write a figure, or a range"),
    ('nation = "Atlantis"\n' + ACID.format(5), "“Atlantis” is not known here"),
    ("nation = 3\n" + ACID.format(5), "nation is a text"),
    ("ingredient = 3", "Name at least one ingredient"),
    ("", "Name at least one ingredient"),
    ("this is no TOML", "is not TOML"),
    ("a = " + "[" * 5_000, "is not TOML"),
    ("[[ingredient]]\ncas = '64-19-7'\npercent = '5 °'".encode("latin-1"), "is not text in UTF-8"),
]


@pytest.mark.parametrize(("content", "message"), BAD, ids=[message for _, message in BAD])
def test_bad_input_is_named_in_one_sentence_with_exit_2(run: Run, content: str | bytes, message: str):
    for options in ([], ["--json"]):
        result = run(content, *options)
        assert (result.exit_code, result.stdout) == (2, "")
        assert message in result.stderr
        assert result.stderr.count("\n") == 1


@pytest.mark.parametrize(
    ("dilution", "message"), [("1:4", "can be read two ways"), ("strong", "as a dilution"), ("1+5000", "must be")]
)
def test_a_dilution_that_cannot_be_read_is_exit_2(run: Run, dilution: str, message: str):
    result = run(ACID.format(5), "--dilution", dilution)
    assert result.exit_code == 2
    assert message in result.stderr


def test_a_file_that_is_not_there_is_exit_2(tmp_path: Path):
    for path in (tmp_path / "none.toml", tmp_path):
        result = CliRunner().invoke(main, ["hazards", str(path)])
        assert (result.exit_code, result.stderr.count("\n")) == (2, 1)
        assert "cannot be read" in result.stderr

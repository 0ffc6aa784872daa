"""A lab of one's own from a sentence: every way to a verdict, spellings, refusals, hostile texts.

The readings are worked out by hand for a known product, with atomic weights from memory: H 1.008,
C 12.011, O 15.999, Na 22.990, Mg 24.305, S 32.06, Cl 35.45, Fe 55.845, Co 58.933, Cu 63.546,
Ag 107.868, Sn 118.71; F = 96485 C/mol, R = 8.3145 J/(mol K).
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Mapping

import pytest

import stoichkit
from stoichkit import experiments
from stoichkit.bench import bench_plan
from stoichkit.errors import ExperimentError
from stoichkit.experiments import Sentence, Slot, suggestions, understood, ways
from stoichkit.experiments.fields import to_tables
from stoichkit.experiments.own_slots import ratio_suggestions
from stoichkit.planning import Plan, operating_characteristic
from tests.faults.test_hostile import HOSTILE

LABS: Mapping[str, tuple[dict[str, str], dict[str, list[object]], str]] = {
    # 1.12 g Fe is 20.06 mmol; as many mmol of Cu are 1.27 g
    "displacement": (
        {"metal": "iron", "product": "Cu", "states": "Fe2+, Fe3+"},
        {
            "Fe before": ["7.30"],
            "Fe after": ["6.18"],
            "paper": ["1.40"],
            "paper + Cu": ["2.67"],
        },
        "iron(II)",
    ),
    # 2.50 g CuSO4·5H2O (249.69 g/mol) holds 0.90 g water
    "hydrate": (
        {"salt": "CuSO4"},
        {
            "crucible": ["21.43"],
            "crucible + crystals": ["23.93"],
            "crucible + residue": [["23.05", "23.03", "23.03"]],
        },
        "CuSO4·5H2O",
    ),
    # 1.19 g Sn is 10.02 mmol; twice that of O is 0.32 g
    "oxide": (
        {"metal": "Sn", "oxides": "SnO, SnO2"},
        {
            "crucible": ["17.56"],
            "crucible + Sn": ["18.75"],
            "crucible + oxide": [["19.07", "19.07"]],
        },
        "SnO2",
    ),
    # 0.036 g Mg is 1.481 mmol; p(H2) = 101.3 - 2.34 = 98.96 kPa, V = nRT/p = 36.48 mL at 20 °C
    "gas": (
        {
            "substance": "Mg",
            "temperature": "20.0 °C",
            "pressure": "101,3",
            "balance.readability_g": "0.001",
        },
        {"Mg": ["0.036"], "gas volume": ["36.48"]},
        "magnesium(II)",
    ),
    # 0.50 A for 1800 s is 9.33 mmol e-; half as much Cu is 0.30 g
    "plating": (
        {"metal": "copper", "states": "I, II"},
        {
            "current": ["0.50"],
            "time": ["1800.00"],
            "strip before": ["9.17"],
            "strip after": ["9.47"],
        },
        "copper(II)",
    ),
    # 0.192 g C6H8O7 (192.12 g/mol) is 1.00 mmol; 3.00 mmol are 30.00 mL at 0.1 mol/L
    "titration": (
        {
            "substance": "C6H8O7",
            "titrant": "OH-",
            "concentration": "0.1000",
            "error": "0.0002",
            "candidates": "1, 2, 3",
            "balance.readability_g": "0.001",
        },
        {"C6H8O7": ["0.192"], "burette before": ["0.10"], "burette after": ["30.10"]},
        "3 OH^- per C6H8O7",
    ),
    # 0.48 g CoCl2·6H2O (237.93 g/mol) is 2.02 mmol; 4.03 mmol AgCl (143.32 g/mol) are 0.58 g
    "precipitate": (
        {
            "substance": "CoCl2.6H2O",
            "species": "Cl-",
            "precipitate": "AgCl",
            "candidates": "1, 2, 3",
        },
        {"CoCl2·6H2O": ["0.48"], "paper": ["0.71"], "paper + AgCl": ["1.29"]},
        "2 Cl^- per CoCl2·6H2O",
    ),
    # 20.00 mL at 0.1 mol/L is 2.00 mmol; 6.00 mmol AgCl are 0.86 g
    "dissolved": (
        {
            "substance": "FeCl3",
            "concentration": "0.1",
            "species": "Cl-",
            "precipitate": "AgCl",
            "candidates": "2; 3",
        },
        {
            "burette before": ["0.00"],
            "burette after": ["20.00"],
            "paper": ["0.70"],
            "paper + AgCl": ["1.56"],
        },
        "3 Cl^- per FeCl3",
    ),
    # 1.68 g NaHCO3 (84.01 g/mol) is 20.0 mmol; half as much Na2CO3 (105.99 g/mol) is 1.06 g
    "reaction": (
        {
            "substance": "NaHCO3",
            "product": "Na2CO3",
            "candidates": "carbonate = NaHCO3 -> Na2CO3 + H2O + CO2; 1; 2/3",
        },
        {
            "NaHCO3 before": ["5.00"],
            "NaHCO3 after": ["3.32"],
            "paper": ["0.70"],
            "paper + Na2CO3": ["1.76"],
        },
        "carbonate",
    ),
}


def slots_of(way: str) -> tuple[Slot, ...]:
    return next(one for one in ways() if one.key == way).slots


def made(way: str, **changed: str) -> experiments.Experiment:
    found = understood(Sentence(way, {**LABS[way][0], **changed}))
    assert not found.refusals
    assert not found.missing
    assert found.experiment is not None
    return found.experiment


def test_there_is_a_lab_for_every_way() -> None:
    assert {way.key for way in ways()} == set(LABS)


@pytest.mark.parametrize("way", LABS)
def test_from_the_sentence_to_the_verdict(way: str) -> None:
    _, readings, truth = LABS[way]
    lab = made(way)
    assert lab.trials == ()
    filled = lab.with_readings({name: [*texts, *texts] for name, texts in readings.items()})
    evidence = stoichkit.assess(filled)
    assert evidence.verdict.candidates == (truth,)
    assert stoichkit.parse_experiment(filled.to_toml()) == filled
    assert stoichkit.parse_experiment(lab.to_toml()) == lab


@pytest.mark.parametrize("way", LABS)
def test_it_can_be_planned_and_printed_for_the_bench(way: str) -> None:
    lab = made(way)
    assert bench_plan(lab, reacting_mol=0.002).text()
    plan = Plan(experiment=lab, consumed_mol=0.002, trials=2)
    assert 0 < operating_characteristic(plan).right <= 1


@pytest.mark.parametrize("way", LABS)
def test_every_choice_makes_a_lab(way: str) -> None:
    for slot in slots_of(way):
        if slot.kind == "choice":
            for one in suggestions(Sentence(way, LABS[way][0]), slot.name):
                lab = made(way, **{slot.name: one.text})
                assert lab == made(way, **{slot.name: one.label.upper()})
                assert len(set(lab.reading_names())) == len(lab.reading_names()) > 1
                assert stoichkit.parse_experiment(lab.to_toml()) == lab


@pytest.mark.parametrize("way", LABS)
def test_every_suggestion_is_understood(way: str) -> None:
    sentence = Sentence(way, LABS[way][0])
    for slot in slots_of(way):
        for one in suggestions(sentence, slot.name):
            said = understood(sentence.with_text(slot.name, one.text)).slots[slot.name]
            assert said.refusal is None, (slot.name, one)
            assert said.items


@pytest.mark.parametrize("way", LABS)
def test_the_sentence_is_plain_data(way: str) -> None:
    found = next(one for one in ways() if one.key == way)
    assert json.loads(json.dumps(dataclasses.asdict(found)))["key"] == way
    names = [slot.name for slot in found.slots]
    assert len(names) == len(set(names))
    assert all(slot.label for slot in found.slots)
    empty = understood(Sentence(way))
    assert empty.experiment is None
    assert empty.missing
    assert not empty.refusals


@pytest.mark.parametrize(
    ("typed", "states"),
    [
        ("Fe2+", "2"),
        ("Fe^2+", "2"),
        ("Fe²⁺", "2"),
        ("iron(II)", "2"),
        ("Fe(II)", "2"),
        ("+2", "2"),
        ("2", "2"),
        ("II", "2"),
        ("FeSO4", "2"),
        ("1.5", "3"),
        ("3/2", "3"),
        ("3:2", "3"),
        ("1,5;", "3"),
        ("Fe + CuSO4 -> FeSO4 + Cu", "2"),
        ("Fe2+, Fe3+", "2 3"),
        ("II or III", "2 3"),
        ("Fe2+ and iron (III)", "2 3"),
        ("2\n3", "2 3"),
        ("Fe2(SO4)3", "3"),
    ],
)
def test_oxidation_states_as_they_are_written(typed: str, states: str) -> None:
    lab = made("displacement", states=typed)
    assert lab.candidate_spec is not None
    assert " ".join(map(str, lab.candidate_spec.fields["states"])) == states


@pytest.mark.parametrize(
    ("typed", "waters"),
    [
        ("5", "5"),
        ("5 H2O", "5"),
        ("·5H2O", "5"),
        ("CuSO4.5H2O", "5"),
        ("CuSO4·5H2O", "5"),
        ("pentahydrate", "5"),
        ("1/2", "1/2"),
        ("0.5", "1/2"),
        ("hemihydrate", "1/2"),
        ("1-3, 5", "1 2 3 5"),
        ("1 to 3", "1 2 3"),
        ("2CuSO4.H2O", "1/2"),
    ],
)
def test_waters_as_they_are_written(typed: str, waters: str) -> None:
    lab = made("hydrate", waters=typed)
    assert " ".join(str(one.ratio) for one in lab.candidates) == waters


@pytest.mark.parametrize(
    ("typed", "formulas"),
    [
        ("Fe2O3, FeO", "Fe2O3 FeO"),
        ("iron(III) oxide", "Fe2O3"),
        ("Fe3+", "Fe2O3"),
        ("1.5", "Fe2O3"),
        ("4/3", None),
        ("Fe3O4", "Fe3O4"),
        ("II; III", "FeO Fe2O3"),
    ],
)
def test_oxides_as_they_are_written(typed: str, formulas: str | None) -> None:
    found = understood(Sentence("oxide", {"metal": "Fe", "oxides": typed}))
    if formulas is None:
        assert "oxides" in found.refusals
    else:
        assert " ".join(one.name for one in found.candidates) == formulas


@pytest.mark.parametrize(
    ("slots", "refused", "words"),
    [
        ({"metal": "rust"}, "metal", "not a metal"),
        ({"metal": "Cl"}, "metal", "not a metal"),
        ({"metal": "Tc"}, "metal", "no standard atomic weight"),
        ({"product": "Fe"}, "product", "one used up"),
        ({"product": "CuSO4"}, "product", "not a metal"),
        ({"states": "Cu2+"}, "states", "state of copper"),
        ({"states": "5/4"}, "states", "no whole oxidation state"),
        ({"states": "0.67"}, "states", "rounded decimal"),
        ({"states": "ferrous"}, "states", "cannot be read"),
        ({"states": ", ".join("2" * 60)}, "states", "too long"),
        ({"weighed": "by eye"}, "weighed", "none of the choices"),
        ({"ion": "Ag+"}, "ion", "state of silver"),
        ({"balance.readability_g": "0"}, "balance.readability_g", "readability"),
        ({"balance.readability_g": "fine"}, "balance.readability_g", "not a number"),
        ({"balance.repeatability_g": "-1"}, "balance.repeatability_g", "repeatability"),
        ({"title": "two\nlines"}, "title", "one line"),
    ],
)
def test_what_cannot_be_used_keeps_its_text_and_says_why(
    slots: dict[str, str], refused: str, words: str
) -> None:
    given = {**LABS["displacement"][0], **slots}
    found = understood(Sentence("displacement", given))
    assert found.experiment is None
    assert words in str(found.refusals[refused])
    assert found.slots[refused].text == given[refused]
    assert list(found.refusals) == [refused]


def test_a_state_of_another_metal_is_refused_once_the_metal_changes() -> None:
    sentence = Sentence("displacement", LABS["displacement"][0])
    assert understood(sentence).experiment is not None
    found = understood(sentence.with_text("metal", "Zn"))
    assert "iron" in str(found.refusals["states"])
    assert found.slots["states"].text == "Fe2+, Fe3+"


def test_equations_appear_before_the_rest_can_be_used() -> None:
    found = understood(
        Sentence("displacement", {"metal": "Al", "product": "Cu", "balance.readability_g": ""})
    )
    assert found.experiment is None
    assert "2 Al + 3 Cu²⁺ → 2 Al³⁺ + 3 Cu" in found.equations


@pytest.mark.parametrize(
    ("way", "slot", "ratio", "name"),
    [
        ("plating", "states", "1/2", "copper(II)"),  # a mole of electrons plates half a mole
        ("plating", "states", "1:1", "copper(I)"),
        ("gas", "candidates", "1:1", "magnesium(II)"),  # Mg + 2 H+ -> Mg2+ + H2
        ("gas", "candidates", "3/2", "magnesium(III)"),
        ("displacement", "states", "1:1", "iron(II)"),
        ("oxide", "oxides", "1/2", "Sn2O"),
    ],
)
def test_a_mole_ratio_stands_for_the_state_that_leads_to_it(
    way: str, slot: str, ratio: str, name: str
) -> None:
    (candidate,) = made(way, **{slot: ratio}).candidates
    assert candidate.name == name
    assert str(candidate.ratio) == ratio.replace("1:1", "1")


def test_what_the_sentence_says_stands_in_the_record() -> None:
    said = to_tables(made("titration"))["produced"]["concentration"]
    assert (said["mol_per_L"], said["half_width_mol_per_L"]) == (0.1, 0.0002)
    assert to_tables(made("gas"))["instruments"]["gas tube"]["temperature_C"] == 0
    dry = to_tables(made("gas", collected="dry"))["produced"]["kind"]
    assert (to_tables(made("gas"))["produced"]["kind"], dry) == ("gas over water", "gas")
    lead = made("precipitate", substance="KI", species="I-", precipitate="PbI2")
    assert to_tables(lead)["produced"]["factor"] == "2"
    for way, side in (("hydrate", "consumed"), ("hydrate", "produced"), ("oxide", "produced")):
        assert to_tables(made(way))[side]["repeated"][0].startswith("crucible + ")
    figures = {"balance.readability_g": "0,001", "balance.repeatability_g": "0.002"}
    balance = to_tables(made("oxide", **figures))["instruments"]["balance"]
    assert balance == {"kind": "balance", "readability_g": 0.001, "repeatability_g": 0.002}


def test_what_is_left_empty_is_said() -> None:
    found = understood(Sentence("displacement", {"metal": "Zn", "product": "Ag"}))
    assert found.slots["ion"].items == ("Ag⁺",)
    assert "left empty" in found.slots["states"].note
    assert found.slots["states"].items == ("zinc(I), Zn⁺", "zinc(II), Zn²⁺", "zinc(III), Zn³⁺")
    assert found.experiment is not None
    (described,) = found.slots["balance.readability_g"].items
    assert described == "A balance reading to 0.01 g, repeatability 0.005 g."


def test_room_conditions_typed_once_are_read_in_no_trial() -> None:
    assert made("gas").shared_readings["room pressure"] == ("101,3",)
    assert made("gas").reading_names()[-2:] == ("room temperature", "room pressure")
    alone = made("gas", temperature="", pressure="")
    assert not alone.shared_readings
    assert alone.reading_names()[-2:] == ("room temperature", "room pressure")


@pytest.mark.parametrize("way", LABS)
@pytest.mark.parametrize(
    "text",
    [*HOSTILE, "\ud800", "a" * 10_000, "1e999", "٣", "\x00", ";" * 900, "(" * 900, "9" * 900],
)
def test_a_hostile_text_is_kept_and_never_breaks_the_rest(way: str, text: str) -> None:
    for slot in slots_of(way):
        sentence = Sentence(way, {**LABS[way][0], slot.name: text})
        found = understood(sentence)
        assert found.slots[slot.name].text == text
        assert suggestions(sentence, slot.name) is not None
        if found.experiment is not None:
            assert slot.optional or slot.name == "title"
            assert stoichkit.parse_experiment(found.experiment.to_toml()) == found.experiment
        else:
            assert slot.name in {*found.refusals, *found.missing}


def test_a_slot_or_way_that_is_not_there_is_refused() -> None:
    with pytest.raises(ExperimentError, match="Did you mean “metal”"):
        Sentence("displacement", {"metall": "Fe"})
    with pytest.raises(ExperimentError, match="no such way"):
        Sentence("guess")
    with pytest.raises(ExperimentError, match="no slot"):
        suggestions(Sentence("oxide"), "salt")


class TestWeighed:
    def test_it_is_the_lab_of_the_sentence(self) -> None:
        lab = stoichkit.weighed(
            {"Fe": ["7.30", "6.18"]}, {"Cu": ["1.40", "2.67"]}, states=["Fe2+", "Fe3+"]
        )
        typed = {name: [text] for name, (text,) in lab.trials[0].readings.items()}
        assert lab == made("displacement").with_readings(typed)
        assert typed["Fe before"] == ["7.30"]

    def test_several_trials_and_a_balance_set_to_zero(self) -> None:
        lab = stoichkit.weighed(
            {"Fe": [["1.12"], ["1.10"]]},
            {"Cu": [["1.27"], ["1.25"]]},
            states=(2, 3),
            balance_g="0.01",
            repeatability_g=0.01,
            title="Two",
        )
        assert lab.title == "Two"
        assert [dict(t.readings) for t in lab.trials][1] == {"Fe": ("1.10",), "Cu": ("1.25",)}
        assert lab.instruments["balance"].repeatability == 0.01
        assert stoichkit.assess(lab).verdict.candidates == ("iron(II)",)

    def test_any_substances_with_candidates(self) -> None:
        lab = stoichkit.weighed(
            {"NaHCO3": ["5.00", "3.32"]},
            {"Na2CO3": ["0.70", "1.76"]},
            candidates=["half = 1/2", "1,5"],
        )
        assert [str(one.ratio) for one in lab.candidates] == ["1/2", "3/2"]
        assert stoichkit.assess(lab).verdict.candidates == ("half",)

    @pytest.mark.parametrize(
        ("changed", "field"),
        [
            ({"consumed": {"Rust": ["7.30", "6.18"]}}, "consumed"),
            ({"consumed": {}}, "consumed"),
            ({"consumed": {"Fe": ["1", "2"], "Zn": ["1", "2"]}}, "consumed"),
            ({"consumed": {"Fe": ["1", "2", "3"]}}, "consumed"),
            ({"consumed": {"Fe": [["1", "2"], ["1"]]}}, "consumed"),
            ({"consumed": {"Fe": [7.3, 6.18]}}, "consumed"),
            ({"consumed": {"Fe": ["7.30", "x"]}}, 'trials[1]."Fe after"'),
            ({"produced": {"Cu": [["1.4", "2.67"]] * 2}}, "produced"),
            ({"produced": {"Fe": ["1.4", "2.67"]}}, "produced"),
            ({"states": ["Zn2+"]}, "states"),
            ({"ion": "Ag+"}, "ion"),
            ({"balance_g": 0}, "balance_g"),
            ({"repeatability_g": "x"}, "repeatability_g"),
            ({"candidates": ["two"]}, "candidates"),
        ],
    )
    def test_what_cannot_be_used_is_named(self, changed: dict[str, object], field: str) -> None:
        right = {"consumed": {"Fe": ["7.30", "6.18"]}, "produced": {"Cu": ["1.40", "2.67"]}}
        with pytest.raises(ExperimentError) as caught:
            stoichkit.weighed(**{**right, **changed})  # type: ignore[arg-type]
        assert caught.value.field == field


def test_ratios_are_suggested_once_both_species_are_known() -> None:
    both = {"a": "Cu", "b": "Ag"}
    found = ratio_suggestions(both, ("a", "b"), "1", "2")
    assert [(one.text, one.label) for one in found] == [
        ("1", "1 Ag per Cu"), ("2", "2 Ag per Cu"),
    ]  # fmt: skip
    for name in both:
        assert ratio_suggestions({name: both[name]}, ("a", "b"), "1") == ()

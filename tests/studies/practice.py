"""Are right answers accepted, wrong ones not, and do wrong ones get the reason they came from?

Readings of practice labs are worked out here once more from their texts, without the answer key.
*Answers*: in every lab each number is typed as careful people do (unrounded, rounded to the figures
that the readings bear, carried on rounded to two figures more, in another unit, as a calculation)
and must be accepted; wrong ones, further off than a unit of the last figure and 6 %, must not be;
of a difference any other digit is wrong. *Reasons*: mistakes are made by hand, one at a
time, and the first reason given is compared with the one made.

    python -m tests.studies.practice --labs 1000         # prints Markdown
    python -m tests.studies.practice --labs 20 --reasons 10
"""

from __future__ import annotations

import argparse
import math
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.chemistry.formula import SYMBOLS
from stoichkit.decision.typed import MistakeKind as Kind
from stoichkit.experiments.practice_labs import KINDS, PracticeLab, practice
from stoichkit.reports.question import Question, check
from stoichkit.reports.study import lesson

from .practice_by_hand import HANDS, Made, figures, powers, typed


@dataclass(frozen=True)
class Hand:
    """The first trial of a lab, worked out by hand."""

    lab: PracticeLab
    read: dict[str, Decimal]
    used: str
    made: str
    heavy: str
    light: str
    heavier: str
    lighter: str
    ratio: float  # of the candidate asked about

    @classmethod
    def of(cls, lab: PracticeLab, questions: dict[str, Question]) -> Hand:
        record = lab.experiment
        read = {n: Decimal(t[-1]) for n, t in record.trials[0].readings.items()}
        a, b = record.consumed, record.produced
        ratio = questions["required ratio"].number.value
        return cls(
            lab, read, a.species, b.species, a.heavier, a.lighter, b.heavier, b.lighter, ratio
        )

    @property
    def a_g(self) -> Decimal:
        return self.read[self.heavy] - self.read[self.light]

    @property
    def b_g(self) -> Decimal:
        return self.read[self.heavier] - self.read[self.lighter]

    @property
    def masses(self) -> tuple[float, float]:
        return molar_mass_value(self.used), molar_mass_value(self.made)

    @property
    def a_mol(self) -> float:
        return float(self.a_g) / self.masses[0]

    @property
    def b_mol(self) -> float:
        return float(self.b_g) / self.masses[1]

    @property
    def r(self) -> float:
        return self.b_mol / self.a_mol

    @property
    def required_g(self) -> float:
        return self.a_mol * self.ratio * self.masses[1]

    @property
    def percent(self) -> float:
        return 100 * self.b_mol / (self.ratio * self.a_mol)


def keys(hand: Hand) -> dict[str, str]:
    """Return the keys of the questions, by what is asked."""
    a, b = hand.used, hand.made
    return {
        "m": f"step m({a}) consumed", "M": f"step M({a}) consumed", "n": f"step n({a}) consumed",
        "m2": f"step m({b}) produced", "M2": f"step M({b}) produced", "n2": f"step n({b}) produced",
        "r": "ratio", "e": "expected", "p": "percent",
    }  # fmt: skip


def right_answers(hand: Hand) -> Iterator[tuple[str, str]]:
    """Yield what careful people type."""
    key = keys(hand)
    few_a, few_b = figures(hand.a_g), figures(hand.b_g)
    few = min(few_a, few_b)
    a, b = hand.a_g, hand.b_g
    m_a, m_b = hand.masses
    for name, value, pair in (
        ("m", a, (hand.heavy, hand.light)),
        ("m2", b, (hand.heavier, hand.lighter)),
    ):
        yield key[name], f"{value} g"
        yield key[name], str(value).replace(".", ",")
        yield key[name], f"{value * 1000:f} mg"
        yield key[name], f"{hand.read[pair[0]]} - {hand.read[pair[1]]}"
        yield key[name], f"{hand.read[pair[0]]}−{hand.read[pair[1]]} g"
    for name, molar in (("M", m_a), ("M2", m_b)):
        yield key[name], f"{molar:.2f} g mol⁻¹"
        yield key[name], f"{molar:.3f}"
    for name, mass, molar, own in (("n", a, m_a, few_a), ("n2", b, m_b, few_b)):
        value = float(mass) / molar
        for count in (own, own + 1, own + 2):
            yield key[name], typed(value, count)
            yield key[name], f"{value:.{count - 1}e} mol"
        for text in powers(value, own):
            yield key[name], text
        yield key[name], f"{typed(1000 * value, own + 1)} mmol"
        yield key[name], f"{mass}/{molar:.3f}"
    kept_a, kept_b = (
        float(typed(value, own + 2)) for value, own in ((hand.a_mol, few_a), (hand.b_mol, few_b))
    )
    for value in (hand.r, kept_b / kept_a):
        for count in (few, few + 1, few + 2):
            yield key["r"], typed(value, count)
    if few > 1:
        yield key["r"], f"{typed(hand.b_mol, few_b + 2)} / {typed(hand.a_mol, few_a + 2)}"
    for value in (hand.required_g, kept_a * hand.ratio * m_b):
        for count in (min(few_a, 4), min(few_a, 4) + 1):
            yield key["e"], f"{typed(value, count)} g"
    for count in (min(few, 3), min(few, 3) + 1, min(few, 3) + 2):
        yield key["p"], f"{typed(hand.percent, count)} %"


def mistakes(hand: Hand) -> Iterator[Made]:
    """Yield question, what is typed, the mistake made, and answers typed before."""
    key = keys(hand)
    a, b, (m_a, m_b) = hand.a_g, hand.b_g, hand.masses
    few_a, few_b = figures(a) + 1, figures(b) + 1
    few = max(min(few_a, few_b), 3)
    step = Decimal(1).scaleb(a.as_tuple().exponent)
    heavy, light = hand.read[hand.heavy], hand.read[hand.light]
    heavier, lighter = hand.read[hand.heavier], hand.read[hand.lighter]

    def one(name: str, value: float, count: int, kind: Kind, **own: float) -> Made:
        return key[name], typed(value, max(count, 3)), kind, own

    # differences, typed with all their decimals
    for name, value, big, small in (("m", a, heavy, light), ("m2", b, heavier, lighter)):
        yield key[name], f"{-value}", Kind.SIGN, {}
        yield key[name], f"{big + small}", Kind.ADDED, {}
        yield key[name], f"{big}", Kind.TARE, {}
        yield key[name], f"{small}", Kind.TARE, {}
        yield key[name], f"{value + step}", Kind.LAST_DIGIT, {}
        yield key[name], f"{value - 2 * step}", Kind.LAST_DIGIT, {}
        yield key[name], f"{value + 10 * step}", Kind.LAST_DIGIT, {}
        yield key[name], f"{1000 * value:f}", Kind.PREFIX, {}
        yield key[name], f"{10 * value}", Kind.DECIMAL, {}
        yield key[name], f"{value / 10}", Kind.DECIMAL, {}
        yield key[name], f"{2 * value}", Kind.TWICE, {}
    yield key["m"], f"{b}", Kind.OTHER_STEP, {}
    others = [n for n in hand.read if n not in (hand.heavy, hand.light)]
    for other in others:
        yield key["m"], f"{hand.read[other] - light}", Kind.OTHER_READING, {}
    # molar masses
    for name, species, molar in (("M", hand.used, m_a), ("M2", hand.made, m_b)):
        if species in SYMBOLS:
            number = SYMBOLS.index(species) + 1
            yield key[name], f"{number}", Kind.ATOMIC_NUMBER, {}
            yield key[name], f"{molar_mass_value(SYMBOLS[number]):.2f}", Kind.NEIGHBOUR, {}
            yield key[name], f"{2 * molar:.2f}", Kind.TWO_ATOMS, {}
        other = m_b if name == "M" else m_a
        yield key[name], f"{other:.2f}", Kind.OTHER_SUBSTANCE, {}
    if hand.made == "H2O":
        yield key["M2"], f"{1.008 + 15.999:.2f}", Kind.SUBSCRIPTS, {}
    # amounts
    yield one("n", float(a) * m_a, few_a, Kind.MULTIPLIED)
    yield one("n", m_a / float(a), few_a, Kind.INVERTED)
    yield one("n", float(a) / m_b, few_a, Kind.OTHER_SUBSTANCE)
    yield one("n", 2 * hand.a_mol, few_a, Kind.TWICE)
    yield one("n", hand.a_mol / 2, few_a, Kind.TWICE)
    yield key["n"], f"{a}", Kind.OTHER_STEP, {}
    yield one("n", 1000 * hand.a_mol, few_a, Kind.PREFIX)
    yield one("n", 10 * hand.a_mol, few_a, Kind.DECIMAL)
    yield one("n", float(heavy) / m_a, few_a, Kind.TARE)
    yield one("n", float(heavy + light) / m_a, few_a, Kind.ADDED)
    if hand.used in SYMBOLS:
        number = SYMBOLS.index(hand.used) + 1
        yield one("n", float(a) / number, few_a, Kind.ATOMIC_NUMBER)
        yield one("n", float(a) / molar_mass_value(SYMBOLS[number]), few_a, Kind.NEIGHBOUR)
    yield one("n2", hand.b_mol / 10, few_b, Kind.DECIMAL)
    yield one("n2", float(heavier) / m_b, few_b, Kind.TARE)
    if hand.made == "O":
        yield one("n2", float(b) / 31.998, few_b, Kind.TWO_ATOMS)
    # the ratio
    yield one("r", 1 / hand.r, few, Kind.INVERTED)
    yield one("r", float(b) / float(a), few, Kind.MASSES)
    yield one("r", float(heavier) / m_b / hand.a_mol, few, Kind.TARE)
    yield one("r", hand.b_mol / (float(heavy) / m_a), few, Kind.TARE)
    yield one("r", 2 * hand.r, few, Kind.TWICE)
    yield one("r", hand.r / 2, few, Kind.TWICE)
    yield one("r", 10 * hand.r, few, Kind.DECIMAL)
    yield one("r", hand.a_mol * hand.b_mol, few, Kind.MULTIPLIED)
    yield one("r", hand.b_mol / (float(heavy + light) / m_a), few, Kind.ADDED)
    if hand.used in SYMBOLS:
        number = SYMBOLS.index(hand.used) + 1
        yield one("r", hand.b_mol * number / float(a), few, Kind.ATOMIC_NUMBER)
    early = float(typed(hand.b_mol, 1)) / float(typed(hand.a_mol, 1))
    yield one("r", early, few, Kind.EARLY)
    for candidate in hand.lab.experiment.candidates:
        ratio = float(candidate.ratio)
        yield key["r"], typed(ratio, 3), Kind.CANDIDATE, {}
    if len(hand.lab.experiment.trials) > 1:
        text = hand.lab.experiment.trials[1].readings[hand.heavier][-1]
        other_g = float(Decimal(text) - lighter)
        if other_g > 0:
            yield one("r", other_g / m_b / hand.a_mol, few, Kind.OTHER_TRIAL)
    wrong = 1.37 * hand.a_mol
    own = {f"n({hand.used})": wrong}
    yield key["r"], typed(hand.b_mol / wrong, few), Kind.CARRIED, own
    # what is required, and the part found
    if abs(hand.ratio - 1) > 0.1:
        yield one("e", hand.required_g / hand.ratio, few_a, Kind.COEFFICIENT)
        yield one("e", hand.required_g / hand.ratio**2, few_a, Kind.INVERTED)
    yield one("e", hand.required_g / m_b, few_a, Kind.LEFT_OUT)
    yield one("e", 1000 * hand.required_g, few_a, Kind.PREFIX)
    yield one("p", hand.percent / 100, few, Kind.FRACTION)
    yield one("p", 1e4 / hand.percent, few, Kind.INVERTED)
    yield one("p", 100 - hand.percent, few, Kind.MISSING)


def worked(
    lab: PracticeLab, questions: dict[str, Question]
) -> tuple[Iterator[tuple[str, str]], Iterator[Made]]:
    """Return right answers and mistakes of a lab, worked out by hand."""
    if lab.scene in HANDS:
        found = HANDS[lab.scene](lab, questions)
        return found.right(), found.mistakes()
    hand = Hand.of(lab, questions)
    return right_answers(hand), mistakes(hand)


def off(question: Question, text: str) -> float:
    """Return how far a typed answer is from the right one, relative."""
    value = float(text.replace(",", ".").replace("−", "-"))
    return abs(value / question.number.value - 1)


@dataclass
class Answers:
    """What was counted of the answers."""

    labs: int = 0
    right: int = 0
    wrong: int = 0
    refused: tuple[str, ...] = ()
    accepted: tuple[str, ...] = ()


def answers(labs: int, kind: str = "weighed") -> Answers:
    """Type right and wrong answers in so many labs of a kind."""
    found = Answers()
    for number in range(labs):
        lab = practice(number, level=number % 5 + 1, kind=kind)
        questions = {one.key: one for one in lesson(lab.experiment)}
        right, wrong = worked(lab, questions)
        found.labs += 1
        for key, text in right:
            found.right += 1
            if not check(questions[key], text).accepted:
                found.refused += (f"{lab.id} {key}: {text}",)
        for one in questions.values():
            if one.choices:
                found.right += 1
                if not check(one, "; ".join(one.right) or "none").accepted:
                    found.refused += (f"{lab.id} {one.key}",)
                for choice in one.choices:
                    if not one.several and choice not in one.right:
                        found.wrong += 1
                        if check(one, choice).accepted:
                            found.accepted += (f"{lab.id} {one.key}: {choice}",)
        for key, text, _, _ in wrong:
            question, asked = questions[key], questions[key].number
            unit = 10.0 ** (math.floor(math.log10(abs(asked.value))) + 1 - max(asked.figures, 1))
            away = abs(float(text) - asked.value)
            if asked.exact:
                clear = away > 1e-9
            else:
                clear = away > 0.06 * abs(asked.value) and (
                    away > unit or (asked.figures == 1 and _unlike(question, text))
                )
            if not clear or (question.unit == "g/mol" and away <= 0.1):
                continue
            found.wrong += 1
            if check(question, text).accepted:
                found.accepted += (f"{lab.id} {key}: {text} (right: {question.answer})",)
    return found


def _unlike(question: Question, text: str) -> bool:
    """Whether it is also not the right answer to one figure."""
    return float(f"{float(text):.0e}") != float(f"{question.number.value:.0e}")


@dataclass
class Reasons:
    """What was counted of the reasons."""

    made: Counter[Kind]
    first: Counter[Kind]
    told: Counter[Kind]
    missed: tuple[str, ...] = ()


def reasons(labs: int, start: int = 5000, kind: str = "weighed") -> Reasons:
    """Make mistakes in so many labs, and see which reason is given."""
    found = Reasons(Counter(), Counter(), Counter())
    for number in range(start, start + labs):
        lab = practice(number, level=number % 5 + 1, kind=kind)
        questions = {one.key: one for one in lesson(lab.experiment)}
        for key, text, made, own in worked(lab, questions)[1]:
            question = questions[key]
            reply = check(question, text, own)
            if reply.accepted:
                continue
            found.made[made] += 1
            found.first[made] += reply.mistakes[:1] == (made,)
            found.told[made] += made in reply.mistakes
            if reply.mistakes[:1] != (made,):
                found.missed += (f"{lab.id} {key}: {text} made {made.name}: {reply.words}",)
    return found


def main() -> None:
    """Print the tables as Markdown."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--labs", type=int, default=1000)
    parser.add_argument("--reasons", type=int, default=10)
    parser.add_argument("--kind", choices=KINDS, default="weighed")
    parser.add_argument("--list", action="store_true", help="list what went wrong")
    chosen = parser.parse_args()
    print(f"    python -m tests.studies.practice {' '.join(sys.argv[1:])}\n")
    if chosen.reasons:
        told = reasons(chosen.reasons, kind=chosen.kind)
        total = sum(told.made.values())
        print("| mistake | made | first reason | told |\n| --- | --- | --- | --- |")
        for kind, count in sorted(told.made.items(), key=lambda pair: pair[0].name):
            print(f"| {kind.value} | {count} | {told.first[kind]} | {told.told[kind]} |")
        first, named = sum(told.first.values()), sum(told.told.values())
        print(
            f"| all, {len(told.made)} kinds | {total} | {first} ({first / total:.1%}) "
            f"| {named} ({named / total:.1%}) |\n"
        )
        if chosen.list:
            print("\n".join(f"- {line}" for line in told.missed))
    if chosen.labs:
        found = answers(chosen.labs, chosen.kind)
        print(
            f"{found.labs} labs: {found.right} right answers typed, {len(found.refused)} refused; "
            f"{found.wrong} wrong ones, {len(found.accepted)} accepted."
        )
        print("\n".join(f"- {line}" for line in (*found.refused, *found.accepted)[:60]))


if __name__ == "__main__":
    main()

"""Cards and labels: heights, type and fields worked out by hand from the style sheet's lengths.

One point is 25.4/72 mm, so that an em of 10 points is 3.5278 mm. Letters are taken for 0.565 em,
capitals for 0.73, narrow ones for 0.33, wide ones for 0.92 and full-width ones for one em; a space
between words for 0.3 em. ``tests/browser/test_paper.py`` compares the estimates with Chromium.
"""

from __future__ import annotations

import pytest

from stoichkit.errors import ModelError
from stoichkit.text.cards import (
    BOX,
    Cards,
    Labels,
    _cell,
    _field_of,
    _fill_gaps,
    _height_mm,
    _lines,
    boxes_mm,
    columns_for,
    packed,
    type_size,
)
from stoichkit.text.parts import Bullets, Field, Part, Picture, Section, Strong, Subheading, Table

EM_10 = 3.527778
TEN_EMS = 10 * EM_10 + 1e-6
FOUR = "nnnn"  # 4 × 0.565 em = 2.26 em


def said(words: int, ending: str = "") -> str:
    """Return so many words of four letters: 2.56 em each, less the last space."""
    return " ".join([FOUR] * words) + ending


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        (said(4), 1),  # 9.94 em
        (said(5), 2), (said(8), 2), (said(9), 3), (said(12), 3), (said(13), 4),
        ("n" * 17, 1), ("n" * 18, 2),  # 9.605 and 10.17 em
        ("i" * 30, 1), ("i" * 31, 2), ("N" * 13, 1), ("N" * 14, 2),
        ("m" * 10, 1), ("m" * 11, 2), ("漢" * 10, 1), ("漢" * 11, 2),
        ("n" * 30, 2), ("n" * 31, 2), ("n" * 32, 3),  # 16.95 to 18.08 em on lines of nine
        (FOUR + " " + "n" * 30, 3), ("n" * 30 + " n", 3),
    ],
)  # fmt: skip
def test_lines_of_ten_ems(text: str, lines: int) -> None:
    assert _lines(text, TEN_EMS, 10.0) == lines


@pytest.mark.parametrize(
    ("ems", "text", "lines"),
    [
        (2.5, "n" * 6, 3), (2.5, "n" * 5, 2),  # 3.39 and 2.825 em
        (1.99, "n" * 7, 4), (1.5, "m" * 4, 4), (1.5, "nn", 1), (1.5, "nnn", 2),
        (0.5, "nnn", 2), (0.5, "nn", 2), (0.5, "n", 1), (0.5, "m", 1),
    ],
)  # fmt: skip
def test_lines_of_hardly_any_width(ems: float, text: str, lines: int) -> None:
    """A broken line holds one em less than its room, the last letter not fitting, or one em.

    On 1.5 em two of 0.92 em do not stand side by side, so that four are four lines. No line is
    taken for narrower than one em: 1.13 em are two.
    """
    assert _lines(text, ems * EM_10, 10.0) == lines


THIRD, WHOLE = (184 - 2 * 5) / 3, 184.0
ROW, TWO_LINES = 7.4 + 0.2, 2 * 1.25 * EM_10 + 1.2 + 0.2
FIELD, FIELD_OF_TWO = 9.0 + 1.0, 2 * 1.25 * 0.9 * EM_10 + 4.0 + 1.0

WIDE = Field(said(6, " nnn"), "n")  # 18.25 em with its colon
WIDER = Field(said(6, " nnni"), "n")


def table(name: str, cell: str) -> Table:
    return Table(("Reading", "a", "b", "c"), ((name, cell, BOX, BOX),))


@pytest.mark.parametrize(
    ("part", "height_mm"),
    [
        ((said(1),), 1.55 * EM_10), ((Strong(said(1)),), 1.55 * EM_10),
        ((said(1), said(1)), 2 * 1.55 * EM_10),
        ((said(20),), 1.55 * EM_10), ((said(21),), 2.8 * EM_10),  # of 52.16 em
        # bold: 93 % of the width, 48.5 em; a subheading: 90 % in letters of 1.05 em, 44.7 em
        ((Strong(said(19, "n")),), 2.8 * EM_10), ((Strong(said(18, "nnn")),), 1.55 * EM_10),
        ((Subheading(said(1)),), 2.12 * EM_10), ((Subheading(said(17, "nn")),), 2.12 * EM_10),
        ((Subheading(said(18)),), 3.39 * EM_10),
        ((Bullets((said(1),) * 3),), (3 * 1.25 + 3 * 0.1 + 0.3) * EM_10),
        ((Bullets((said(20),)),), (2 * 1.25 + 0.1 + 0.3) * EM_10),  # 50.9 em of 179.5 mm: two
        ((Bullets((said(19, "nnnn"),)),), (1.25 + 0.1 + 0.3) * EM_10),  # 50.6 em
        # lines to be filled in stand three abreast with 5 mm between: 58 mm, 18.27 em of 9 points
        ((WIDE,) * 3, FIELD), ((WIDER,) * 3, FIELD_OF_TWO),
        ((WIDE, WIDER, WIDE), FIELD_OF_TWO), ((WIDER,), FIELD), ((Field(said(1)),) * 4, 2 * FIELD),
        # 52 mm for the names, a third of the rest for each other, less 2.4 mm of border and room
        ((table(said(5, " nn"), said(4, " nni")),), 2 * ROW + 3.0),
        ((table(said(5, " nnn"), FOUR),), ROW + TWO_LINES + 3.0),
        ((table(FOUR, said(4, " nnn")),), ROW + TWO_LINES + 3.0),
        ((table(FOUR, BOX * 40),), 2 * ROW + 3.0),
    ],
)  # fmt: skip
def test_heights_in_type_of_ten_points(part: tuple[Part, ...], height_mm: float) -> None:
    assert _height_mm(part, WHOLE, 10.0) == pytest.approx(height_mm, abs=0.001)


@pytest.mark.parametrize(
    ("paragraphs", "points"),
    [(42, 10.5), (43, 10.0), (44, 10.0), (46, 9.5), (49, 9.0), (52, 8.5), (55, 8.0), (56, None)],
)
def test_the_largest_type_in_which_a_card_fits(paragraphs: int, points: float | None) -> None:
    """A title takes 2.03 em (1.2 lines of 1.35 em, and 0.41), a paragraph 1.55, the page 250 mm."""
    assert type_size(Section("Group 1", (FOUR,) * paragraphs)) == points


def test_a_card_leaves_four_millimetres_free() -> None:
    """(2.03 + 41 × 1.55 + 1.65) em of 3.7042 mm are 249.03 mm, less than 250."""
    assert type_size(Section("Group 1", ((FOUR,) * 41) + (Bullets((FOUR,)),))) == 10.5


@pytest.mark.parametrize(
    ("paragraphs", "lists", "points"),
    [
        (39, (1, 1, 1), 10.5),  # 39 × 1.55 + 3 × 1.65 and 2.03 em are 249.8 mm
        (38, (1, 1, 1, 1), 10.0),  # 58.90 + 4 × 1.65 + 2.03 em: 250.1 mm
        (41, (2,), 10.0),  # 63.55 + 3.00 + 2.03 em: 254.0 mm, and 241.9 mm in 10 points
        (42, (1,), 10.0),  # 65.10 + 1.65 + 2.03 em: 254.8 mm
    ],
)
def test_how_much_of_the_page_a_title_takes(
    paragraphs: int, lists: tuple[int, ...], points: float
) -> None:
    """In 10.5 points an em is 3.7042 mm; 250 mm are free."""
    parts = tuple(Bullets((FOUR,) * items) for items in lists)
    assert type_size(Section("Group 1", (FOUR,) * paragraphs + parts)) == points


@pytest.mark.parametrize(("words", "points"), [(13, 10.5), (14, 10.0)])
def test_a_long_title_takes_a_second_line(words: int, points: float) -> None:
    """Of 165.6 mm in letters of 14.175 points, 33.1 em; 13 words are 32.98 em, 14 are 35.54."""
    assert type_size(Section(said(words), (FOUR,) * 42)) == points


@pytest.mark.parametrize(("rows", "points"), [(30, 10.5), (31, None)])
def test_rows_to_write_in_keep_their_height(rows: int, points: float | None) -> None:
    """A header and 30 rows of 7.6 mm with 3 mm around them are 238.6 mm; a title has 11.4 mm."""
    assert type_size(Section("G", (Table(("a", "b"), ((BOX, BOX),) * rows),))) == points


@pytest.mark.parametrize(
    ("paragraphs", "field", "points"),
    [
        # three by eight: 25.5 mm high inside, (1.68 + 1.55 n) em of text
        (3, (3, 8), 11.0), (4, (3, 8), 9.0), (5, (3, 8), 7.5),
        (6, (2, 4), 11.0), (12, (2, 4), 8.0), (13, (2, 4), 7.0),  # 57.5 mm; 12 are 57.2 mm
        (14, (1, 2), 11.0), (20, (1, 2), 10.0), (24, (1, 2), 8.5), (26, (1, 2), 8.0),  # 121.5 mm
        (27, (1, 2), 7.5), (30, (1, 2), 7.0),
        (31, (1, 1), 11.0), (40, (1, 1), 11.0), (64, (1, 1), 7.0),  # 249.5 mm
    ],
)  # fmt: skip
def test_the_smallest_field_that_holds_a_label(
    paragraphs: int, field: tuple[int, int], points: float
) -> None:
    assert _field_of(Section("A", (FOUR,) * paragraphs)) == (field, points)
    columns, rows = field
    page = Labels("Labels", (), (Section("A", (FOUR,) * paragraphs),)).html()
    assert f"repeat({columns},minmax(0,1fr));grid-template-rows:repeat({rows}," in page
    assert f'<section class="label" style="font-size:{points:g}pt">' in page


def test_a_long_line_takes_a_wide_field() -> None:
    """40.66 em are one line of 179.5 mm in 11 points (46.3 em), two of 86.5 mm even in 7."""
    assert _field_of(Section("A", (said(16),) * 8)) == ((1, 4), 11.0)


@pytest.mark.parametrize(
    ("letters", "points"),
    [(19, 11.0), (20, 10.0), (21, 10.0), (22, 9.0), (29, 7.5), (30, 7.0), (32, 7.0)],
)
def test_a_name_is_not_broken_while_smaller_type_holds_it(letters: int, points: float) -> None:
    """Letters of a bold name, 1.2 em, are taken for 0.6 of that; a label is 55.5 mm wide inside.

    In the smallest type, 31 letters wide, a longer name is broken: the label stays small.
    """
    assert _field_of(Section("n" * letters, ("wire",))) == ((3, 8), points)
    assert _field_of(Section("n " + "n" * letters, ("wire",))) == ((3, 8), points)


@pytest.mark.parametrize(
    ("words", "paragraphs", "points"),
    [(4, 3, 11.0), (5, 3, 9.0), (5, 4, 9.0), (6, 4, 8.0), (7, 4, 7.5)],
)
def test_a_name_of_several_words_takes_a_second_line(
    words: int, paragraphs: int, points: float
) -> None:
    """Of 51.06 mm, 92 % of a label, in letters of 1.2 em: 9.94, 12.50, 15.06 and 17.62 em wide.

    One line holds 10.96 em in 11 points, 13.40 in 9, 14.19 in 8.5, 15.08 in 8 and 16.08 in 7.5.
    With a second, 25.5 mm hold three paragraphs (3.12 + 4.65 em) in 9.3 points and four in 7.75;
    with one, four (1.68 + 6.20 em) in 9.17.
    """
    assert _field_of(Section(said(words), (FOUR,) * paragraphs)) == ((3, 8), points)


def test_what_no_sheet_holds_is_refused() -> None:
    with pytest.raises(ModelError, match="larger than a sheet"):
        _field_of(Section("A", (FOUR,) * 65))
    with pytest.raises(ModelError, match=r"does not fit on one page[\s\S]*in type of 8 points"):
        Cards("C", (), (Section("A", (FOUR,) * 56),)).html()


def test_a_card_holds_no_picture() -> None:
    with pytest.raises(ModelError, match="Given: Picture"):
        _height_mm((Picture('<svg aria-label="x"></svg>', "what is seen"),), WHOLE, 10.0)


def test_headings_of_a_page() -> None:
    page = Cards("Cards", ("Before.",), (Section("Group 1", ("Read.",)),)).html()
    body = page.partition("<body")[2]
    assert "<h1>Cards</h1>" in body
    assert "<h2>Group 1</h2>" in body
    assert body.index("Before.") < body.index("Group 1") < body.index("Read.")
    page = Labels("Labels", (), (Section("Group 1", (Strong("Take care."),)),)).html()
    body = page.partition("<body")[2]
    assert body.index("<h1>Labels</h1>") < body.index("<h2>Group 1</h2>")
    assert '<p class="first">Take care.</p>' in body
    assert ".label p.first {" in page, "which is set bold"


@pytest.mark.parametrize("item", ["x" * 40_000, "word " * 6_000, "x" * 9_000 + " y"])
def test_what_is_too_long_for_a_card_goes_on_on_the_next(item: str) -> None:
    """A card holds some 5,500 letters; a word longer than that is cut, and nothing is lost."""
    found = packed("Steps", [item])
    pieces = [piece for card in found for part in card.parts for piece in part.items]  # type: ignore[union-attr]
    assert len(found) > 1
    assert all(type_size(card) is not None for card in found)
    assert "".join(pieces).replace("…", "").replace(" ", "") == item.replace(" ", "")


@pytest.mark.parametrize(
    ("small", "large", "moved"),
    [
        (2, 6, 2), (2, 7, 0), (1, 7, 1), (26, 6, 2), (24, 6, 0), (3, 0, 0), (3, 8, 0), (3, 13, 3),
        (3, 14, 0),
    ],
)  # fmt: skip
def test_a_last_sheet_fills_the_gaps_of_larger_fields_if_all_of_it_fits(
    small: int, large: int, moved: int
) -> None:
    """24 small fields to a sheet, 8 larger ones: 13 of these leave three free on their second."""
    fields: dict[tuple[int, int], list[str]] = {
        (3, 8): [f"s{i}" for i in range(small)], (2, 4): [f"l{i}" for i in range(large)],
        (1, 4): [], (1, 2): [], (1, 1): [],
    }  # fmt: skip
    _fill_gaps(fields)
    assert fields[3, 8] == [f"s{i}" for i in range(small - moved)]
    assert fields[2, 4] == [
        *(f"l{i}" for i in range(large)), *(f"s{i}" for i in range(small - moved, small)),
    ]  # fmt: skip


def test_boxes_side_by_side() -> None:
    """4.2 mm each, 1.6 mm for a mark; columns of 132 mm with 2.6 mm between."""
    assert boxes_mm(f"±{BOX * 3}.{BOX * 2}") == pytest.approx(5 * 4.2 + 2 * 1.6)
    assert columns_for(BOX * 2) == 12  # 132 / 11.0
    assert columns_for(f"{BOX * 3}.{BOX * 2}") == 5  # 132 / 25.2 = 5.24
    assert columns_for(BOX * 40) == 1


def test_digits_to_write_are_boxes_with_words_for_who_cannot_see_them() -> None:
    assert _cell("a < b") == "a < b"
    made = _cell(f"±{BOX}.{BOX}")
    assert not isinstance(made, str)
    assert made.html == (
        '<span class="digits" role="img" aria-label="2 digits to write">'
        "<b>±</b><i></i><b>.</b><i></i></span>"
    )


def test_sentences_stand_on_as_few_cards_as_hold_them() -> None:
    """Two that fit on one card together stay there; a card is numbered where there are several."""
    (one,) = packed("Steps", ["a", "b"])
    assert (one.title, one.parts) == ("Steps", (Bullets(("a", "b")),))
    first, second, third = (said(900, ending) for ending in "abc")
    assert packed("Steps", [first, "b", second, third]) == (
        Section("Steps, 1 of 3", (Bullets((first, "b")),)),
        Section("Steps, 2 of 3", (Bullets((second,)),)),
        Section("Steps, 3 of 3", (Bullets((third,)),)),
    )
    assert packed("Steps", []) == ()


@pytest.mark.parametrize(
    ("item", "first", "rest"),
    [
        (said(2000), said(1000), said(1000)),
        (said(2001), said(1001), said(1000)),  # 10,004 letters, whose middle is in a word
        ("x" * 7300 + " " + "x" * 2699, "x" * 7300, "x" * 2699),
        ("x" * 7600 + " " + "x" * 2399, "x" * 5000, "x" * 2600 + " " + "x" * 2399),
    ],
)
def test_what_is_too_long_is_halved_between_two_words(item: str, first: str, rest: str) -> None:
    """At the first space of the quarter after the middle; where there is none, in the middle.

    In 8 points a card holds 68 lines of 63.6 em, 1,632 words: 2.03 em of title and 68 × 1.25 + 0.4
    of 88.6 em. 7,300 letters of a word are 4,124.5 em on lines of 62.6: 66 lines.
    """
    assert packed("Steps", [item, "b"]) == (
        Section("Steps, 1 of 2", (Bullets((f"{first} …",)),)),
        Section("Steps, 2 of 2", (Bullets((f"… {rest}", "b")),)),
    )

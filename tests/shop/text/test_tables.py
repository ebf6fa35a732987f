"""Tables are read as people save them: any delimiter, any letters that can be told, nothing worked out."""

from __future__ import annotations

import pytest

from shop.text.tables import NotATable, as_text, delimiter_of, read_table

WORDS = "Name;Größe\nSéamus Ó Sé;5′6″\n"


def cells(text: str) -> list[tuple[str, ...]]:
    table = read_table(text)
    assert table.problem == ""
    return [row.cells for row in table.rows]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
def test_letters_are_told_from_the_bytes(encoding):
    assert as_text(WORDS.encode(encoding)).lstrip("\ufeff") == WORDS


def test_western_windows_letters_are_what_is_left():
    plain = "Name;Größe\nSéamus – “Sé”;€5\n"
    assert as_text(plain.encode("cp1252")) == plain


@pytest.mark.parametrize("data", [b"PK\x03\x04rest", b"\xd0\xcf\x11\xe0rest", b"\0\0\0\0", b"a\0\0\0b\0c\0\0"])
def test_what_is_no_text_is_told(data):
    with pytest.raises(NotATable, match="CSV"):
        as_text(data)


@pytest.mark.parametrize("sign", [*";,\t|", *":^~#"])
def test_any_delimiter_cuts_the_table(sign):
    text = "\n".join(sign.join(row) for row in (["name", "phone", "note"], ["Niamh", "087 123", "x"], ["Tom", "", "y"]))
    assert delimiter_of(text) == sign
    assert cells(text)[1] == ("Niamh", "087 123", "x")


def test_commas_in_words_do_not_win_over_the_delimiter():
    assert delimiter_of("name;where\nDaly, Niamh;3, Sea Road, Here\nO'Hara, Tom;4\n") == ";"
    assert delimiter_of("name\nNiamh\nTom\n") == ","


# RFC 4180, Common Format and MIME Type for Comma-Separated Values (CSV) Files, section 2, items 1 to 7
RFC_4180 = [
    ("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", [("aaa", "bbb", "ccc"), ("zzz", "yyy", "xxx")]),
    ("aaa,bbb,ccc\r\nzzz,yyy,xxx", [("aaa", "bbb", "ccc"), ("zzz", "yyy", "xxx")]),
    ('"aaa","bbb","ccc"\r\nzzz,yyy,xxx', [("aaa", "bbb", "ccc"), ("zzz", "yyy", "xxx")]),
    ('"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx', [("aaa", "b\r\nbb", "ccc"), ("zzz", "yyy", "xxx")]),
    ('"aaa","b""bb","ccc"', [("aaa", 'b"bb', "ccc")]),
]


@pytest.mark.parametrize(("text", "found"), RFC_4180)
def test_as_the_common_format_says(text, found):
    assert cells(text) == found


def test_lines_are_counted_in_the_file_also_over_breaks_in_cells():
    table = read_table('sep=;\r\nname;note\r\n\r\nNiamh;"two\r\nlines"\r\nTom;x\r\n')
    assert [(row.line, row.cells[0]) for row in table.rows] == [(2, "name"), (4, "Niamh"), (6, "Tom")]
    assert table.empty == 1


def test_an_open_quote_is_told_and_what_stands_before_it_read():
    table = read_table('name,note\nNiamh,x\n"Tom,y\nZoe,z\n')
    assert [row.cells[0] for row in table.rows] == ["name", "Niamh"]
    assert table.problem.startswith("From line 3 on")


def test_a_formula_is_words():
    assert cells("name,sum\n=1+1,@x\n")[1] == ("=1+1", "@x")

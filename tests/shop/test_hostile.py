"""Files made to harm, by accident or on purpose: refused in words, at little cost."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchmate.errors import Refusal
from benchmate.shop import Shop
from benchmate.shop.nodes import MappingNode, ScalarNode, SequenceNode, UnreadableError, read_nodes

WriteShop = Callable[..., Path]

BOMB = "a: &a [x, x]\n" + "".join(
    f"{after}: &{after} [*{before}, *{before}, *{before}]\n"
    for before, after in zip("abcdefgh", "bcdefghi", strict=True)
)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (BOMB, r":1: an anchor \(&\) is used; write the value itself"),
        ("tube: *mild\n", r":1: an alias \(\*\) is used; write the value itself"),
        ("tube: !!python/object:os.system {}\n", r":1: a tag \(!\) is used; write the plain"),
        ("tube: ! x\n", r":1: a tag \(!\) is used; write the plain value"),
        ("tube: " + "[" * 900 + "]" * 900, r":1: nested more than 20 deep; write it flatter"),
        ("tube: [" + "x, " * 1100 + "]", r":1: more than 1000 values; split the file"),
        ("a: 1\n" * 120_000, r": larger than 64 kB; a shop file is far smaller"),
        ("x" * (64 * 1024 + 1), r": larger than 64 kB"),
        ("tube: mild\n---\ntube: mild\n", r":2: a second document starts; one file holds one"),
        ("tube: mild\ntube: mild\n", r":2: tube: written before in line 1; keep one"),
        ("[tube]: mild\n", r":1: a key is a list or a table; keys are plain words"),
        ("tube: [mild\n", r":1: the \[ that opens here"),
        ("tube: 'mild\n", r":2: not YAML: "),
        ("\ttube: mild\n", r":1: a tab stands before the text"),
        ("a: b: c\n", r":1: a second : stands in the line"),
        ("", r":1: the file is empty"),
        ("# only a comment\n", r":1: the file is empty"),
        ("- tube\n", r":1: a list is written; write keys, as in tube: \.\.\."),
        ("mild\n", r":1: one value is written; write keys"),
        ("<<: {tube: mild}\n", r":1: <<: no such key"),
        ("tube: mild\n\x1b[2J: 1\n", r":2: holds the control character \\x1b; remove it"),
        ("tube: mi\u202eld\n", r":1: holds the control character \\u202e; remove it"),
        ("tube: mild\u2028od: 25\n", r":1: holds the control character \\u2028; remove it"),
        ("tube: mild\0\n", r":1: holds the control character \\x00; remove it"),
        ('"\\e[2J": 1\n', r":1: \\x1b\[2J: no such key"),
        (b"tube: mild\ngrade: \xff\n", r":2: not UTF-8 text; save the file as UTF-8"),
        ("tube: mild\n".encode("utf-16"), r":1: not UTF-8 text"),
    ],
    ids=lambda value: ascii(value[:24]) if isinstance(value, str) else None,
)
def test_a_hostile_file_is_refused_in_words(
    shop_with: WriteShop, text: str | bytes, said: str
) -> None:
    path = shop_with({"tubes/mild.yaml": text})
    with pytest.raises(Refusal, match=f"mild.yaml{said}") as refused:
        Shop.open(path)
    assert all(line.isprintable() for line in str(refused.value).splitlines())
    assert len(str(refused.value)) < 2000


def test_a_link_that_leaves_the_shop_is_not_followed(
    shop_with: WriteShop, tmp_path: Path, good: dict[str, str]
) -> None:
    path = shop_with()
    outside = tmp_path / "outside.yaml"
    outside.write_text(good["tubes/mild.yaml"])
    (path / "tubes" / "mild.yaml").unlink()
    (path / "tubes" / "mild.yaml").symlink_to(outside)
    with pytest.raises(Refusal, match=r"mild\.yaml: a link that leads out of the shop folder"):
        Shop.open(path)


def test_a_link_that_stays_in_the_shop_is_followed(
    shop_with: WriteShop, good: dict[str, str]
) -> None:
    path = shop_with()
    (path / "mild.yaml").write_text(good["tubes/mild.yaml"])
    (path / "tubes" / "mild.yaml").unlink()
    (path / "tubes" / "mild.yaml").symlink_to("../mild.yaml")
    assert Shop.open(path).tube("mild").od_mm == 25.0


def test_the_shop_folder_itself_may_be_a_link(shop_with: WriteShop, tmp_path: Path) -> None:
    (tmp_path / "link").symlink_to(shop_with())
    assert Shop.open(tmp_path / "link").job("knee")


@pytest.mark.parametrize("kind", ["loop", "folder", "pipe"])
def test_what_is_no_ordinary_file_is_refused_without_waiting(
    shop_with: WriteShop, kind: str
) -> None:
    path = shop_with({"tubes/mild.yaml": None})
    odd = path / "tubes" / "mild.yaml"
    odd.parent.mkdir()
    if kind == "loop":
        odd.symlink_to(odd)
    elif kind == "folder":
        odd.mkdir()
    else:
        os.mkfifo(odd)
    with pytest.raises(Refusal, match=r"mild\.yaml: (that is no ordinary|there is no such) file"):
        Shop.open(path)


def test_a_folder_that_is_a_file_is_told(shop_with: WriteShop) -> None:
    path = shop_with({"dies/round.yaml": None, "dies": "x"})
    with pytest.raises(Refusal, match=r"dies: it can't be read \(Not a directory\)"):
        Shop.open(path)


def test_every_value_is_the_text_that_was_written(tmp_path: Path) -> None:
    file = tmp_path / "x.yaml"
    file.write_bytes(b"\xef\xbb\xbfa: no\r\nb: [010, 1:30, ~]\r\nc: '1'\r\n")
    assert read_nodes(file) == MappingNode(
        1,
        (
            (ScalarNode(1, "a"), ScalarNode(1, "no")),
            (
                ScalarNode(2, "b"),
                SequenceNode(2, (ScalarNode(2, "010"), ScalarNode(2, "1:30"), ScalarNode(2, "~"))),
            ),
            (ScalarNode(3, "c"), ScalarNode(3, "1")),
        ),
    )


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    st.one_of(
        st.binary(max_size=200),
        st.text(max_size=200).map(lambda text: text.encode("utf-8", "surrogatepass")),
    )
)
def test_any_bytes_are_read_or_refused_and_nothing_else(tmp_path: Path, found: bytes) -> None:
    file = tmp_path / "any.yaml"
    file.write_bytes(found)
    said = ""
    try:
        read_nodes(file)
    except UnreadableError as error:
        said = error.says
    assert said.isprintable()


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=150
)
@given(
    st.sampled_from(("bench.yaml", "dies/round.yaml", "tubes/mild.yaml", "jobs/knee.yaml")),
    st.tuples(st.integers(0, 200), st.integers(0, 12)),
    st.text(alphabet=" :-[]{}&*!|>'\"%#,.0159aemx\n\t\u202e", max_size=8),
)
def test_a_good_file_spoilt_anywhere_opens_or_is_refused(
    shop_with: WriteShop, good: dict[str, str], file: str, where: tuple[int, int], put: str
) -> None:
    text = good[file]
    start, cut = where
    path = shop_with({file: text[:start] + put + text[start + cut :]})
    said = ""
    try:
        Shop.open(path)
    except Refusal as refusal:
        said = str(refusal)
    assert said.replace("\n", "").isprintable()

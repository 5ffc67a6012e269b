"""Where shop and store are: asked for, named by the environment, by the settings, or usual."""

from pathlib import Path

import pytest

from benchmate import places
from benchmate.errors import Refusal


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name in ("BENCHMATE_SHOP", "BENCHMATE_STORE", "XDG_CONFIG_HOME", "XDG_DATA_HOME"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    (tmp_path / "my shop").mkdir()
    return tmp_path


def settings(home: Path, text: str) -> None:
    path = home / ".config" / "benchmate" / "settings"
    path.parent.mkdir(parents=True)
    path.write_text(text)


def test_without_settings_it_is_the_starter_shop_and_the_user_s_data_folder(home: Path) -> None:
    assert places.shop_folder(None) == places.starter_shop()
    assert places.store_file(None) == home / ".local" / "share" / "benchmate" / "bends.db"


def test_the_settings_name_shop_and_store_for_every_way_of_starting(home: Path) -> None:
    settings(home, "# at the window\nBENCHMATE_SHOP=~/my shop\n\nBENCHMATE_STORE='/m/b'\n")
    assert places.shop_folder(None) == home / "my shop"
    assert places.store_file(None) == Path("/m/b")


def test_the_environment_goes_before_the_settings_and_what_is_asked_before_both(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings(home, f"BENCHMATE_SHOP={home}/none\nBENCHMATE_STORE=/settings\n")
    monkeypatch.setenv("BENCHMATE_SHOP", str(home / "my shop"))
    monkeypatch.setenv("BENCHMATE_STORE", "/environment")
    assert places.shop_folder(None) == home / "my shop"
    assert places.store_file(None) == Path("/environment")
    assert places.shop_folder(home) == home
    assert places.store_file(Path("/asked")) == Path("/asked")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("BENCHMATE_SHOP=~/gone\n", "settings:1: BENCHMATE_SHOP names no folder"),
        ("\nshop=/x\n", "settings:2: 'shop=/x' is no setting; write BENCHMATE_SHOP=FOLDER"),
        ("BENCHMATE_SHOP\n", "settings:1: 'BENCHMATE_SHOP' is no setting"),
        ("BENCHMATE_SHOP=\n", "settings:1: 'BENCHMATE_SHOP=' is no setting"),
        ("BENCHMATE_SHOP=my shop\n", "settings:1: my shop: write the whole path"),
        ("BENCHMATE_SHOP=~nobody-of-that-name/x\n", "there is no such user"),
        ("x\x1b[2J=1\n", r"'x\x1b[2J=1' is no setting"),
    ],
)
def test_a_wrong_setting_is_told_with_its_line(home: Path, text: str, says: str) -> None:
    settings(home, text)
    with pytest.raises(Refusal) as told:
        places.shop_folder(None)
    assert says in str(told.value)


@pytest.mark.parametrize("content", [b"BENCHMATE_SHOP=\xff\n", None])
def test_settings_that_cannot_be_read_are_told(home: Path, content: bytes | None) -> None:
    path = home / ".config" / "benchmate" / "settings"
    path.parent.mkdir(parents=True)
    if content is None:
        path.mkdir()
    else:
        path.write_bytes(content)
    with pytest.raises(Refusal, match="the settings can't be read"):
        places.store_file(None)

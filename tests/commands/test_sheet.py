"""``benchmate sheet``: files that open, and refusals."""

import builtins
import errno
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from benchmate.cli import main
from benchmate.places import starter_shop


def sheet(tmp_path: Path, *words: str) -> int:
    shop = ["--shop", str(starter_shop()), "--store", str(tmp_path / "none.db")]
    return main([*shop, "sheet", *words])


def test_a_pdf_is_written_with_a_page_of_the_paper_asked_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "rib.pdf"
    assert sheet(tmp_path, "cold-frame-rib", "-o", str(path), "--paper", "letter") == 0
    written = path.read_bytes()
    assert written.startswith(b"%PDF-")
    assert b"/MediaBox [0 0 612.00 792.00]" in written
    assert "rib.pdf" in capsys.readouterr().out


def test_an_svg_is_well_formed_and_in_mm(tmp_path: Path) -> None:
    path = tmp_path / "handle.svg"
    assert sheet(tmp_path, "barrow-handle", "-o", str(path)) == 0
    root = ET.parse(path).getroot()  # noqa: S314 - our own file
    assert root.get("width") == "210mm"
    said = [node.text for node in root.iter("{http://www.w3.org/2000/svg}text")]
    assert "barrow-handle" in said


@pytest.mark.parametrize("name", ["rib.pdf", "rib.svg"])
def test_an_older_sheet_stays_as_it_was_when_the_new_one_cannot_be_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    path = tmp_path / name
    path.write_text("the sheet of yesterday")

    def full(_fd: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    assert sheet(tmp_path, "cold-frame-rib", "-o", str(path)) == 1
    assert path.read_text() == "the sheet of yesterday"
    assert capsys.readouterr().err == (
        f"benchmate: {path}: the file can't be written (No space left on device)\n"
    )


def test_without_a_name_the_jobs_is_taken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert sheet(tmp_path, "trellis-knee") == 0
    assert (tmp_path / "trellis-knee.pdf").exists()


def test_another_kind_of_file_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert sheet(tmp_path, "trellis-knee", "-o", str(tmp_path / "x.docx")) == 2
    assert "ends in .pdf or .svg" in capsys.readouterr().err


def test_without_the_pdf_library_it_says_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    real = builtins.__import__

    def missing(name: str, *rest: object) -> object:
        if name == "fpdf":
            raise ImportError(name)
        return real(name, *rest)

    monkeypatch.setattr(builtins, "__import__", missing)
    assert sheet(tmp_path, "trellis-knee", "-o", str(tmp_path / "x.pdf")) == 2
    assert "or write an .svg" in capsys.readouterr().err


def test_a_folder_that_is_not_there_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert sheet(tmp_path, "trellis-knee", "-o", str(tmp_path / "no" / "x.svg")) == 1
    assert "No such file or directory" in capsys.readouterr().err

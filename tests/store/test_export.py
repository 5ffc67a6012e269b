import base64
import csv
import io
import json

import pytest

from benchmate.store import HitRecord, Log
from benchmate.store.export import as_plain, csv_lines, json_lines
from benchmate.wording import is_printable


def logged(store, path, bend):
    store.append(bend).result()
    with Log.open(path) as log:
        return list(log.bends())


def table(lines):
    return list(csv.DictReader(io.StringIO("".join(lines), newline="")))


def test_a_line_a_hit_with_numbers_that_stay_exact(store, path, a_bend):
    hits = (
        HitRecord(stop_angle=93.4, stop_sd=0.6, peak=0.1 + 0.2, rest=-1.25),
        HitRecord(stop_angle=94.0, stop_sd=0.2, peak=94.1, rest=None, measured=90.0),
    )
    first, second = table(csv_lines(logged(store, path, a_bend(hits=hits))))
    assert float(first["peak_deg"]) == 0.1 + 0.2
    assert first["rest_deg"] == "-1.25"
    assert (first["hit"], second["hit"]) == ("1", "2")
    assert (second["rest_deg"], second["measured_deg"]) == ("", "90.0")
    assert first["id"] == second["id"]


@pytest.mark.parametrize(
    "begins", ["=", "+", "-", "@", " =", "  +", "\u00a0-", "\u3000@", "\uff1d", " \uff0b", "\ufe66"]
)
def test_no_text_becomes_a_formula(store, path, a_bend, begins):
    name = begins + 'HYPERLINK("http://x")'
    (row,) = table(csv_lines(logged(store, path, a_bend(job=name, note=name))))
    assert row["job"] == "'" + name
    assert row["note"] == "'" + name


@pytest.mark.parametrize(
    ("steers", "shown"),
    [
        ("\t=1", r"\t=1"),
        ("\r\n=1", r"\r\n=1"),
        ("\x1b[2J\a", r"\x1b[2J\x07"),
        ("a\u202eb", r"a\u202eb"),
    ],
)
def test_what_steers_a_terminal_is_written_as_escapes(store, path, a_bend, steers, shown):
    lines = list(csv_lines(logged(store, path, a_bend(note=steers))))
    assert table(lines)[0]["note"] == shown
    assert is_printable("".join(lines).replace("\r\n", ""))


def test_a_bend_without_hits_still_has_its_line(store, path, a_bend):
    from dataclasses import replace

    (row,) = table(csv_lines(logged(store, path, replace(a_bend(), hits=()))))
    assert (row["hit"], row["peak_deg"]) == ("", "")


def test_json_lines_lose_nothing(store, path, a_bend):
    bend = a_bend(trace=bytes(range(256)), note="=1+1\u202e\x1b[2J", faults=("bus: gone",))
    (line,) = json_lines(logged(store, path, bend))
    assert line.isascii()
    assert line.count("\n") == 1
    whole = json.loads(line)
    assert base64.b64decode(whole["trace"]) == bend.trace
    assert whole["setup"] == bend.setup
    assert whole["sensor"] == bend.sensor
    assert whole["note"] == bend.note
    assert whole["faults"] == ["bus: gone"]
    assert whole["origin"] == store.store_id


def test_measured_is_null_until_a_person_measures_and_says_after_which_hit(store, path, a_bend):
    first = HitRecord(stop_angle=93.4, stop_sd=0.6, peak=93.0, rest=90.0, measured=88.0)
    last = HitRecord(stop_angle=94.0, stop_sd=0.2, peak=94.1, rest=91.0)
    (bend,) = logged(store, path, a_bend(hits=(first, last)))
    plain = as_plain(bend)
    assert (plain["measured"], plain["measured_hit"]) == (88.0, 1)
    assert [hit["measured"] for hit in plain["hits"]] == [88.0, None]
    (unread,) = logged(store, path, a_bend(bend_id="two", hits=(last,)))[-1:]
    assert (as_plain(unread)["measured"], as_plain(unread)["measured_hit"]) == (None, None)

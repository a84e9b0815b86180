"""Reads the table that data_files_test.cpp wrote, with Python's csv: read_csv.py CSV."""
import csv
import math
import sys

with open(sys.argv[1], "rb") as file:
    raw = file.read()
assert raw.endswith(b"\r\n") and not raw.startswith(b"\xef\xbb\xbf"), "line ends, byte order mark"
assert raw.decode("utf-8").replace("\r\n", "").find("\n") < 0, "a line feed alone"
with open(sys.argv[1], encoding="utf-8", newline="") as file:
    rows = list(csv.DictReader(file, strict=True))
assert len(rows) == 4, len(rows)
columns = "name kind scale value u U k effective_dof unit low high reference note problem".split()
assert list(rows[0]) == columns, list(rows[0])
length, angle, missing, ratio = rows
assert length["name"] == 'length, over "all"' and length["scale"] == "replica 1:72"
assert float(length["value"]) == 350.00000000000006 and length["unit"] == "mm"
assert float(length["u"]) == 0.11 and float(length["U"]) == 0.22 and float(length["k"]) == 2.0
assert math.isinf(float(length["effective_dof"])) and length["low"] == "" and length["problem"] == ""
assert angle["name"] == "Winkel ß\r\nsecond line" and angle["unit"] == "deg"
assert abs(float(angle["value"]) - 30.0) < 1e-12 and float(angle["effective_dof"]) == 12.5
assert abs(float(angle["low"]) - math.degrees(0.5)) < 1e-12 and abs(float(angle["high"]) - math.degrees(0.55)) < 1e-12
assert missing["name"] == "=1+1" and missing["value"] == missing["u"] == missing["U"] == missing["k"] == ""
assert missing["problem"] == 'point "A" is not placed: mark it in a second photo.'
assert length["note"] == "a remark, with a comma"
assert float(ratio["value"]) == -1e-7 and ratio["unit"] == "ratio" and ratio["reference"] == length["name"]

"""Tables of text, sheets and map files, with rows numbered as a person sees them."""

import csv
import io
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vrp.errors import InputError
from vrp.io import vector

TEXT_FILES = {".csv", ".tsv", ".txt"}
BLANK = {"", "-", "n/a", "na", "nan", "none", "null"}

_FIRST_ROW = "the first row must hold the names of the columns, without a title above"

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.IGNORECASE)
_DECIMAL_COMMA = re.compile(r"[+-]?\d*,\d+")
_WITH_UNIT = re.compile(
    r"[+-]?\d*[.,]?\d+\s*(ppm|ppb|%|(mg|g|kg|lb|#).*)", re.IGNORECASE
)
_CENSORED = re.compile(r"([<>≤≥].*|b\.?d\.?l?\.?|n\.?d\.?)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Table:
    """A table as its file shows it: rows numbered there, and a shape each or none."""

    file: str
    word: str
    rows: tuple[int, ...]
    columns: dict[str, Sequence[Any]]
    layer: vector.Layer | None
    separator: str
    note: str

    def place(self, index: int) -> str:
        """Return what a message calls a row."""
        return f"{self.file}, {self.word} {self.rows[index]}"


def read_table(path: Path) -> Table:
    """Return a table from a text file with a heading, a sheet, or any vector file."""
    if path.suffix.lower() in TEXT_FILES:
        return _read_text(path)
    layer = vector.read_layer(path)
    sheet = path.suffix.lower() in vector.SHEETS
    rows = tuple(row + 1 for row in layer.rows) if sheet else layer.rows
    word = "row" if layer.shapes is None else "feature"
    columns: dict[str, Sequence[Any]] = {
        name: column.tolist() for name, column in layer.columns.items()
    }
    return Table(layer.file, word, rows, columns, layer, "", "")


def column_of(table: Table, name: str, *, key: str) -> Sequence[Any]:
    """Return a column by its name; `key` is what the plan calls it."""
    try:
        vector.find_column(table.columns, name, file=table.file, key=key)
    except InputError as error:
        if table.word != "row":
            raise
        raise InputError(f"{error}; {_FIRST_ROW}") from error
    return table.columns[name]


def number(table: Table, index: int, *, column: str) -> float:
    """Return the number in a cell, NaN where it is blank."""
    value = table.columns[column][index]
    text = "" if value is None else str(value).strip()
    if text.lower() in BLANK:
        return float("nan")
    if table.separator != "," and _DECIMAL_COMMA.fullmatch(text):
        text = text.replace(",", ".")
    if _NUMBER.fullmatch(text) and np.isfinite(float(text)):
        return float(text)
    place = f"{table.place(index)}: {column} is {text!r}"
    if _CENSORED.fullmatch(text):
        message = (
            f"{place}, a limit and no value: write the number to reckon with, such as "
            "the limit itself, or remove the row"
        )
        raise InputError(message)
    remedy = "write it with a decimal point" if "," in text else "write a plain number"
    if _WITH_UNIT.fullmatch(text):
        comma = "," in text and table.separator == ","
        remedy = "leave the unit out" + (
            " and write it with a decimal point" if comma else ""
        )
    raise InputError(f"{place}, not a number: {remedy}, or remove the row")


def numbers(table: Table, name: str, *, key: str) -> NDArray[np.float64]:
    """Return a column of numbers, NaN where it is blank."""
    column_of(table, name, key=key)
    return np.array([number(table, i, column=name) for i in range(len(table.rows))])


def _read_text(path: Path) -> Table:
    if not path.is_file():
        raise InputError(f"{path.name}: there is no such file in {path.parent}")
    text, note = _decoded(path)
    heading = next((line for line in text.splitlines() if line.strip()), "")
    separator = max("\t;,", key=re.sub(r'"[^"]*"', "", heading).count)
    lines = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        numbered = [
            (row, [cell.strip() for cell in line])
            for row, line in enumerate(lines, start=1)
            if any(cell.strip() for cell in line)
        ]
    except csv.Error as exc:
        message = (
            f"{path.name}, line {lines.line_num}: cannot be read as a table ({exc})"
        )
        raise InputError(f"{message}: mend the quotes there") from exc
    if len(numbered) < 2:
        message = f"{path.name}: holds no row below a heading: export it again"
        raise InputError(message)
    names = numbered[0][1]
    twice = [name for name, count in Counter(names).items() if name and count > 1]
    if twice:
        message = f"{path.name}, row {numbered[0][0]}: column {twice[0]!r} stands twice"
        raise InputError(f"{message}: rename one of them")
    for row, line in numbered[1:]:
        if any(line[len(names) :]):
            message = (
                f"{path.name}, row {row}: has {len(line)} fields where the heading "
                f"has {len(names)}: put text that holds a {separator!r} in quotes, and "
                "write decimals with a point"
            )
            if row == numbered[1][0]:
                message += f"; {_FIRST_ROW}"
            raise InputError(message)
    body = [line + [""] * (len(names) - len(line)) for _, line in numbered[1:]]
    columns: dict[str, Sequence[Any]] = {
        name: [line[at] for line in body] for at, name in enumerate(names) if name
    }
    rows = tuple(row for row, _ in numbered[1:])
    return Table(path.name, "row", rows, columns, None, separator, note)


def _decoded(path: Path) -> tuple[str, str]:
    try:
        data = path.read_bytes()
    except OSError as exc:
        raise InputError(f"{path.name}: cannot be read: {exc.strerror}") from exc
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16"), ""
    if b"\0" in data:
        message = f"{path.name}: is no table of text: export it as CSV"
        raise InputError(message)
    try:
        return data.decode("utf-8-sig"), ""
    except UnicodeDecodeError as exc:
        row = data.count(b"\n", 0, exc.start) + 1
        note = f"{path.name}: row {row} is not UTF-8, so the file was read as Latin-1"
        return data.decode("latin-1"), note

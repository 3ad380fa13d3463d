"""Reads schedule.xlsx with openpyxl and compares it with the CSV files beside it.

check_schedule.py FOLDER: each list's sheet has a frozen, repeated header, prints one page wide, and holds the rows of its
CSV file: numbers as numbers, the text of the tape as text. No cell of either is a formula; where a text of the CSV file
has an apostrophe to that end, the workbook has the text alone.
"""

import csv
import pathlib
import sys

import openpyxl

SHEETS = {"Cuts": "cuts.csv", "Marks": "marks.csv", "Hardware": "hardware.csv", "Order": "order.csv"}


FORMULA = tuple("=+-@")


def guarded(part):
    return part.startswith("'") and part.lstrip("'").lstrip().startswith(FORMULA)


def same(cell, text):
    text = ";".join(part[1:] if guarded(part) else part for part in text.split(";"))
    if cell is None:
        return text == ""
    if isinstance(cell, (int, float)):
        return abs(float(text) - cell) < 1e-9
    return cell == text


def main():
    folder = pathlib.Path(sys.argv[1])
    book = openpyxl.load_workbook(folder / "schedule.xlsx")
    if book.sheetnames != ["Read first", *SHEETS]:
        sys.exit(f"sheets: {book.sheetnames}")
    formulas = [c.coordinate for s in book for row in s for c in row if c.data_type == "f"]
    if formulas:
        sys.exit(f"formulas in {formulas}")
    rows_seen = numbers = alike = 0
    for name, file in SHEETS.items():
        sheet = book[name]
        if sheet.freeze_panes != "A2" or sheet.print_title_rows != "$1:$1":
            sys.exit(f"{name}: frozen at {sheet.freeze_panes}, repeated {sheet.print_title_rows}")
        if sheet.page_setup.orientation != "landscape" or sheet.page_setup.fitToWidth not in (None, 1):
            sys.exit(f"{name}: page set-up")
        with open(folder / file, newline="") as handle:
            rows = list(csv.reader(handle))
        if sheet.max_row != len(rows):
            sys.exit(f"{name}: {sheet.max_row} rows, {file} has {len(rows)}")
        for r, row in enumerate(rows[1:], start=2):
            for c, text in enumerate(row, start=1):
                cell = sheet.cell(r, c).value
                if not same(cell, text):
                    sys.exit(f"{name} {r},{c}: {cell!r}, {file} says {text!r}")
                numbers += isinstance(cell, (int, float))
                alike += isinstance(cell, str) and cell.startswith(FORMULA)
                if text.startswith(FORMULA) and not text.replace(".", "", 1).lstrip("-").isdigit():
                    sys.exit(f"{file}: {text!r} is a formula")
            rows_seen += 1
    if numbers < rows_seen:
        sys.exit(f"only {numbers} numbers in {rows_seen} rows")
    print(f"OK {rows_seen} rows, {numbers} numbers, {alike} texts like formulas")


main()

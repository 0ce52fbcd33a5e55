"""Makes the spreadsheets of this folder with programs that are not ours.

    pip install openpyxl==3.1.5 odfpy==1.4.1
    python make_tables.py [FOLDER]

The farm is invented. The files are kept in the repository, so that the tests need no Python; CI makes them
anew in a folder of its own and reads those.
"""

import datetime
import pathlib
import sys
import zipfile

import openpyxl
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import CoveredTableCell, Table, TableCell, TableRow
from odf.text import P

HERE = pathlib.Path(sys.argv[1]) if len(sys.argv) > 1 else pathlib.Path(__file__).parent / "cases"
DAY = datetime.date
HEADINGS = ["Date", "Cow no", "Leg", "Claw", "Diagnosis", "Found by", "Lactation", "DIM", "First seen"]
ROWS = [
    [DAY(2025, 3, 4), 112, "LH", "outer", "White line", "farmer", 3, 41, DAY(2025, 3, 1)],
    [DAY(2025, 3, 20), 112, "LH", "outer", "WL", "vet", 3, 57, None],
    [DAY(2025, 5, 2), "Daisy", "RF", "inner", "stone bruise", "farmer", 1, 88, DAY(2025, 5, 2)],
    [DAY(2025, 6, 30), 207, "RH", None, None, "farmer", 5, 140, None],
    [DAY(2025, 9, 9), 311, "RH", "outer", "sole fracture", "vet", 2, 12, DAY(2025, 8, 20)],
]


def workbook(rows):
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Lameness"
    for row in rows:
        sheet.append(row)
    return book, sheet


def save_stable(book, name):
    """Saves with fixed times, so that making the file again gives the same bytes."""
    book.properties.created = book.properties.modified = datetime.datetime(2026, 1, 1)
    path = HERE / name
    book.save(path)
    with zipfile.ZipFile(path) as archive:
        entries = [(info.filename, archive.read(info)) for info in archive.infolist()]
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for entry, data in entries:
            archive.writestr(zipfile.ZipInfo(entry, (2026, 1, 1, 0, 0, 0)), data, zipfile.ZIP_DEFLATED)


def xlsx():
    book, _ = workbook([HEADINGS, *ROWS])
    book.create_sheet("Notes").append(["what the sheet is for"])
    save_stable(book, "good.xlsx")

    book, sheet = workbook([HEADINGS, *ROWS])
    sheet.merge_cells("E3:E5")
    save_stable(book, "merged.xlsx")

    book, sheet = workbook([HEADINGS, *ROWS])
    sheet["A4"].value, sheet["A4"].data_type = "#REF!", "e"
    sheet["G5"].value, sheet["G5"].data_type = "#DIV/0!", "e"
    sheet["A6"] = 45909  # the day's serial number, without a date format
    sheet["A6"].number_format = "General"
    save_stable(book, "formula-errors.xlsx")

    book, sheet = workbook([["Animal", None, "Foot", None, "What"], HEADINGS, *ROWS])
    sheet.merge_cells("A1:B1")
    save_stable(book, "two-headings.xlsx")

    whole = (HERE / "good.xlsx").read_bytes()
    (HERE / "truncated.xlsx").write_bytes(whole[: len(whole) // 2])


def ods_cell(value):
    if value is None:
        return TableCell()
    if isinstance(value, datetime.date):
        cell = TableCell(valuetype="date", datevalue=value.isoformat())
    elif isinstance(value, (int, float)):
        cell = TableCell(valuetype="float", value=str(value))
    else:
        cell = TableCell(valuetype="string")
    cell.addElement(P(text=str(value)))
    return cell


def ods(name, merged=False):
    document = OpenDocumentSpreadsheet()
    table = Table(name="Lameness")
    for at, values in enumerate([HEADINGS, *ROWS]):
        row = TableRow()
        for column, value in enumerate(values):
            cell = ods_cell(value)
            if merged and column == 4 and at == 1:
                cell.setAttribute("numberrowsspanned", "2")
                cell.setAttribute("numbercolumnsspanned", "1")
            if merged and column == 4 and at == 2:
                cell = CoveredTableCell()
            row.addElement(cell)
        table.addElement(row)
    document.spreadsheet.addElement(table)
    document.save(str(HERE / name))


def text():
    (HERE / "semicolon-1252.csv").write_bytes(
        "Datum;Kuh;Bein;Klaue;Diagnose\r\n14.03.2025;Mücke;HL;außen;Sohlengeschwür, groß\r\n".encode("cp1252")
    )
    (HERE / "tabs-utf16le.csv").write_bytes(
        "\ufeffdate\tcow\tlesion\r\n2025-03-14\tMücke\tDD\r\n".encode("utf-16-le")
    )
    (HERE / "commas-utf16be.csv").write_bytes("\ufeffdate,cow,lesion\n2025-03-14,Mücke,DD\n".encode("utf-16-be"))
    (HERE / "bom-utf8.csv").write_bytes("\ufeffdate,cow,lesion\n2025-03-14,Mücke,DD\n".encode())


if __name__ == "__main__":
    HERE.mkdir(parents=True, exist_ok=True)
    xlsx()
    ods("good.ods")
    ods("merged.ods", merged=True)
    text()

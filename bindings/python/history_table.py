#!/usr/bin/env python3
"""A notebook's history as a table: python3 history_table.py FOLDER > history.csv

One row for each line of each finding's story, oldest first. In a data notebook:
`pandas.DataFrame(rows(folder))`.
"""
from __future__ import annotations

import csv
import sys
import typing

import witnessmark


def rows(folder: str) -> list[dict[str, typing.Any]]:
    """Every sighting and step of every finding of every aircraft of the notebook in `folder`."""
    table: list[dict[str, typing.Any]] = []
    book = witnessmark.Notebook.read(folder)
    try:
        for craft in book.aircraft():
            for line in book.findings(craft.id):
                screen = book.finding(craft.id, line.id)
                for step in screen.story:
                    table.append({
                        "registration": craft.registration,
                        "finding": line.id,
                        "zone": line.zone,
                        "condition": screen.condition,
                        "date": step.date,
                        "by": step.by,
                        "kind": step.kind,
                        "value": step.value,
                        "u": step.u,
                        "unit": step.unit,
                        "entry": step.entry,
                        "says": step.says,
                    })
    finally:
        book.shut()
    return table


if __name__ == "__main__":
    table = rows(sys.argv[1])
    if table:
        writer = csv.DictWriter(sys.stdout, list(table[0]))
        writer.writeheader()
        writer.writerows(table)

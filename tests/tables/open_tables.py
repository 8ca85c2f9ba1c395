#!/usr/bin/env python3
"""Open the tables of a study as their readers do: CSV and Parquet, with pandas and with polars.

usage: open_tables.py DIR

Every reader must find the same columns and the same numbers, bit for bit, with numbers as numbers and words as words;
the units and meanings in the Parquet file's metadata must cover every column; and the rank correlations of
sensitivity.csv, where it is there, must be those that pandas computes. Exit code 1 with a sentence if not.
"""

import json
import math
import sys
from pathlib import Path

import pandas
import polars
import pyarrow.parquet

UNITS = {"", "%", "mm", "mm2", "deg", "degrees", "deg/mm", "kPa", "MPa", "N", "N mm"}


def require(condition, sentence):
    if not condition:
        sys.exit(f"open_tables: {sentence}")


def same(a, b):
    """Equal numbers or words, or both missing."""
    missing = [x is None or x == "" or (isinstance(x, float) and math.isnan(x)) for x in (a, b)]
    return all(missing) or (not any(missing) and a == b)


def main(directory):
    csv, parquet = directory / "table.csv", directory / "table.parquet"
    tables = {
        "pandas, CSV": pandas.read_csv(csv).to_dict("list"),
        "pandas, Parquet": pandas.read_parquet(parquet).to_dict("list"),
        "polars, CSV": polars.read_csv(csv, infer_schema_length=None).to_dict(as_series=False),
        "polars, Parquet": polars.read_parquet(parquet).to_dict(as_series=False),
    }
    reference_name, reference = next(iter(tables.items()))
    for name, table in tables.items():
        require(list(table) == list(reference), f"{name} has other columns than {reference_name}")
        for column, values in table.items():
            require(len(values) == len(reference[column]), f"{name} has {len(values)} rows of {column}")
            for row, (a, b) in enumerate(zip(values, reference[column])):
                require(same(a, b), f"{column}, row {row}: {a!r} in {name}, {b!r} in {reference_name}")
    rows = len(reference["case"])
    require(reference["case"] == list(range(1, rows + 1)), "the cases are not in order")
    require(any(status == "ok" for status in reference["status"]), "no case has a result")

    schema = polars.read_parquet_schema(parquet)
    about = json.loads(pyarrow.parquet.read_metadata(parquet).metadata[b"gomphosis"])
    require(list(about["columns"]) == list(schema), "the metadata covers other columns than there are")
    for column, kind in schema.items():
        entry = about["columns"][column]
        require(entry["unit"] in UNITS and entry["meaning"], f"{column}: {entry}")
        words = column in ("status", "reason", "tooth", "linear_validity") or column.endswith("_movement")
        wanted = polars.String if words else polars.Int64 if column in ("case", "unknowns") else polars.Float64
        require(kind == wanted, f"{column} is {kind} and not {wanted}")

    sensitivity = directory / "sensitivity.csv"
    compared = 0
    if sensitivity.exists():
        frame = pandas.read_parquet(parquet)
        for row in pandas.read_csv(sensitivity).itertuples():
            if row.measure == "rank_correlation":
                found = frame[[row.input, row.output]].corr(method="spearman").iloc[0, 1]
                require(abs(found - row.value) < 1e-12, f"{row.output}, {row.input}: {row.value}, pandas {found}")
                require(row.low <= row.value <= row.high, f"{row.output}, {row.input}: interval {row.low} to {row.high}")
                compared += 1
    columns = len(reference)
    print(f"{directory.name}: {rows} rows, {columns} columns, the same in four readers; {compared} rank correlations")


if __name__ == "__main__":
    main(Path(sys.argv[1]))

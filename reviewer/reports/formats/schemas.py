"""The JSON schemas of what is exported, generated from the records themselves.

python -m reviewer.reports.formats.schemas FOLDER      # writes them anew
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from reviewer.records import GradeRow
from reviewer.reports.files import write_whole
from reviewer.reports.formats.as_json import ReportData


def schemas() -> dict[str, dict[str, Any]]:
    """File name to JSON schema: the grade row, and a whole report."""
    return {
        "grade-row.schema.json": GradeRow.model_json_schema(mode="serialization"),
        "report.schema.json": ReportData.model_json_schema(mode="serialization"),
    }


def schema_text(schema: dict[str, Any]) -> str:
    """A schema as the file holds it."""
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    for name, schema in schemas().items():
        write_whole(Path(sys.argv[1]) / name, schema_text(schema))

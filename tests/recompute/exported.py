"""What every reader of an exported model needs: names of the loads, edges of an element, field data."""

import base64
import xml.etree.ElementTree as xml

import numpy as np

LOADS = ["fx", "fy", "fz", "mx", "my", "mz"]
EDGES = [(0, 1), (1, 2), (0, 2), (0, 3), (1, 3), (2, 3)]


def field_data(path):
    """The field data of the file, which meshio leaves out: Float64 and UInt8 arrays in base64 behind their length."""
    kinds = {"Float64": "<f8", "UInt8": "u1"}
    arrays = {}
    for array in xml.parse(path).getroot().find("UnstructuredGrid").find("FieldData"):
        raw = base64.b64decode(array.text.strip())
        size = int.from_bytes(raw[:8], "little")
        arrays[array.get("Name")] = np.frombuffer(raw[8 : 8 + size], kinds[array.get("type")])
    return arrays

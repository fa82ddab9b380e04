"""styles.py PLAN_DIR: every layer of `plan.gpkg` has a style that a reader of SLD 1.0.0 can take.

Oracle: the XML reader and the SQLite of Python's standard library; the content of each element by OGC 02-070
(Styled Layer Descriptor 1.0.0), written down here from its schema.

- one file for each layer, the same text in the table `layer_styles`;
- elements in the order of the schema, numbers and colours in its forms;
- rules ask for columns that the layer has, and every feature has exactly one rule on the first level.
"""

import re
import sqlite3
import sys
import xml.etree.ElementTree as ElementTree
from pathlib import Path

from common import finish

SLD = "{http://www.opengis.net/sld}"
OGC = "{http://www.opengis.net/ogc}"
SYMBOLIZERS = "(?:LineSymbolizer |PolygonSymbolizer |PointSymbolizer |TextSymbolizer )"
# What may stand in an element, in which order.
CONTENT = {
    "StyledLayerDescriptor": "(?:Name )?(?:Title )?(?:Abstract )?(?:NamedLayer |UserLayer )*",
    "NamedLayer": "Name (?:NamedStyle |UserStyle )*",
    "UserStyle": "(?:Name )?(?:Title )?(?:Abstract )?(?:IsDefault )?(?:FeatureTypeStyle )+",
    "FeatureTypeStyle": "(?:Name )?(?:Title )?(?:Abstract )?(?:FeatureTypeName )?(?:Rule )+",
    "Rule": "(?:Name )?(?:Title )?(?:Abstract )?(?:Filter |ElseFilter )?"
    f"(?:MinScaleDenominator )?(?:MaxScaleDenominator )?{SYMBOLIZERS}+",
    "PolygonSymbolizer": "(?:Geometry )?(?:Fill )?(?:Stroke )?",
    "LineSymbolizer": "(?:Geometry )?(?:Stroke )?",
    "PointSymbolizer": "(?:Geometry )?(?:Graphic )?",
    "Fill": "(?:GraphicFill )?(?:CssParameter )*",
    "Stroke": "(?:GraphicFill |GraphicStroke )?(?:CssParameter )*",
    "GraphicFill": "Graphic ",
    "Graphic": "(?:Mark |ExternalGraphic )*(?:Opacity )?(?:Size )?(?:Rotation )?",
    "Mark": "(?:WellKnownName )?(?:Fill )?(?:Stroke )?",
    "Filter": "(?:And |PropertyIsEqualTo |PropertyIsGreaterThanOrEqualTo )",
    "And": "(?:PropertyIsEqualTo |PropertyIsGreaterThanOrEqualTo ){2,}",
    "PropertyIsEqualTo": "PropertyName Literal ",
    "PropertyIsGreaterThanOrEqualTo": "PropertyName Literal ",
}
FILTERS = {"Filter", "And", "PropertyIsEqualTo", "PropertyIsGreaterThanOrEqualTo"}
FILTERS |= {"PropertyName", "Literal"}
VALUES = {
    "fill": "#[0-9a-f]{6}",
    "stroke": "#[0-9a-f]{6}",
    "stroke-width": r"\d+(\.\d+)?",
    "stroke-dasharray": r"\d+(\.\d+)?( \d+(\.\d+)?)+",
}


def plain(element):
    return element.tag.split("}")[1]


def check_element(layer, element, faults):
    name = plain(element)
    if not element.tag.startswith(OGC if name in FILTERS else SLD):
        faults.append(f"{layer}: {name} in another vocabulary")
    inside = "".join(plain(child) + " " for child in element)
    if name in CONTENT:
        if not re.fullmatch(CONTENT[name], inside):
            faults.append(f"{layer}: {name} holds {inside}")
    elif inside or not (element.text or "").strip():
        faults.append(f"{layer}: {name} is no element with text alone")
    if name == "CssParameter" and not re.fullmatch(VALUES[element.get("name")], element.text):
        faults.append(f"{layer}: {element.get('name')} is {element.text}")
    if name in ("Size", "Rotation") and not re.fullmatch(r"-?\d+(\.\d+)?", element.text):
        faults.append(f"{layer}: {name} is {element.text}")
    for child in element:
        check_element(layer, child, faults)


def conditions(rule):
    """The conditions of a rule: column, whether at least, value."""
    for test in rule.iter():
        if plain(test).startswith("PropertyIs"):
            column, value = (child.text for child in test)
            yield column, plain(test) != "PropertyIsEqualTo", value


def holds(row, rule):
    def one(column, at_least, value):
        if row[column] is None:
            return False
        return float(row[column]) >= float(value) if at_least else str(row[column]) == value

    return all(one(*condition) for condition in conditions(rule))


def main():
    plan, faults = Path(sys.argv[1]), []
    package = sqlite3.connect(f"file:{plan / 'plan.gpkg'}?mode=ro", uri=True)
    package.row_factory = sqlite3.Row
    layers = [r[0] for r in package.execute("SELECT table_name FROM gpkg_geometry_columns")]
    stored = {
        row["f_table_name"]: row
        for row in package.execute("SELECT * FROM layer_styles WHERE useAsDefault = 1")
    }
    files = {path.stem: path for path in (plan / "styles").iterdir()}
    if not set(layers) == set(stored) == set(files):
        faults.append(f"layers {layers}, files {sorted(files)}, stored {sorted(stored)}")
    features = 0
    for layer in set(layers) & set(stored) & set(files):
        text = files[layer].read_text(encoding="utf-8")
        if stored[layer]["styleSLD"] != text or stored[layer]["f_geometry_column"] != "geom":
            faults.append(f"{layer}: another style in the package than in the folder")
        root = ElementTree.fromstring(text.encode())
        if root.get("version") != "1.0.0" or root.find(f"{SLD}NamedLayer/{SLD}Name").text != layer:
            faults.append(f"{layer}: the style is of another version or for another layer")
        check_element(layer, root, faults)
        first = root.find(f".//{SLD}FeatureTypeStyle")
        rows = package.execute(f'SELECT * FROM "{layer}"').fetchall()
        columns = [r["name"] for r in package.execute(f'PRAGMA table_info("{layer}")')]
        for rule in root.iter(f"{SLD}Rule"):
            for column, _, _ in conditions(rule):
                if column not in columns:
                    faults.append(f"{layer}: a rule asks for {column}")
        for row in rows:
            features += 1
            drawn = sum(holds(row, rule) for rule in first)
            if drawn != 1:
                faults.append(f"{layer}: feature {row['fid']} has {drawn} rules")
    finish({"layers": len(layers), "features": features}, faults)


main()

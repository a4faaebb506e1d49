// Reads DXF files with npm's `dxf-parser` and prints what it sees as one JSON list: per file the units, the
// layers of the table, and each entity's kind, layer, vertices with bulges, circle or text.
// Usage: NODE_PATH=<where dxf-parser is installed> node read.js FILE…
"use strict";
const fs = require("fs");
const found = require("dxf-parser");
const DxfParser = found.DxfParser || found.default || found;

const seen = process.argv.slice(2).map((file) => {
  const drawing = new DxfParser().parseSync(fs.readFileSync(file, "utf8"));
  return {
    units: drawing.header.$INSUNITS === undefined ? null : drawing.header.$INSUNITS,
    extents: [drawing.header.$EXTMIN, drawing.header.$EXTMAX],
    layers: Object.keys(drawing.tables.layer.layers),
    entities: drawing.entities.map((e) => ({
      kind: e.type,
      layer: e.layer,
      closed: Boolean(e.shape),
      vertices: (e.vertices || []).map((v) => [v.x, v.y, v.bulge || 0]),
      circle: e.center ? [e.center.x, e.center.y, e.radius] : null,
      text: e.text === undefined ? null : e.text,
    })),
  };
});
process.stdout.write(JSON.stringify(seen));

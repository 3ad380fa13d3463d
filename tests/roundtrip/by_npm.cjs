// Reads drawings with a DXF parser of npm and writes them with a DXF writer of npm, as a converter on the web would.
//
//     node by_npm.cjs dxf|writer NODE_MODULES IN.dxf OUT.dxf [IN.dxf OUT.dxf ...]
//
// dxf: dxf-json reads, @tarikjabiri/dxf writes; blocks, attributes and MTEXT are kept, a DIMENSION is drawn as the entities
// of its block. writer: dxf-parser reads, dxf-writer writes; it has no block references, so that they are written out.
// What the writer has no call for is left out.
"use strict";
const fs = require("fs");
const path = require("path");

const [kind, modules, ...paths] = process.argv.slice(2);
const need = (name) => require(require.resolve(name, { paths: [path.dirname(modules)] }));
const z = (p) => ({ x: p.x, y: p.y, z: p.z || 0 });
const degrees = (radians) => (radians * 180) / Math.PI;

function byDxf(text) {
  const { DxfParser } = need("dxf-json");
  const { DxfWriter } = need("@tarikjabiri/dxf");
  const read = new DxfParser().parseSync(text);
  const out = new DxfWriter();
  out.setUnits(Number(read.header.$INSUNITS || 0));
  for (const layer of read.tables.LAYER.entries) {
    if (layer.name !== "0") out.addLayer(layer.name, Math.abs(layer.colorIndex || 7), "Continuous", layer.standardFlag || 0);
  }
  const own = (name) => !name.startsWith("*");
  for (const [name, block] of Object.entries(read.blocks)) {
    if (own(name)) out.addBlock(name);
  }
  for (const [name, block] of Object.entries(read.blocks)) {
    if (!own(name)) continue;
    const target = out.document.blocks.blocks.find((b) => b.name === name);
    for (const entity of block.entities || []) put(target, entity);
  }
  const space = out.document.modelSpace;
  const model = read.entities.filter((e) => !e.isInPaperSpace);
  let insert = null;
  for (const entity of model) {
    if (entity.type === "ATTRIB") {
      if (insert) put(space, entity, insert);
      continue;
    }
    const added = put(space, entity);
    insert = entity.type === "INSERT" ? added : null;
  }
  return out.stringify();

  function put(target, e, owner) {
    const options = { layerName: e.layer, colorNumber: e.colorIndex === undefined || e.colorIndex === 256 ? undefined : e.colorIndex, visible: e.isVisible };
    const aligned = { rotation: e.rotation || 0, horizontalAlignment: e.halign || e.horizontalJustification || 0, verticalAlignment: e.valign || e.verticalJustification || 0 };
    const second = e.alignmentPoint || e.endPoint;
    if (second && (aligned.horizontalAlignment || aligned.verticalAlignment)) aligned.secondAlignmentPoint = z(second);
    switch (e.type) {
      case "LINE":
        return target.addLine(z(e.startPoint), z(e.endPoint), options);
      case "LWPOLYLINE":
        return target.addLWPolyline(e.vertices.map((v) => ({ point: { x: v.x, y: v.y }, bulge: v.bulge })), { ...options, flags: e.flag });
      case "CIRCLE":
        return target.addCircle(z(e.center), e.radius, options);
      case "ARC":
        return target.addArc(z(e.center), e.radius, e.startAngle, e.endAngle, options);
      case "POINT":
        return target.addPoint(e.position.x, e.position.y, e.position.z || 0, options);
      case "SPLINE":
        return target.addSpline({ controlPoints: e.controlPoints.map(z), degreeCurve: e.degree, knots: e.knots, flags: e.flag }, options);
      case "SOLID":
        return target.addLWPolyline([e.points[0], e.points[1], e.points[3] || e.points[2], e.points[2]].map((p) => ({ point: { x: p.x, y: p.y } })), { ...options, flags: 1 });
      case "TEXT":
        return target.addText(z(e.startPoint), e.textHeight, e.text, { ...options, ...aligned });
      case "MTEXT":
        return target.addMText(z(e.insertionPoint), e.height, [].concat(e.text).join(""), { ...options, width: e.width, attachmentPoint: e.attachmentPoint, rotation: e.rotation });
      case "ATTDEF":
        return target.addAttdef(z(e.startPoint), e.textHeight, e.tag, e.text || "", { ...options, ...aligned });
      case "ATTRIB":
        return owner && target.addAttrib(z(e.startPoint), e.textHeight, e.tag, e.text, owner, { ...options, ...aligned });
      case "INSERT":
        if (!own(e.name)) return (read.blocks[e.name].entities || []).forEach((inner) => put(target, inner));
        return target.addInsert(e.name, z(e.insertionPoint), { ...options, scaleFactor: { x: e.xScale, y: e.yScale, z: e.zScale }, rotationAngle: e.rotation || 0 });
      case "DIMENSION":
        return ((read.blocks[e.name] || {}).entities || []).forEach((inner) => put(target, inner));
      default:
        return null;
    }
  }
}

function byWriter(text) {
  const parser = need("dxf-parser");
  const Drawing = need("dxf-writer");
  const read = new (parser.DxfParser || parser.default || parser)().parseSync(text);
  const out = new Drawing();
  out.header("INSUNITS", [[70, Number(read.header.$INSUNITS || 0)]]);
  for (const layer of Object.values(read.tables.layer.layers)) {
    if (layer.name !== "0") out.addLayer(layer.name, 7, "CONTINUOUS");
  }
  const same = (p) => p;
  read.entities.filter((e) => !e.inPaperSpace).forEach((e) => put(e, same, e.layer));
  return out.toDxfString();

  function put(e, at, over) {
    const layer = e.layer === "0" ? over : e.layer;
    if (!out.layers[layer]) out.addLayer(layer, 7, "CONTINUOUS");
    out.setActiveLayer(layer);
    const turn = degrees(at.turn || 0);
    const scale = at.scale || 1;
    switch (e.type) {
      case "LINE": {
        const [a, b] = e.vertices.map(at);
        return out.drawLine(a.x, a.y, b.x, b.y);
      }
      case "LWPOLYLINE":
      case "POLYLINE":
        return out.drawPolyline(e.vertices.map((v) => [at(v).x, at(v).y, v.bulge || 0]), !!e.shape);
      case "CIRCLE":
        return out.drawCircle(at(e.center).x, at(e.center).y, e.radius * scale);
      case "ARC":
        return out.drawArc(at(e.center).x, at(e.center).y, e.radius * scale, degrees(e.startAngle) + turn, degrees(e.endAngle) + turn);
      case "POINT":
        return out.drawPoint(at(e.position).x, at(e.position).y);
      case "SPLINE":
        return out.drawSpline(e.controlPoints.map((p) => [at(p).x, at(p).y, 0]), e.degreeOfSplineCurve, e.knotValues);
      case "TEXT":
        return out.drawText(at(e.startPoint).x, at(e.startPoint).y, e.textHeight * scale, (e.rotation || 0) + turn, e.text);
      case "MTEXT":
        return out.drawText(at(e.position).x, at(e.position).y, e.height * scale, (e.rotation || 0) + turn, e.text);
      case "INSERT": {
        const block = read.blocks[e.name];
        const radians = ((e.rotation || 0) * Math.PI) / 180;
        const [sx, sy] = [e.xScale || 1, e.yScale || 1];
        const inner = (p) => {
          const [x, y] = [(p.x - (block.position?.x || 0)) * sx, (p.y - (block.position?.y || 0)) * sy];
          return at({ x: e.position.x + x * Math.cos(radians) - y * Math.sin(radians), y: e.position.y + x * Math.sin(radians) + y * Math.cos(radians) });
        };
        inner.turn = (at.turn || 0) + radians;
        inner.scale = scale * sx;
        return ((block || {}).entities || []).forEach((b) => put(b, inner, layer));
      }
      case "DIMENSION":
        return ((read.blocks[e.block] || {}).entities || []).forEach((b) => put(b, at, layer));
      default:
        return null;
    }
  }
}

for (let n = 0; n + 1 < paths.length; n += 2) {
  const text = fs.readFileSync(paths[n], "utf8");
  fs.writeFileSync(paths[n + 1], kind === "dxf" ? byDxf(text) : byWriter(text));
}

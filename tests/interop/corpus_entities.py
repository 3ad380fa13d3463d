"""Entities for the corpus: each function draws one kind well away from the deck."""

import math

from ezdxf import colors
from ezdxf.enums import TextEntityAlignment
from ezdxf.math import OCS, Vec2, Vec3
from ezdxf.render import forms, mleader

AT = Vec3(400, 0)


def lines(doc):
    msp = doc.modelspace()
    msp.add_line(AT, AT + (10, 5))
    msp.add_point(AT)
    msp.add_circle(AT, 5)
    msp.add_arc(AT, 6, 30, 200)
    msp.add_lwpolyline([(400, 20, 0, 1, 0.5), (410, 20, 1, 0, -0.5), (410, 30)], format="xyseb")


def ellipse_spline(doc):
    msp = doc.modelspace()
    msp.add_ellipse(AT, (10, 0), 0.3, 0, math.tau)
    msp.add_spline([(400, 0), (405, 10), (410, 0), (415, 10)])
    msp.add_open_spline([(400, 0, 3), (405, 10, 2), (410, 0, 1), (415, 10, 0)], degree=3)
    msp.add_rational_spline([(400, 0), (405, 10), (410, 0), (415, 10)], weights=[1, 2, 3, 1])


def polylines(doc):
    msp = doc.modelspace()
    msp.add_polyline2d([(400, 0, 0.5), (410, 0, 0), (410, 10, 0)], format="xyb", close=True)
    msp.add_polyline3d([(400, 0, 1), (410, 0, 2), (410, 10, 3)])
    mesh = msp.add_polymesh((3, 3))
    mesh.set_mesh_vertex((1, 1), (405, 5, 5))
    msp.add_polyface().append_faces(forms.cube().faces_as_vertices())


def filled(doc):
    msp = doc.modelspace()
    msp.add_solid([(400, 0), (410, 0), (400, 10), (410, 10)])
    msp.add_trace([(400, 20), (410, 20), (400, 30), (410, 30)])
    msp.add_3dface([(400, 40), (410, 40), (410, 50), (400, 50, 5)])


def texts(doc):
    msp = doc.modelspace()
    msp.add_text("plain é 45%%d", height=3).set_placement(AT)
    msp.add_text("fitted", height=3).set_placement(AT, AT + (30, 0), align=TextEntityAlignment.FIT)
    msp.add_text("turned", height=3, rotation=30, dxfattribs={"style": "OpenSans", "oblique": 15})


def mtext(doc):
    msp = doc.modelspace()
    msp.add_mtext("{\\fSans|b1;bold}\\Pnext \\S1#2; line " + "long " * 120, dxfattribs={"insert": AT, "char_height": 3, "width": 90})
    msp.add_mtext("filled").set_bg_color(2)
    msp.add_mtext_static_columns(["one", "two"], width=20, gutter_width=5, height=10, dxfattribs={"insert": AT + (0, 50)})


def hatch(doc):
    msp = doc.modelspace()
    square = [(400, 0), (420, 0), (420, 20), (400, 20)]
    solid = msp.add_hatch(color=2)
    solid.paths.add_polyline_path(square, is_closed=True)
    pattern = msp.add_hatch(color=3)
    pattern.set_pattern_fill("ANSI31", scale=4)
    edges = pattern.paths.add_edge_path()
    edges.add_line((400, 30), (420, 30))
    edges.add_arc((410, 30), 10, 0, 180)
    pattern.associate(pattern.paths[0], [msp.add_line((400, 30), (420, 30))])
    gradient = msp.add_hatch()
    gradient.paths.add_polyline_path([(400, 60), (420, 60), (410, 80)], is_closed=True)
    gradient.set_gradient(colors.RGB(10, 10, 200), colors.RGB(200, 10, 10))
    islands = msp.add_hatch(color=4)
    islands.paths.add_polyline_path(square, is_closed=True, flags=1)
    islands.paths.add_polyline_path([(405, 5), (410, 5), (410, 10)], is_closed=True, flags=16)


def mpolygon(doc):
    area = doc.modelspace().add_mpolygon(color=1, fill_color=5)
    area.paths.add_polyline_path([(400, 0), (420, 0), (420, 20)], is_closed=True)


def dimensions(doc):
    msp = doc.modelspace()
    msp.add_linear_dim(base=(400, 20), p1=(400, 0), p2=(430, 0)).render()
    msp.add_linear_dim(base=(400, 20), p1=(400, 0), p2=(430, 10), angle=45, override={"dimtxt": 3, "dimblk": "OPEN30"}).render()
    msp.add_aligned_dim(p1=(400, 0), p2=(430, 30), distance=10).render()
    msp.add_radius_dim(center=(460, 0), radius=10, angle=30).render()
    msp.add_diameter_dim(center=(460, 0), radius=10, angle=120).render()
    msp.add_angular_dim_3p(base=(480, 20), center=(480, 0), p1=(490, 0), p2=(490, 10)).render()
    msp.add_angular_dim_2l(base=(510, 20), line1=((500, 0), (510, 0)), line2=((500, 0), (505, 10))).render()
    msp.add_ordinate_x_dim(feature_location=(520, 0), offset=(5, 10)).render()
    if doc.dxfversion >= "AC1015":
        msp.add_arc_dim_3p(base=(540, 20), center=(540, 0), p1=(550, 0), p2=(540, 10)).render()


def leaders(doc):
    doc.modelspace().add_leader([(400, 0), (410, 10), (420, 10)], override={"dimldrblk": "DOT"})


def multileader(doc):
    builder = doc.modelspace().add_multileader_mtext("Standard")
    builder.set_content("look here", style="OpenSans", char_height=3)
    builder.add_leader_line(mleader.ConnectionSide.left, [Vec2(380, -10)])
    builder.build(insert=Vec2(400, 20))
    block = doc.blocks.new("BUBBLE")
    block.add_circle((0, 0), 3)
    block.add_attdef("NO", (0, 0), dxfattribs={"height": 2})
    builder = doc.modelspace().add_multileader_block("Standard")
    builder.set_content("BUBBLE")
    builder.set_attribute("NO", "7")
    builder.add_leader_line(mleader.ConnectionSide.right, [Vec2(460, -10)])
    builder.build(insert=Vec2(440, 20))


def tolerance_shape_mline(doc):
    msp = doc.modelspace()
    msp.add_mline([(400, 0), (420, 0), (420, 20)])
    doc.styles.add_shx("shapes.shx")
    msp.add_shape("TRACK1", (400, 40), 2)
    words = {"insert": (400, 60), "content": "{\\Fgdt;j}%%v{\\H2.5;0.5}", "dimstyle": "Standard"}
    msp.new_entity("TOLERANCE", words)


def rays(doc):
    doc.modelspace().add_ray((400, 0), (1, 0.5))
    doc.modelspace().add_xline((400, 0), (0, 1))


def image(doc):
    definition = doc.add_image_def("photo.png", size_in_pixel=(640, 480))
    doc.modelspace().add_image(definition, (400, 0), size_in_units=(64, 48))
    doc.modelspace().add_wipeout([(400, 60), (420, 60), (420, 80), (400, 80)])


def underlays(doc):
    for kind in ["pdf", "dwf", "dgn"]:
        definition = doc.add_underlay_def(f"site.{kind}", fmt=kind, name="1" if kind == "pdf" else "default")
        doc.modelspace().add_underlay(definition, (400, 0), scale=2)


def mesh(doc):
    with doc.modelspace().add_mesh().edit_data() as data:
        cube = forms.cube()
        data.vertices, data.faces = list(cube.vertices), list(cube.faces)


def solids(doc):
    """Data of the solid modeller, which is opaque text or bytes to everybody else."""
    msp = doc.modelspace()
    lines_of_text = ["400 0 1 0 ", "16 somebody's model 10 ACIS 4.00 NT 24 Thu Jan 01 00:00:00 1998 ", "1 9.9999999999999995e-007 1e-010 ",
                     "body $-1 $-1 $-1 $-1 #", "End-of-ACIS-data "]
    for add in [msp.add_3dsolid, msp.add_region, msp.add_body, msp.add_surface]:
        solid = add()
        if solid.has_binary_data:
            solid.sab = bytes(range(200)) * 3
        else:
            solid.sat = lines_of_text


def helix_light(doc):
    msp = doc.modelspace()
    msp.add_helix(radius=10, pitch=3, turns=4)
    msp.new_entity("LIGHT", {"name": "LAMP", "location": (400, 0, 20), "target": (400, 0, 0)})
    doc.objects.new_entity("SUN", {"owner": doc.rootdict.dxf.handle})


def blocks(doc):
    post = doc.blocks.new("POST-A", base_point=(1, 1))
    post.add_lwpolyline([(0, 0), (2, 0), (2, 2), (0, 2)], close=True)
    post.add_attdef("MARK", (3, 3), "?", dxfattribs={"height": 2, "prompt": "mark", "flags": 1})
    outer = doc.blocks.new("SITE é")
    outer.add_blockref("POST-A", (10, 10), {"xscale": -2, "rotation": 30})
    msp = doc.modelspace()
    insert = msp.add_blockref("POST-A", AT, {"layer": "POINTS OF INTEREST" if doc.dxfversion > "AC1009" else "0"})
    insert.add_auto_attribs({"MARK": "A-1"})
    msp.add_blockref("SITE é", AT + (0, 50), {"column_count": 3, "row_count": 2, "column_spacing": 20, "row_spacing": 20})
    doc.blocks.new_anonymous_block("U").add_circle((0, 0), 1)
    doc.blocks.new("*D77").add_line((0, 0), (1, 0))


def extruded(doc):
    ocs = OCS((1, 1, 1))
    centre = ocs.from_wcs(AT)
    doc.modelspace().add_circle(centre, 5, dxfattribs={"extrusion": (1, 1, 1), "thickness": 3})
    doc.modelspace().add_lwpolyline([(400, 0), (410, 0)], dxfattribs={"elevation": 12, "extrusion": (0, 0, -1)})


def colours(doc):
    line = doc.modelspace().add_line(AT, AT + (10, 0), {"color": 5, "lineweight": 50, "linetype": "DASHED", "ltscale": 2})
    if doc.dxfversion >= "AC1018":
        line.rgb = (10, 20, 30)
        line.transparency = 0.5
        line.dxf.color_name = "RAL 9005$black"
    line.dxf.invisible = 1


ENTITIES = {
    "lines": lines, "ellipse-spline": ellipse_spline, "polylines": polylines, "filled": filled, "texts": texts,
    "mtext": mtext, "hatch": hatch, "mpolygon": mpolygon, "dimensions": dimensions, "leaders": leaders,
    "multileader": multileader, "tolerance-shape-mline": tolerance_shape_mline, "rays": rays, "image": image,
    "underlays": underlays, "mesh": mesh, "solids": solids, "helix-light": helix_light, "blocks": blocks,
    "extruded": extruded, "colours": colours,
}

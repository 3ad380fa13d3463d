"""What stands beside the entities in the corpus: layouts, groups, dictionaries, foreign data, tables."""

from ezdxf.entities import factory
from ezdxf.lldxf.extendedtags import ExtendedTags
from ezdxf.lldxf.tags import Tags
from ezdxf.lldxf.types import DXFBinaryTag, DXFTag, DXFVertex


def layouts(doc):
    sheet = doc.layout("Layout1")
    sheet.page_setup(size=(420, 297), margins=(10, 10, 10, 10), units="mm")
    doc.layers.add("HIDDEN IN VIEW" if doc.dxfversion > "AC1009" else "HIDDEN")
    view = sheet.add_viewport(center=(200, 150), size=(300, 200), view_center_point=(120, 72), view_height=300)
    if doc.dxfversion > "AC1009":
        view.frozen_layers = ["HIDDEN IN VIEW"]
        second = doc.layouts.new("Sheet é 2")
        second.add_viewport(center=(100, 100), size=(100, 100), view_center_point=(0, 0), view_height=50)
        second.add_text("on paper", height=3)
    sheet.add_text("title", height=5)


def groups(doc):
    msp = doc.modelspace()
    group = doc.groups.new("PAIR", description="two lines")
    with group.edit_data() as members:
        members += [msp.add_line((400, 0), (410, 0)), msp.add_line((400, 5), (410, 5))]


def foreign_data(doc):
    doc.appids.add("CARPENTER")
    line = doc.modelspace().add_line((400, 0), (410, 0))
    line.set_xdata("CARPENTER", [(1000, "text é"), (1002, "{"), (1070, -7), (1040, 1.5), (1010, (1, 2, 3)), (1002, "}"),
                                 (1003, "0"), (1005, line.dxf.handle), (1071, 123456789), (1004, b"\x01\xfe")])
    line.set_reactors([line.dxf.handle])
    line.set_app_data("{CARPENTER", [(300, "more")])
    doc.layers.get("0").set_xdata("CARPENTER", [(1000, "on a layer")])


def dictionaries(doc):
    root = doc.rootdict
    inner = root.add_new_dict("CARPENTER_DATA")
    inner.add_dict_var("WOOD", "cedar")
    record = inner.add_xrecord("NOTES")
    record.reset([(1, "note"), (5, "FFFFFF"), (330, "0"), (90, 7), (40, 1.25), (102, "{odd"), (102, "}"), (310, b"\x00\x01\x02"), (290, 1)])
    extension = doc.modelspace().add_circle((400, 0), 3).new_extension_dict()
    extension.add_xrecord("MINE").reset([(1, "hidden"), (1000, "x")])
    doc.header.custom_vars.append("Checked by", "nobody")


def tables(doc):
    frozen = doc.layers.add("FROZEN é", color=3)
    frozen.off()
    frozen.freeze()
    doc.layers.add("A" * 200)
    doc.styles.add("Narrow", font="txt")
    doc.styles.add("BIG", font="base.shx").dxf.bigfont = "big.shx"
    doc.dimstyles.duplicate_entry("Standard", "SITE")
    doc.ucs.add("FRONT")
    doc.views.add("NORTH")
    doc.linetypes.add("GAS_TEXT", pattern='A,.5,-.2,["GAS",STANDARD,S=.1,U=0.0,X=-0.1,Y=-.05],-.25', description="Gas ----GAS----", length=1)
    doc.appids.add("ANOTHER_APPLICATION")
    doc.header["$CLAYER"] = "FROZEN é"
    doc.header["$LTSCALE"] = 2.5


def external_reference(doc):
    doc.add_xref_def("site.dxf", "SITE_XREF")
    doc.modelspace().add_blockref("SITE_XREF", (400, 0))


def order_and_geodata(doc):
    msp = doc.modelspace()
    entities = [msp.add_line((400, 0), (410, 0)), msp.add_circle((400, 0), 3)]
    msp.set_redraw_order([(entities[0].dxf.handle, entities[1].dxf.handle), (entities[1].dxf.handle, entities[0].dxf.handle)])
    geodata = msp.new_geodata()
    geodata.coordinate_system_definition = "<?xml?>"


def stored(doc, kind, owner, groups):
    """A record of these groups, of a kind that ezdxf keeps as it is."""
    head = [DXFTag(0, kind), DXFTag(5, doc.entitydb.next_handle()), DXFTag(330, owner)]
    types = {310: DXFBinaryTag, 10: DXFVertex, 11: DXFVertex}
    tags = Tags(head + [types.get(code, DXFTag)(code, value) for code, value in groups])
    entity = factory.load(ExtendedTags(tags), doc)
    factory.bind(entity, doc)
    return entity


def proxies(doc):
    """Records of programs that nobody here knows."""
    space = doc.modelspace().layout_key
    entity = [(100, "AcDbEntity"), (8, "0")]
    proxy = [(100, "AcDbProxyEntity"), (90, 498), (91, 500), (92, 12), (310, bytes(range(12))), (93, 32),
             (310, b"\x55\xaa\x00\x01"), (94, 0)]
    door = [(100, "AecDbDoor"), (40, 36.0), (290, 1), (1, "door é")]
    for kind, groups in [("ACAD_PROXY_ENTITY", proxy), ("AEC_DOOR", door)]:
        doc.modelspace().add_entity(stored(doc, kind, space, entity + groups))
    root = doc.rootdict
    thing = stored(doc, "CARPENTER_OBJECT", root.dxf.handle, [(100, "CpThing"), (5, "ABCDEF"), (310, b"\x01"), (160, 5)])
    doc.objects.add_object(thing)
    root["CARPENTER_OBJECT"] = thing


def drawn_table(doc):
    """A table as CAD programs store it: data that only they read, and a block that all can show."""
    picture = doc.blocks.new_anonymous_block("T")
    picture.add_lwpolyline([(0, 0), (40, 0), (40, -10), (0, -10)], close=True)
    picture.add_text("A1", height=2)
    groups = [(100, "AcDbEntity"), (8, "0"), (100, "AcDbBlockReference"), (2, picture.name), (10, (400, 0, 0)),
              (100, "AcDbTable"), (280, 0), (342, "0"), (343, picture.block_record_handle), (11, (1, 0, 0)), (90, 22),
              (91, 1), (92, 1), (93, 0), (94, 0), (95, 0), (96, 0), (141, 10.0), (142, 40.0), (171, 1), (172, 0),
              (173, 0), (174, 0), (175, 1), (176, 1), (91, 0), (178, 0), (145, 0.0), (1, "A1")]
    doc.modelspace().add_entity(stored(doc, "ACAD_TABLE", doc.modelspace().layout_key, groups))


def many(doc):
    msp = doc.modelspace()
    for n in range(3000):
        msp.add_line((400 + n % 50, n // 50), (401 + n % 50, n // 50), {"color": n % 7})
    for n in range(300):
        doc.layers.add(f"L{n}")


OBJECTS = {
    "layouts": layouts, "groups": groups, "foreign-data": foreign_data, "dictionaries": dictionaries, "tables": tables,
    "external-reference": external_reference, "order-geodata": order_and_geodata, "proxies": proxies,
    "drawn-table": drawn_table, "many": many,
}
NEEDS_R2018 = {"solids", "mtext"}

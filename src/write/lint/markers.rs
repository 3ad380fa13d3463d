//! Subclass markers that a record must have (DXF reference, each record's "Subclass marker" rows).

/// Markers of an entity after `AcDbEntity`, in this order. Where a kind has variants, only what all have; nothing for
/// kinds that are not known here.
pub(super) fn of_entity(kind: &str) -> &'static [&'static str] {
    match kind {
        "LINE" => &["AcDbLine"],
        "POINT" => &["AcDbPoint"],
        "CIRCLE" => &["AcDbCircle"],
        "ARC" => &["AcDbCircle", "AcDbArc"],
        "ELLIPSE" => &["AcDbEllipse"],
        "SPLINE" => &["AcDbSpline"],
        "LWPOLYLINE" => &["AcDbPolyline"],
        "SOLID" | "TRACE" => &["AcDbTrace"],
        "3DFACE" => &["AcDbFace"],
        "RAY" => &["AcDbRay"],
        "XLINE" => &["AcDbXline"],
        "TEXT" => &["AcDbText", "AcDbText"],
        "ATTRIB" => &["AcDbText", "AcDbAttribute"],
        "ATTDEF" => &["AcDbText", "AcDbAttributeDefinition"],
        "MTEXT" => &["AcDbMText"],
        "HATCH" => &["AcDbHatch"],
        "LEADER" => &["AcDbLeader"],
        "MLINE" => &["AcDbMline"],
        "IMAGE" => &["AcDbRasterImage"],
        "VIEWPORT" => &["AcDbViewport"],
        "DIMENSION" => &["AcDbDimension"],
        "BLOCK" => &["AcDbBlockBegin"],
        "ENDBLK" => &["AcDbBlockEnd"],
        _ => &[],
    }
}

/// Entities whose markers depend on their variant: how many follow `AcDbEntity` at least. `flags` is group 70.
pub(super) fn least(kind: &str, flags: i64) -> usize {
    match kind {
        // A rotated dimension is an aligned one with a marker more.
        "DIMENSION" if flags & 7 == 0 => 3,
        "DIMENSION" => 2,
        "INSERT" | "POLYLINE" | "VERTEX" => 1,
        _ => 0,
    }
}

/// Marker of a table record after `AcDbSymbolTableRecord`.
pub(super) fn of_table(table: &str) -> Option<&'static str> {
    Some(match table {
        "VPORT" => "AcDbViewportTableRecord",
        "LTYPE" => "AcDbLinetypeTableRecord",
        "LAYER" => "AcDbLayerTableRecord",
        "STYLE" => "AcDbTextStyleTableRecord",
        "VIEW" => "AcDbViewTableRecord",
        "UCS" => "AcDbUCSTableRecord",
        "APPID" => "AcDbRegAppTableRecord",
        "DIMSTYLE" => "AcDbDimStyleTableRecord",
        "BLOCK_RECORD" => "AcDbBlockTableRecord",
        _ => return None,
    })
}

/// Markers of an object.
pub(super) fn of_object(kind: &str) -> &'static [&'static str] {
    match kind {
        "DICTIONARY" => &["AcDbDictionary"],
        "ACDBDICTIONARYWDFLT" => &["AcDbDictionary", "AcDbDictionaryWithDefault"],
        "LAYOUT" => &["AcDbPlotSettings", "AcDbLayout"],
        "XRECORD" => &["AcDbXrecord"],
        "GROUP" => &["AcDbGroup"],
        "MLINESTYLE" => &["AcDbMlineStyle"],
        _ => &[],
    }
}

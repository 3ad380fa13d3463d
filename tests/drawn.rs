//! Writes small DXF drawings for tests: lines and polylines on layers, nothing else.

use std::f64::consts::PI;

/// A line or polyline, in drawing units.
#[derive(Debug, Clone, PartialEq)]
pub struct Path {
    /// Layer.
    pub layer: &'static str,
    /// Vertices.
    pub points: Vec<[f64; 2]>,
    /// Whether the last vertex is joined to the first.
    pub closed: bool,
}

/// The unit that the drawing says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Insunits {
    /// `$INSUNITS` 1.
    Inch,
    /// `$INSUNITS` 4.
    Millimetre,
    /// `$INSUNITS` 0.
    None,
}

/// A deck edge.
pub fn edge(points: &[[f64; 2]], closed: bool) -> Path {
    Path { layer: "DECK-EDGE", points: points.to_vec(), closed }
}

/// A house wall.
pub fn wall(points: &[[f64; 2]], closed: bool) -> Path {
    Path { layer: "WALL", points: points.to_vec(), closed }
}

/// A box from corner to corner.
pub fn corners(left: f64, low: f64, right: f64, high: f64) -> [[f64; 2]; 4] {
    [[left, low], [right, low], [right, high], [left, high]]
}

/// The drawing with each path as one LWPOLYLINE.
pub fn polylines(paths: &[Path], unit: Insunits) -> String {
    let path = |p: &Path| {
        let flag = i32::from(p.closed);
        let head =
            format!("0\nLWPOLYLINE\n100\nAcDbEntity\n8\n{}\n100\nAcDbPolyline\n90\n{}\n", p.layer, p.points.len());
        let points: String = p.points.iter().map(|[x, y]| format!("10\n{x}\n20\n{y}\n")).collect();
        format!("{head}70\n{flag}\n{points}")
    };
    document(&paths.iter().map(path).collect::<String>(), unit)
}

/// The drawing with each edge as a LINE, in the order that `shuffle` gives to the list; a line whose place in the list
/// is odd is drawn backwards.
pub fn lines(paths: &[Path], unit: Insunits, shuffle: impl Fn(&mut Vec<String>)) -> String {
    let mut all = Vec::new();
    for path in paths {
        let next = path.points.iter().skip(1).chain(path.points.first().filter(|_| path.closed));
        for (a, b) in path.points.iter().zip(next) {
            let ([[ax, ay], [bx, by]], layer) = (if all.len() % 2 == 1 { [*b, *a] } else { [*a, *b] }, path.layer);
            all.push(format!(
                "0\nLINE\n100\nAcDbEntity\n8\n{layer}\n100\nAcDbLine\n10\n{ax}\n20\n{ay}\n30\n0\n11\n{bx}\n21\n{by}\n31\n0\n"
            ));
        }
    }
    shuffle(&mut all);
    document(&all.concat(), unit)
}

/// A drawing of R2000 around some entities.
pub fn document(entities: &str, unit: Insunits) -> String {
    let unit = match unit {
        Insunits::Inch => 1,
        Insunits::Millimetre => 4,
        Insunits::None => 0,
    };
    format!(
        "0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1015\n9\n$INSUNITS\n70\n{unit}\n0\nENDSEC\n\
         0\nSECTION\n2\nENTITIES\n{entities}0\nENDSEC\n0\nEOF\n"
    )
}

/// Paths with each vertex moved.
pub fn moved(paths: &[Path], map: impl Fn([f64; 2]) -> [f64; 2]) -> Vec<Path> {
    let path = |p: &Path| Path { points: p.points.iter().map(|v| map(*v)).collect(), ..p.clone() };
    paths.iter().map(path).collect()
}

/// Turned about the origin.
pub fn turned([x, y]: [f64; 2], degrees: f64) -> [f64; 2] {
    let (sin, cos) = (degrees * PI / 180.0).sin_cos();
    [x * cos - y * sin, x * sin + y * cos]
}

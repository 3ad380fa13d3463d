//! Single things of a layer that holds many kinds: what a job points at gets a layer of its own.

use std::borrow::Cow;

use crate::base::plane::{distance, point};
use crate::base::{Code, Finding, Piece, Place, Point, decimal};
use crate::cad::{Drawing, Entity, Shape};
use crate::catalog::LayerPick;

use super::roles::Role;

/// A thing is pointed at when it passes within 2 mm of the point: less than two things are ever drawn apart, more than
/// the third decimal of a metre.
pub const REACH_MM: f64 = 2.0;

/// The points of a pick by role.
const fn points(pick: &LayerPick) -> [(Role, &Vec<[f64; 2]>); 7] {
    [
        (Role::Edge, &pick.edge),
        (Role::Opening, &pick.opening),
        (Role::Post, &pick.post),
        (Role::Stair, &pick.stair),
        (Role::Wall, &pick.wall),
        (Role::KeepOut, &pick.keep_out),
        (Role::Joist, &pick.joist),
    ]
}

/// The layer that things of a role get. No drawing has such a name: `:` is forbidden in it (DXF reference, symbol names).
fn own_layer(layer: &str, role: Role) -> String {
    format!("{layer}: {}", role.word())
}

fn same(a: &str, b: &str) -> bool {
    a.to_lowercase() == b.to_lowercase()
}

/// What a layer is read for: the role of one of our own, or of any role that the pick of the layer has.
pub fn role_of(picks: &[LayerPick], layer: &str) -> Option<Role> {
    picks.iter().find_map(|pick| {
        let mut roles = points(pick).into_iter().filter(|(_, at)| !at.is_empty()).map(|(role, _)| role);
        if same(&pick.layer, layer) { roles.next() } else { roles.find(|role| own_layer(&pick.layer, *role) == layer) }
    })
}

/// The pieces that an entity is drawn with; a point or a text has none.
pub fn pieces(entity: &Entity) -> Vec<Piece> {
    let path = |points: &[Point], closed: bool| {
        let next = points.iter().skip(1).chain(points.first().filter(|_| closed));
        points.iter().zip(next).map(|(a, b)| Piece::straight(*a, *b)).collect()
    };
    match &entity.shape {
        Shape::Path { vertices, closed } => {
            let next = vertices.iter().skip(1).chain(vertices.first().filter(|_| *closed));
            vertices.iter().zip(next).map(|(v, w)| Piece { a: v.at, b: w.at, bulge: v.bulge }).collect()
        }
        Shape::Curve { points, closed } => path(points, *closed),
        Shape::Circle { centre, radius } => {
            let [a, b] = [point(*radius, 0.0), point(-*radius, 0.0)].map(|v| *centre + v);
            vec![Piece { a, b, bulge: 1.0 }, Piece { a: b, b: a, bulge: 1.0 }]
        }
        Shape::Point(_) | Shape::Text { .. } => Vec::new(),
    }
}

/// Distance of an entity from a point.
pub fn apart(entity: &Entity, at: Point) -> f64 {
    match &entity.shape {
        Shape::Point(p) | Shape::Text { at: p, .. } => distance(*p, at),
        _ => pieces(entity).iter().map(|piece| piece.nearest(at).0).fold(f64::INFINITY, f64::min),
    }
}

/// The drawing with each picked thing on a layer of its own, and without what else stands on those layers.
pub fn picked<'a>(drawing: &'a Drawing, picks: &[LayerPick], findings: &mut Vec<Finding>) -> Cow<'a, Drawing> {
    if picks.is_empty() {
        return Cow::Borrowed(drawing);
    }
    let all = || drawing.entities.iter().enumerate();
    // Of each entity the layer that it gets, if it stands on a layer with points.
    let mut moved: Vec<Option<String>> =
        all().map(|(_, e)| picks.iter().any(|p| same(&p.layer, &e.layer)).then(String::new)).collect();
    for pick in picks {
        let on_layer: Vec<(usize, &Entity)> = all().filter(|(_, e)| same(&e.layer, &pick.layer)).collect();
        for (role, [x, y]) in points(pick).into_iter().flat_map(|(role, at)| at.iter().map(move |p| (role, *p))) {
            let p = drawing.frame.to_local(point(x, y));
            let near = on_layer.iter().filter(|(_, e)| apart(e, p) <= REACH_MM).map(|(i, _)| *i);
            let near: Vec<usize> = near.flat_map(|i| meant(drawing, role, i)).collect();
            if near.is_empty() {
                findings.push(nothing(pick, role, p, [x, y]));
            }
            // Where a wall lies on the edge, both pass the point of the edge, and the first role stands.
            for i in near {
                if let Some(Some(layer)) = moved.get_mut(i)
                    && layer.is_empty()
                {
                    *layer = own_layer(&pick.layer, role);
                }
            }
        }
    }
    let mut out = drawing.clone();
    for insert in out.inserts.iter_mut().filter(|n| picks.iter().any(|p| same(&p.layer, &n.layer))) {
        insert.layer.clear();
    }
    for (entity, layer) in out.entities.iter_mut().zip(moved).filter_map(|(e, layer)| Some((e, layer?))) {
        if let Some(insert) = entity.insert.filter(|_| !layer.is_empty()).and_then(|i| out.inserts.get_mut(i)) {
            insert.layer.clone_from(&layer);
        }
        entity.layer = layer;
    }
    out.entities.retain(|e| !e.layer.is_empty());
    Cow::Owned(out)
}

/// An entity; of posts and openings, which are symbols, with all that its block holds.
fn meant(drawing: &Drawing, role: Role, i: usize) -> Vec<usize> {
    let is_symbol = matches!(role, Role::Post | Role::Opening);
    let Some(insert) = drawing.entities.get(i).and_then(|e| e.insert).filter(|_| is_symbol) else { return vec![i] };
    let all = drawing.entities.iter().enumerate();
    all.filter(|(_, e)| e.insert == Some(insert)).map(|(i, _)| i).collect()
}

fn nothing(pick: &LayerPick, role: Role, at: Point, [x, y]: [f64; 2]) -> Finding {
    let (x, y) = (decimal(x, 6), decimal(y, 6));
    let message = format!("nothing on layer {} passes the point {x}, {y} of its {}", pick.layer, role.word());
    let place = Place { layer: Some(pick.layer.clone()), ..Place::at(at) };
    Finding::incomplete(Code::LayerEmpty, place, message)
        .hint("`[[layers.pick]]` in the job file names points on things, in drawing units; correct the point")
}

/// Both ends of an entity that has some.
pub fn ends(entity: &Entity) -> Option<[Point; 2]> {
    match &entity.shape {
        Shape::Path { vertices, closed: false } => Some([vertices.first()?.at, vertices.last()?.at]),
        Shape::Curve { points, closed: false } => Some([*points.first()?, *points.last()?]),
        _ => None,
    }
}

//! The reading of a drawing.

use plumbrail::base::{Point, Unit};
use plumbrail::cad::{self, External, ReadOptions, Shape};

/// A drawing has finite coordinates, sound references between its things, and is the same at a second reading.
pub fn check(bytes: &[u8]) {
    // Every reference leads to the drawing itself: a ring.
    let itself = |r: &cad::Reference<'_>| Ok(External { file: r.path.to_owned(), bytes: bytes.to_vec() });
    let without = ReadOptions { units: None, wanted: &|_| true, hidden_too: &|_| false, externals: &cad::no_externals };
    let within = ReadOptions {
        units: Some(Unit::Inch),
        wanted: &|layer| layer.len() % 3 != 2,
        hidden_too: &|_| false,
        externals: &itself,
    };
    for options in [&without, &within] {
        match cad::read(bytes, options) {
            Ok(drawing) => sound(&drawing),
            Err(refusal) => assert!(!refusal.finding.message.is_empty()),
        }
    }
    assert_eq!(cad::read(bytes, &within), cad::read(bytes, &within));
}

fn sound(drawing: &cad::Drawing) {
    // 1e7 in, the largest coordinate, is 2.54e8 mm; a plan's far corner is at most twice as far from its origin.
    let near = |p: &Point| p.x.abs() < 6e8 && p.y.abs() < 6e8;
    for entity in &drawing.entities {
        assert!(entity.insert.is_none_or(|i| i < drawing.inserts.len()));
        assert!(entity.heights.is_none_or(|h| h[0].is_finite() && h[0] <= h[1]), "{entity:?}");
        match &entity.shape {
            Shape::Path { vertices, .. } => {
                assert!(vertices.len() >= 2);
                assert!(vertices.iter().all(|v| near(&v.at) && v.bulge.is_finite()), "{entity:?}");
            }
            Shape::Circle { centre, radius } => assert!(near(centre) && *radius > 0.0 && *radius < 6e8, "{entity:?}"),
            Shape::Point(p) | Shape::Text { at: p, .. } => assert!(near(p), "{entity:?}"),
            Shape::Curve { points, .. } => assert!(points.len() >= 2 && points.iter().all(near), "{entity:?}"),
        }
    }
    for (i, insert) in drawing.inserts.iter().enumerate() {
        assert!(insert.parent.is_none_or(|p| p < drawing.inserts.len() && p != i));
        assert!(near(&insert.at) && insert.rotation.degrees().is_finite(), "{insert:?}");
    }
    for finding in &drawing.findings {
        assert!(!finding.message.is_empty() && finding.message.len() < 10_000);
    }
}

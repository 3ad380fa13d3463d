//! Plans for the tests of the stairs. Inches.

use crate::base::plane::{distance, point, turned};
use crate::base::{Angle, Code, Finding, Frame, Length, Point, Severity, Unit};
use crate::cad::{Drawing, Entity, Insert, Origin, Shape, Version, Vertex};
use crate::catalog::{self, Job, Settings};
use crate::deck::{Before, Flight, Plan, Roles, Unmarked, plan};

pub const IN: f64 = 25.4;

/// A way to place a plan: turned by degrees, moved, and mirrored or not.
#[derive(Clone, Copy)]
pub struct Way(pub f64, pub Point, pub bool);

pub const AS_IT_IS: Way = Way(0.0, point(0.0, 0.0), false);

impl Way {
    pub fn of(self, x: f64, y: f64) -> Point {
        let p = point(if self.2 { -x } else { x }, y);
        (turned(p, Angle::from_degrees(self.0)) + self.1) * IN
    }
}

pub struct Draft {
    pub way: Way,
    pub entities: Vec<Entity>,
    pub inserts: Vec<Insert>,
}

impl Draft {
    pub fn new(way: Way) -> Self {
        Self { way, entities: Vec::new(), inserts: Vec::new() }
    }

    pub fn add(&mut self, layer: &str, shape: Shape, ends: Option<[f64; 2]>) -> &mut Self {
        let heights = ends.map(|[a, b]: [f64; 2]| [a.min(b), a.max(b)]);
        let origin = Origin { handle: Some(self.entities.len() as u64 + 16), ..Origin::default() };
        self.entities.push(Entity { shape, layer: layer.into(), origin, insert: None, heights, ends });
        self
    }

    pub fn path(&mut self, layer: &str, points: &[(f64, f64)], closed: bool, z: [f64; 2]) -> &mut Self {
        let vertices = points.iter().map(|(x, y)| Vertex { at: self.way.of(*x, *y), bulge: 0.0 }).collect();
        self.add(layer, Shape::Path { vertices, closed }, Some(z.map(|z| z * IN)))
    }

    pub fn line(&mut self, a: (f64, f64), b: (f64, f64)) -> &mut Self {
        self.path("STAIR", &[a, b], false, [0.0; 2])
    }

    pub fn rect(&mut self, layer: &str, a: (f64, f64), b: (f64, f64)) -> &mut Self {
        self.path(layer, &[a, (b.0, a.1), b, (a.0, b.1)], true, [0.0; 2])
    }

    /// Tread lines from x 100 to 148 at each y.
    pub fn treads(&mut self, ys: &[f64]) -> &mut Self {
        for y in ys {
            self.line((100.0, *y), (148.0, *y));
        }
        self
    }

    pub fn text(&mut self, x: f64, y: f64, content: &str) -> &mut Self {
        let at = self.way.of(x, y);
        self.add("STAIR", Shape::Text { at, content: content.into() }, None)
    }

    pub fn read_with(&self, job: &str) -> (Plan, Vec<Finding>) {
        let job: Job = catalog::read_job(job, "job.toml").unwrap();
        let system = catalog::system_named("composite-36").unwrap();
        let rules = catalog::rules_named("irc-2021").unwrap();
        let settings = Settings::new(job, system, rules).unwrap();
        let drawing = Drawing {
            unread: Vec::new(),
            version: Version::R2000,
            binary: false,
            encoding: "UTF-8",
            frame: Frame { unit: Unit::Inch, origin: point(0.0, 0.0) },
            layers: Vec::new(),
            entities: self.entities.clone(),
            inserts: self.inserts.clone(),
            ours: Vec::new(),
            marks: Default::default(),
            findings: Vec::new(),
        };
        let roles = Roles::new(&settings.layers, settings.own_layers());
        plan(&drawing, &roles, Before::Marks(&Unmarked::default()), &settings).unwrap()
    }

    pub fn read(&self) -> (Plan, Vec<Finding>) {
        self.read_with("")
    }
}

/// A deck of 240 x 144 above y = 0: its stairs go down to negative y.
pub fn deck(way: Way) -> Draft {
    let mut draft = Draft::new(way);
    draft.rect("DECK-EDGE", (0.0, 0.0), (240.0, 144.0));
    draft
}

pub fn ys(first: f64, count: usize, tread: f64) -> Vec<f64> {
    (0..count).map(|k| first - tread * k as f64).collect()
}

pub fn inches(text: &str) -> Length {
    Length::parse(text, Some(Unit::Inch)).unwrap()
}

pub fn only(plan: &Plan) -> &Flight {
    let [flight] = plan.flights.as_slice() else { panic!("{:?}", plan.flights) };
    flight
}

pub fn near(a: Point, b: Point) -> bool {
    distance(a, b) < 1e-6
}

pub fn codes(findings: &[Finding]) -> Vec<(Code, Severity)> {
    findings.iter().map(|f| (f.code, f.severity)).collect()
}

/// Eleven risers of 7-5/8 on ten treads of 10: top nosing from (148, 0) left to (100, 0) right when it falls to -y.
pub fn is_usual(plan: &Plan, way: Way) {
    let f = only(plan);
    assert_eq!((f.id.as_str(), f.risers, f.steps.riser, f.steps.tread), ("F1", 11, inches("7-5/8"), inches("10")));
    assert_eq!((f.length(), f.total_rise()), (inches("100"), inches("83.875")));
    let (a, b) = (way.of(148.0, 0.0), way.of(100.0, 0.0));
    let [left, right] = if way.2 { [b, a] } else { [a, b] };
    assert!(near(f.top[0], left) && near(f.top[1], right), "{:?}", f.top);
    assert!(near(f.at(true, 254.0, 0.0), left + (way.of(0.0, -10.0) - way.of(0.0, 0.0))));
    assert_eq!(f.tread_variation, Length::ZERO);
}

//! Site measurements: what openings really are once the posts stand.
//!
//! A CSV file with the columns `span` and `opening`, and optionally `top` and `bottom` where posts lean and the opening
//! differs between the height of the top and of the bottom rail. Other columns (of the blank `measure.csv` that
//! `layout` writes) are left alone; a row without a measurement is a span that nobody measured.

use std::collections::BTreeMap;

use crate::base::{Length, Unit, of_cell};

use super::CatalogError;

/// A measured opening.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Measured {
    /// Narrowest clear distance: what the rails must fit into.
    pub narrow: Length,
    /// Widest clear distance: where the gaps at the ends are widest.
    pub wide: Length,
}

/// Measurements by span id.
pub type Measurements = BTreeMap<String, Measured>;

/// Reads measurements; bare numbers are in `unit`, where there is one.
///
/// # Errors
/// When a needed column is missing, a value is no length or has no unit, or a span stands twice; with the line.
pub fn read_measured(text: &str, file: &str, unit: Option<Unit>) -> Result<Measurements, CatalogError> {
    let mut reader = csv::ReaderBuilder::new().flexible(true).trim(csv::Trim::All).from_reader(text.as_bytes());
    let header = reader.headers().map_err(|e| CatalogError::new(format!("{file}: {e}")))?.clone();
    let column = |name: &str| header.iter().position(|h| h.eq_ignore_ascii_case(name));
    let missing = |name: &str| {
        CatalogError::new(format!("{file}: there is no column `{name}`"))
            .hint("write a header line with `span,opening`; `layout` writes a blank measure.csv")
    };
    let span = column("span").ok_or_else(|| missing("span"))?;
    let opening = column("opening").ok_or_else(|| missing("opening"))?;
    let others = [column("top"), column("bottom")];
    let mut out = Measurements::new();
    for row in reader.records() {
        let row = row.map_err(|e| CatalogError::new(format!("{file}: {e}")))?;
        let line = row.position().map_or(0, csv::Position::line);
        let mut lengths = Vec::new();
        for cell in [Some(opening), others[0], others[1]].into_iter().flatten().filter_map(|c| row.get(c)) {
            if cell.is_empty() {
                continue;
            }
            let length = Length::parse(cell, unit).map_err(|e| CatalogError::new(format!("{file}:{line}: {e}")))?;
            if length <= Length::ZERO {
                return Err(CatalogError::new(format!("{file}:{line}: an opening of {length} is none")));
            }
            lengths.push(length);
        }
        let (Some(narrow), Some(wide)) = (lengths.iter().min(), lengths.iter().max()) else { continue };
        let id = of_cell(row.get(span).unwrap_or_default()).into_owned();
        if id.is_empty() {
            return Err(CatalogError::new(format!("{file}:{line}: the span has no id")));
        }
        if out.insert(id.clone(), Measured { narrow: *narrow, wide: *wide }).is_some() {
            return Err(CatalogError::new(format!("{file}:{line}: span {id} is measured twice")));
        }
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_openings_and_leaning_posts() {
        let text = "span,from,to,opening,top,bottom\nS1,P1,P2,5'-3\",,\nS2,P2,P3,,60,60 1/4in\nS3,P3,P4,,,\n";
        let read = read_measured(text, "m.csv", Some(Unit::Inch)).unwrap();
        assert_eq!(read.len(), 2);
        assert_eq!(read["S1"], Measured { narrow: Length::INCH * 63, wide: Length::INCH * 63 });
        assert_eq!(read["S2"].narrow, Length::INCH * 60);
        assert_eq!(read["S2"].wide.inches(), 60.25);
    }

    #[test]
    fn ids_are_read_as_they_were_written() {
        for id in ["S1", "=S1", "-S1", "-5", "'@S1", "S;=1"] {
            let text = format!("span,opening\n{},60in\n", crate::base::to_cell(id));
            assert_eq!(read_measured(&text, "m.csv", None).unwrap().into_keys().next().as_deref(), Some(id));
        }
    }

    #[test]
    fn says_what_is_wrong_and_where() {
        for (text, said) in [
            ("id,opening\nS1,60\n", "no column `span`"),
            ("span,opening\nS1,sixty\n", "m.csv:2"),
            ("span,opening\nS1,60\nS1,61\n", "measured twice"),
            ("span,opening\nS1,-60\n", "is none"),
        ] {
            let error = read_measured(text, "m.csv", Some(Unit::Inch)).unwrap_err().message;
            assert!(error.contains(said), "{error}");
        }
        let bare = read_measured("span,opening\nS1,60in\nS2,60\n", "m.csv", None).unwrap_err().message;
        assert!(bare.starts_with("m.csv:3: `60` is not a length: it has no unit;"), "{bare}");
    }
}

//! Stock on hand: offcuts and leftovers that are used before anything is bought.
//!
//! A CSV file with the columns `member`, `length` and `count`; a row without a count is one piece. Other columns are left
//! alone.

use crate::base::{Length, Unit};

use super::{CatalogError, Stocked};

/// Equal pieces that lie in the shop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OnHand {
    /// What they are.
    pub member: Stocked,
    /// Length of each.
    pub length: Length,
    /// How many.
    pub count: u32,
}

/// Reads stock on hand; bare numbers are in `unit`, where there is one.
///
/// # Errors
/// When a needed column is missing, or a value is no member, length or count, or has no unit; with the line.
pub fn read_on_hand(text: &str, file: &str, unit: Option<Unit>) -> Result<Vec<OnHand>, CatalogError> {
    let mut reader = csv::ReaderBuilder::new().flexible(true).trim(csv::Trim::All).from_reader(text.as_bytes());
    let header = reader.headers().map_err(|e| CatalogError::new(format!("{file}: {e}")))?.clone();
    let column = |name: &str| header.iter().position(|h| h.eq_ignore_ascii_case(name));
    let missing = |name: &str| {
        CatalogError::new(format!("{file}: there is no column `{name}`"))
            .hint("write a header line with `member,length,count`")
    };
    let member = column("member").ok_or_else(|| missing("member"))?;
    let length = column("length").ok_or_else(|| missing("length"))?;
    let count = column("count");
    let mut out = Vec::new();
    for row in reader.records() {
        let row = row.map_err(|e| CatalogError::new(format!("{file}: {e}")))?;
        let line = row.position().map_or(0, csv::Position::line);
        let wrong = |what: String| CatalogError::new(format!("{file}:{line}: {what}"));
        let cell = |column: usize| row.get(column).unwrap_or_default();
        if row.iter().all(str::is_empty) {
            continue;
        }
        let found = Stocked::ALL.into_iter().find(|s| s.text() == cell(member));
        let names = || Stocked::ALL.map(Stocked::text).join(", ");
        let member = found.ok_or_else(|| wrong(format!("`{}` is no member; write {}", cell(member), names())))?;
        let length = Length::parse(cell(length), unit).map_err(|e| wrong(e.to_string()))?;
        if length <= Length::ZERO {
            return Err(wrong(format!("a piece of {length} is none")));
        }
        let count = match count.map(cell).unwrap_or_default() {
            "" => 1,
            text => text.parse().map_err(|_| wrong(format!("`{text}` is no count")))?,
        };
        out.push(OnHand { member, length, count });
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_pieces_with_and_without_a_count() {
        let read =
            read_on_hand("member,length,count\ncap,5'-3\",2\ntop-rail,40,\n", "s.csv", Some(Unit::Inch)).unwrap();
        assert_eq!(read[0], OnHand { member: Stocked::Cap, length: Length::INCH * 63, count: 2 });
        assert_eq!((read[1].length, read[1].count), (Length::INCH * 40, 1));
    }

    #[test]
    fn says_what_is_wrong_and_where() {
        for (text, said) in [
            ("length,count\n40,1\n", "no column `member`"),
            ("member,length\npost,40\n", "s.csv:2: `post` is no member"),
            ("member,length\ncap,forty\n", "s.csv:2"),
            ("member,length\ncap,-4\n", "is none"),
            ("member,length,count\ncap,40,many\n", "`many` is no count"),
        ] {
            let error = read_on_hand(text, "s.csv", Some(Unit::Inch)).unwrap_err().message;
            assert!(error.contains(said), "{error}");
        }
        let bare = read_on_hand("member,length\ncap,40\n", "s.csv", None).unwrap_err().message;
        assert!(bare.starts_with("s.csv:2: `40` is not a length: it has no unit;"), "{bare}");
    }
}

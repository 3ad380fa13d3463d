//! Lengths and slopes as people write them.

use plumbrail::base::{Length, Pitch, Unit, feet_inches};

/// What is read is printed so that it is read again as the same.
pub fn check(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    for bare in [None, Some(Unit::Inch), Some(Unit::Millimetre), Some(Unit::Foot)] {
        match Length::parse(text, bare) {
            Ok(length) => {
                assert_eq!(Length::parse(&length.to_string(), None), Ok(length));
                assert!(!length.told().is_empty());
                if length.nanometres() % (Length::INCH.nanometres() / 64) == 0 {
                    assert_eq!(Length::parse(&feet_inches(length, 64), None), Ok(length));
                }
            }
            Err(error) => assert!(error.to_string().len() < 1000),
        }
        if let Ok(pitch) = Pitch::parse(text, bare) {
            assert_eq!(Pitch::parse(&pitch.to_string(), None), Ok(pitch));
            assert!(pitch.angle().degrees() > 0.0 && pitch.angle().degrees() < 90.0 || pitch.factor() >= 1.0);
        }
    }
}

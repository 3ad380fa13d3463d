//! DWG files, with the cargo feature `dwg`: made DXF, which then is read like any other.

use std::io::Cursor;
use std::panic;

use acadrust::DxfWriter;
use acadrust::io::dwg::{DwgReadOptions, DwgReader};
use acadrust::io::read::ReadOutcome;
use acadrust::notification::NotificationType;

use crate::base::{Code, Finding, Place, Refusal};

/// Most bytes that the sections of a file may unfold to: ten times the largest plans.
const MOST_BYTES: usize = 1 << 30;

/// Makes a DXF drawing of a DWG file, in the version of that file.
///
/// # Errors
/// When the file is damaged, or of a kind that the reading library does not know.
pub fn dwg_to_dxf(bytes: &[u8]) -> Result<Vec<u8>, Refusal> {
    let bytes = bytes.to_vec();
    // The library is not ours: should a damaged file make it panic, that file is not usable, and nothing else is.
    panic::catch_unwind(move || convert(bytes)).unwrap_or_else(|_| Err("it is damaged".to_owned())).map_err(|why| {
        let finding = Finding::error(Code::NotReadable, Place::none(), format!("the DWG cannot be read: {why}"));
        Refusal::new(finding.hint("open it in a CAD program and save it as DXF there"))
    })
}

fn convert(bytes: Vec<u8>) -> Result<Vec<u8>, String> {
    let options = DwgReadOptions::default().with_max_decompressed_bytes(MOST_BYTES);
    let read = DwgReader::from_stream_with_options(Cursor::new(bytes), options).read_with_stats();
    let ReadOutcome { document, stats } = read.map_err(|e| e.to_string())?;
    // The library goes on without sections and records that it cannot read; half a deck is worse than none.
    if let Some(error) = document.notifications.of_type(NotificationType::Error).first() {
        return Err(error.message.clone());
    }
    if stats.skipped_source_records > 0 || stats.recovered_errors > 0 {
        return Err(format!("{} of its records cannot be read", stats.skipped_source_records.max(1)));
    }
    DxfWriter::new(&document).write_to_vec().map_err(|e| e.to_string())
}

//! `schedule.xlsx`: the shop's lists as a workbook, one sheet each, for people who plan with one.
//!
//! The rows are those of the CSV files; what is a number there is a number here. Dates are fixed, so that the same layout
//! gives the same bytes.

use std::borrow::Cow;

use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, Workbook, Worksheet, XlsxError,
};

use super::csv::mark_rows;
use super::shop::{cut_rows, hardware_rows, order_rows};
use crate::parts::Layout;
use crate::sheet::CAUTIONS;

/// Columns are not made wider than this, in characters.
const WIDEST: usize = 42;

/// Longest text of a cell, in UTF-16 units (limits of Excel's format).
const LONGEST: usize = 32_767;

/// What a cell takes of a text: the CSV files hold all of it.
fn held(text: &str) -> Cow<'_, str> {
    if text.len() <= LONGEST {
        return text.into();
    }
    let mut room = LONGEST - 3;
    let fits = |c: &char| {
        let left = room.checked_sub(c.len_utf16());
        room = left.unwrap_or(0);
        left.is_some()
    };
    let kept: String = text.chars().take_while(fits).collect();
    if kept.len() == text.len() { text.into() } else { format!("{kept}...").into() }
}

/// The workbook.
///
/// # Errors
/// When a list has more rows than a sheet holds (1,048,576).
pub fn schedule(layout: &Layout) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    let fixed = ExcelDateTime::from_ymd(2000, 1, 1)?;
    book.set_properties(&DocProperties::new().set_title("Guard rail schedule").set_creation_datetime(&fixed));
    book.push_worksheet(first(layout)?);
    for (name, rows) in [
        ("Cuts", cut_rows(layout)),
        ("Marks", mark_rows(layout)),
        ("Hardware", hardware_rows(layout)),
        ("Order", order_rows(layout)),
    ] {
        book.push_worksheet(list(name, &rows)?);
    }
    book.save_to_buffer()
}

/// What the workbook is of, what it adds up to, and what to heed.
fn first(layout: &Layout) -> Result<Worksheet, XlsxError> {
    let mut sheet = Worksheet::new();
    sheet.set_name("Read first")?;
    let bold = Format::new().set_bold();
    sheet.write_with_format(0, 0, "Guard rail schedule", &bold)?;
    let mut facts = vec![("Plan", layout.plan.file.clone()), ("Rail system", layout.system.title.clone())];
    facts.extend(layout.project.name.clone().map(|n| ("Project", n)));
    facts.extend(layout.order_total().map(|t| ("Order total", format!("{t:.2}"))));
    facts.extend(layout.order_lower_bound().map(|b| ("No order costs less than", format!("{b:.2}"))));
    facts.extend(layout.order_weight().map(|w| ("Weight, kg", crate::base::decimal(w, 1))));
    let mut row = 2;
    for (what, value) in facts {
        sheet.write(row, 0, what)?;
        sheet.write(row, 1, held(&value).as_ref())?;
        row += 1;
    }
    for caution in CAUTIONS {
        row += 1;
        sheet.write(row, 0, caution)?;
    }
    sheet.set_column_width(0, 26)?;
    sheet.set_column_width(1, 50)?;
    set_up(&mut sheet, "Read first");
    Ok(sheet)
}

/// One list: a frozen header that is printed on every page, numbers as numbers.
fn list(name: &str, rows: &[Vec<String>]) -> Result<Worksheet, XlsxError> {
    let mut sheet = Worksheet::new();
    sheet.set_name(name)?;
    let head =
        Format::new().set_bold().set_border_bottom(FormatBorder::Thin).set_align(FormatAlign::Top).set_text_wrap();
    let mut widths: Vec<usize> = Vec::new();
    for (r, row) in rows.iter().enumerate() {
        let r = u32::try_from(r).map_err(|_| XlsxError::RowColumnLimitError)?;
        for (c, cell) in row.iter().enumerate() {
            let column = u16::try_from(c).map_err(|_| XlsxError::RowColumnLimitError)?;
            if c >= widths.len() {
                widths.push(0);
            }
            if let Some(width) = widths.get_mut(c) {
                // Headers wrap at their underscores, which are shown as spaces.
                let own = if r == 0 { cell.split('_').map(str::len).max().unwrap_or(0) } else { cell.chars().count() };
                *width = own.clamp(*width, WIDEST.max(*width));
            }
            match cell.parse::<f64>() {
                _ if r == 0 => sheet.write_with_format(r, column, cell.replace('_', " "), &head)?,
                Ok(number) if number.is_finite() && is_number(rows, c) => sheet.write_number(r, column, number)?,
                _ if cell.is_empty() => &mut sheet,
                _ => sheet.write_string(r, column, held(cell))?,
            };
        }
    }
    for (column, width) in (0..).zip(widths) {
        sheet.set_column_width(column, width as f64 + 2.0)?;
    }
    sheet.set_freeze_panes(1, 0)?;
    sheet.set_repeat_rows(0, 0)?;
    if let (Ok(last_row), Ok(last)) = (u32::try_from(rows.len()), u16::try_from(rows.first().map_or(0, Vec::len)))
        && last_row > 1
        && last > 0
    {
        sheet.autofilter(0, 0, last_row - 1, last - 1)?;
    }
    set_up(&mut sheet, name);
    Ok(sheet)
}

/// Whether a column holds numbers: texts of marks (`63`, `5'-3"`) stay texts.
fn is_number(rows: &[Vec<String>], column: usize) -> bool {
    let Some(head) = rows.first().and_then(|r| r.get(column)) else { return false };
    let counts =
        ["stick", "number", "count", "needed", "spare", "per_pack", "packs", "left_over", "price", "weight_kg"];
    head.ends_with("_in") || head.ends_with("_mm") || head.ends_with("_degrees") || counts.contains(&head.as_str())
}

/// Prints on as few pages as it fits, one page wide.
fn set_up(sheet: &mut Worksheet, name: &str) {
    sheet.set_landscape();
    sheet.set_print_fit_to_pages(1, 0);
    sheet.set_header(format!("&L{name}&RGuard rail schedule"));
    sheet.set_footer("&LMeasure every opening on site before cutting.&RPage &P of &N");
}

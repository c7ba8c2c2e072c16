//! Comma-separated values as spreadsheets write them (RFC 4180): comma, semicolon or tab between the cells, quotes around
//! those that hold one, any end of line.

use csv_core::ReadFieldResult;

/// One line of a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Record {
    /// Line of the text on which it begins, from 1.
    pub line: u64,
    pub cells: Vec<String>,
}

/// What stands between the cells: a semicolon or a tab where the first line with text has one, else a comma.
pub fn separator_of(text: &str) -> char {
    let first_line = text.lines().find(|line| !line.trim().is_empty()).unwrap_or_default();
    let has = |separator: char| first_line.chars().any(|letter| letter == separator);
    [';', '\t'].into_iter().find(|separator| has(*separator)).unwrap_or(',')
}

/// The lines of a table, with the quotes of spreadsheets taken off; lines without anything are left out.
pub fn records(text: &str, separator: char) -> Vec<Record> {
    let mut reader = csv_core::ReaderBuilder::new().delimiter(separator as u8).build();
    // No cell is longer than the text.
    let mut cell = vec![0; text.len() + 1];
    let (mut rest, mut length) = (text.as_bytes(), 0);
    let (mut records, mut cells) = (Vec::new(), Vec::new());
    let mut line = first_line_with_text(rest, 1);
    loop {
        // Called with nothing left, the reader ends the last cell, then the text.
        let (result, read, written) = reader.read_field(rest, &mut cell[length..]);
        rest = &rest[read..];
        length += written;
        match result {
            ReadFieldResult::InputEmpty => {}
            ReadFieldResult::Field { record_end } => {
                // Cells end at characters of one byte, so that none is cut.
                cells.push(String::from_utf8(cell[..length].to_vec()).unwrap_or_default());
                length = 0;
                if record_end {
                    records.push(Record { line, cells: std::mem::take(&mut cells) });
                    line = first_line_with_text(rest, reader.line());
                }
            }
            ReadFieldResult::OutputFull | ReadFieldResult::End => return records,
        }
    }
}

/// The reader skips lines without anything before it begins a record.
fn first_line_with_text(rest: &[u8], line: u64) -> u64 {
    let skipped = rest.iter().take_while(|byte| matches!(byte, b'\n' | b'\r'));
    line + skipped.filter(|byte| **byte == b'\n').count() as u64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn records_know_their_lines() {
        let text = "a;b\r\n\r\n\"two\nlines\";2\n\n3;4";
        let read: Vec<(u64, Vec<String>)> = records(text, separator_of(text))
            .into_iter()
            .map(|record| (record.line, record.cells))
            .collect();
        let cells = |cells: [&str; 2]| cells.map(String::from).to_vec();
        assert_eq!(
            read,
            [(1, cells(["a", "b"])), (3, cells(["two\nlines", "2"])), (6, cells(["3", "4"]))]
        );
    }
}

/// Rows of one of our own tables: the comment lines (`#`) on top and the header row left out, cells unquoted. Below the header a
/// `#` is data: drills are named #80.
///
/// The tables are compiled in, so a row that can't be read is our bug; tests count the rows of every table.
pub fn rows(text: &'static str) -> impl Iterator<Item = Vec<&'static str>> {
    text.lines().skip_while(|line| line.starts_with('#')).skip(1).filter(|line| !line.is_empty()).map(cells)
}

/// Header cells.
pub fn header(text: &'static str) -> Vec<&'static str> {
    text.lines().find(|line| !line.starts_with('#')).map(cells).unwrap_or_default()
}

/// Comment lines without their marks: what the table is, its sources, how sure it is.
pub fn remarks(text: &'static str) -> Vec<&'static str> {
    text.lines().take_while(|line| line.starts_with('#')).map(|line| line.trim_start_matches('#').trim()).collect()
}

fn cells(line: &'static str) -> Vec<&'static str> {
    let (mut out, mut start, mut quoted) = (Vec::new(), 0, false);
    for (at, byte) in line.bytes().enumerate() {
        match byte {
            b'"' => quoted = !quoted,
            b',' if !quoted => {
                out.push(line.get(start..at).unwrap_or_default().trim_matches('"'));
                start = at + 1;
            }
            _ => {}
        }
    }
    out.push(line.get(start..).unwrap_or_default().trim_matches('"'));
    out
}

/// A cell as a number.
pub fn number(row: &[&str], column: usize) -> Option<f64> {
    row.get(column)?.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quoted_commas_stay_in_their_cell() {
        assert_eq!(cells("\"brass, inch\",0,\"x\""), ["brass, inch", "0", "x"]);
        assert_eq!(rows("# about\na,b\n1,2\n").collect::<Vec<_>>(), [["1", "2"]]);
        assert_eq!(rows("# about\na\n#80\n").collect::<Vec<_>>(), [["#80"]]);
        assert_eq!(remarks("# about\n# more\na,b\n"), ["about", "more"]);
    }
}

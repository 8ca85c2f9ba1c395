//! Printed tables against the same tables in a page: the same text, and numbers up to their last printed digit, because
//! another processor may round them the other way.

/// Compares two lines of a Markdown table cell by cell; `free` names a cell (counted from 0) that may hold any number.
///
/// # Errors
/// A sentence with the two lines.
pub fn same_line(printed: &str, page: &str, free: Option<usize>) -> Result<(), String> {
    let cells = |line: &str| line.trim().split('|').map(|c| c.trim().to_owned()).collect::<Vec<_>>();
    let (printed_cells, page_cells) = (cells(printed), cells(page));
    let same = printed_cells.len() == page_cells.len()
        && printed_cells.iter().zip(&page_cells).enumerate().all(|(k, (a, b))| {
            // The line begins with a bar: cell 0 stands behind the first one.
            if free.is_some_and(|free| free + 1 == k) {
                number(a).is_some() && number(b).is_some()
            } else {
                same_cell(a, b)
            }
        });
    if same { Ok(()) } else { Err(format!("the page says\n{page}\nand the program prints\n{printed}")) }
}

/// The same text, or the same unit behind numbers that differ by one in the last digit at most.
fn same_cell(a: &str, b: &str) -> bool {
    if a == b {
        return true;
    }
    let unit = |text: &str| text.split_once(' ').map_or(String::new(), |(_, unit)| unit.to_owned());
    match (number(a), number(b)) {
        (Some((x, step_x)), Some((y, step_y))) => {
            unit(a) == unit(b) && (x - y).abs() <= 1.001 * step_x.max(step_y)
        }
        _ => false,
    }
}

/// Value and worth of the last printed digit of the number that a cell begins with.
fn number(cell: &str) -> Option<(f64, f64)> {
    let text = cell.split(' ').next()?;
    let value = text.parse::<f64>().ok().filter(|v| v.is_finite())?;
    let (digits, power) = text.split_once('e').unwrap_or((text, "0"));
    let decimals = digits.split_once('.').map_or(0, |(_, after)| after.len()) as f64;
    Some((value, 10f64.powf(power.parse::<f64>().ok()? - decimals)))
}

#[cfg(test)]
mod tests {
    use super::same_line;

    #[test]
    fn only_last_digits_and_free_cells_may_differ() {
        let printed = "| ring | 58.8578 | 58.8579 | +0.0002 % | 2.1e-4 | yes |";
        let same = |page: &str, free| same_line(printed, page, free).is_ok();
        assert!(same(printed, None));
        assert!(same("| ring | 58.8578 | 58.8580 | +0.0001 % | 2.0e-4 | yes |", None));
        for wrong in [
            "| ring | 58.8578 | 58.8581 | +0.0002 % | 2.1e-4 | yes |",
            "| ring | 58.8578 | 58.8579 | +0.0004 % | 2.1e-4 | yes |",
            "| ring | 58.8578 | 58.8579 | +0.0002 mm | 2.1e-4 | yes |",
            "| ring | 58.8578 | 58.8579 | -0.0002 % | 2.1e-4 | yes |",
            "| ring | 58.8578 | 58.8579 | +0.0002 % | 2.1e-5 | yes |",
            "| ring | 58.8578 | 58.8579 | +0.0002 % | 2.1e-4 | NO |",
            "| disc | 58.8578 | 58.8579 | +0.0002 % | 2.1e-4 | yes |",
            "| ring | 58.8578 | 58.8579 | +0.0002 % | | yes |",
            "| ring | 58.8578 | 58.8579 | +0.0002 % | yes |",
        ] {
            assert!(!same(wrong, None), "{wrong}");
        }
        assert!(same("| ring | 58.8578 | 57.0 | +0.0002 % | 2.1e-4 | yes |", Some(2)));
        assert!(!same("| ring | 58.8578 | NaN | +0.0002 % | 2.1e-4 | yes |", Some(2)));
    }
}

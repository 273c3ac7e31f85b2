//! Letters and figures five rows high, drawn with half blocks.
//!
//! ISO 9241-303 asks for characters of 20 to 22 minutes of arc (from memory): 19 mm at 3 m. Five of 24 rows on a screen
//! 170 mm high are 35 mm, five of 40 rows 21 mm. The font is our own because no packaged one is both narrow enough for
//! "LIGHT IN 12:34" in 80 cells and two dots strong.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

/// Rows that big text takes.
pub(super) const HEIGHT: u16 = 5;
/// Cells between two characters.
const GAP: usize = 1;
/// Cells of a blank beside the gaps around it.
const BLANK: usize = 1;

/// Dots of a character, top row first, `#` for ink; two dot rows make one row of cells, and the first dot row of all stays
/// empty so that the letters have air above.
type Shape = [&'static str; 9];

/// Cells that `text` takes in big letters.
pub(super) fn width(text: &str) -> usize {
    let cells: usize = text.chars().map(|c| shape(c).map_or(BLANK, |dots| dots[0].len())).sum();
    cells + GAP * text.chars().count().saturating_sub(1)
}

/// Writes `text` at the top left of `area`. What does not fit is left out by whole characters.
pub(super) fn write(text: &str, area: Rect, style: Style, buffer: &mut Buffer) {
    let mut x = area.x;
    for c in text.chars() {
        let Some(dots) = shape(c) else {
            x = x.saturating_add((BLANK + GAP) as u16);
            continue;
        };
        let cells = dots[0].len() as u16;
        if x + cells > area.right() || area.height < HEIGHT {
            return;
        }
        write_shape(&dots, (x, area.y), style, buffer);
        x += cells + GAP as u16;
    }
}

fn write_shape(dots: &Shape, (left, top): (u16, u16), style: Style, buffer: &mut Buffer) {
    let ink = |row: usize, column: usize| row > 0 && dots[row - 1].as_bytes()[column] == b'#';
    for row in 0..usize::from(HEIGHT) {
        for column in 0..dots[0].len() {
            let symbol = match (ink(2 * row, column), ink(2 * row + 1, column)) {
                (true, true) => "█",
                (true, false) => "▀",
                (false, true) => "▄",
                (false, false) => continue,
            };
            buffer[(left + column as u16, top + row as u16)].set_symbol(symbol).set_style(style);
        }
    }
}

/// The dots of `c`; `None` for a blank and for whatever has none.
#[rustfmt::skip]
fn shape(c: char) -> Option<Shape> {
    Some(match c {
        '0' | 'O' => [".####.", "######", "##..##", "##..##", "##..##", "##..##", "##..##", "######", ".####."],
        '1' => ["..##..", ".###..", "####..", "..##..", "..##..", "..##..", "..##..", "######", "######"],
        '2' => [".####.", "######", "##..##", "....##", "..####", ".####.", "###...", "######", "######"],
        '3' => [".####.", "######", "##..##", "....##", "..###.", "....##", "##..##", "######", ".####."],
        '4' => ["...###", "..####", ".##.##", ".##.##", "##..##", "######", "######", "....##", "....##"],
        '5' => ["######", "######", "##....", "#####.", "######", "....##", "##..##", "######", ".####."],
        '6' => ["..###.", ".####.", "###...", "##....", "#####.", "##..##", "##..##", "######", ".####."],
        '7' => ["######", "######", "....##", "...##.", "...##.", "..##..", "..##..", ".##...", ".##..."],
        '8' => [".####.", "######", "##..##", "##..##", ".####.", "##..##", "##..##", "######", ".####."],
        '9' => [".####.", "######", "##..##", "##..##", ".#####", "....##", "...###", ".####.", ".###.."],
        ':' => ["..", "..", "##", "##", "..", "..", "##", "##", ".."],
        '-' => ["....", "....", "....", "####", "####", "....", "....", "....", "...."],
        'A' => [".####.", "######", "##..##", "##..##", "######", "######", "##..##", "##..##", "##..##"],
        'D' => ["#####.", "######", "##..##", "##..##", "##..##", "##..##", "##..##", "######", "#####."],
        'E' => ["######", "######", "##....", "#####.", "#####.", "##....", "##....", "######", "######"],
        'G' => [".####.", "######", "##..##", "##....", "##.###", "##.###", "##..##", "######", ".####."],
        'H' => ["##..##", "##..##", "##..##", "######", "######", "##..##", "##..##", "##..##", "##..##"],
        'I' => ["##", "##", "##", "##", "##", "##", "##", "##", "##"],
        'L' => ["##...", "##...", "##...", "##...", "##...", "##...", "##...", "#####", "#####"],
        'N' => ["##..##", "##..##", "###.##", "###.##", "######", "##.###", "##.###", "##..##", "##..##"],
        'P' => ["#####.", "######", "##..##", "##..##", "######", "#####.", "##....", "##....", "##...."],
        'S' => [".#####", "######", "##....", "#####.", "######", ".#####", "....##", "######", "#####."],
        'T' => ["######", "######", "..##..", "..##..", "..##..", "..##..", "..##..", "..##..", "..##.."],
        'U' => ["##..##", "##..##", "##..##", "##..##", "##..##", "##..##", "##..##", "######", ".####."],
        'W' => ["##....##", "##....##", "##....##", "##.##.##", "##.##.##", "########", "########", "###..###", "##....##"],
        'Y' => ["##..##", "##..##", "##..##", "######", ".####.", "..##..", "..##..", "..##..", "..##.."],
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_character_is_drawn_with_equal_rows() {
        for c in ('0'..='9').chain('A'..='Z').chain(":-".chars()) {
            if let Some(dots) = shape(c) {
                assert!(dots.iter().all(|row| row.len() == dots[0].len()), "{c}");
            }
        }
    }

    #[test]
    fn every_word_of_a_cue_can_be_written() {
        for word in ["LIGHT", "SHUT", "STAY", "IN", "NOW", "PAUSED", "DONE", "ENDED", "0123456789:-", "1H05"] {
            assert!(word.chars().all(|c| shape(c).is_some()), "{word}");
        }
    }

    #[test]
    fn the_longest_cue_fits_80_cells() {
        assert!(width("LIGHT IN 00:00") <= 78, "{}", width("LIGHT IN 00:00"));
    }

    #[test]
    fn figures_are_equally_wide_so_a_countdown_does_not_jump() {
        assert!(('0'..='9').all(|c| width(&c.to_string()) == width("0")));
    }
}

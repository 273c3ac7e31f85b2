//! Styles by meaning, and the last pass that takes out what a terminal cannot show.

use ratatui::buffer::Buffer;
use ratatui::style::{Color, Modifier, Style};

use super::view::{Glyphs, Ink};

/// Orange and blue of the 256-colour cube: the pair that stays apart for every common kind of colour sight (Okabe and Ito,
/// "Color Universal Design", 2008), and neither is a traffic light. Both can be read on a dark and on a light ground.
const FLAME: Color = Color::Indexed(208);
/// See [`FLAME`].
const PLAN: Color = Color::Indexed(74);

/// Ordinary text.
pub(super) fn text() -> Style {
    Style::new()
}

/// What is only there to be found when looked for: titles, units, key words.
pub(super) fn quiet() -> Style {
    Style::new().add_modifier(Modifier::DIM)
}

/// What the eye should find first within a panel.
pub(super) fn strong() -> Style {
    Style::new().add_modifier(Modifier::BOLD)
}

/// What must be acted on.
pub(super) fn loud() -> Style {
    Style::new().add_modifier(Modifier::BOLD | Modifier::REVERSED)
}

/// What belongs to the burning burner.
pub(super) fn flame() -> Style {
    Style::new().fg(FLAME)
}

/// What belongs to the plan.
pub(super) fn plan() -> Style {
    Style::new().fg(PLAN)
}

/// Takes colours and glyphs out of `buffer` that may not be used. The backend's own way of dropping colours would drop bold
/// and reverse with them, so it never gets to see one.
pub(super) fn finish(buffer: &mut Buffer, ink: Ink, glyphs: Glyphs) {
    for cell in &mut buffer.content {
        if ink == Ink::Plain {
            cell.fg = Color::Reset;
            cell.bg = Color::Reset;
        }
        if glyphs == Glyphs::Ascii && !cell.symbol().is_ascii() {
            cell.set_char(ascii(cell.symbol()));
        }
    }
}

/// The nearest ASCII character. One cell stays one cell, so nothing moves.
fn ascii(symbol: &str) -> char {
    let Some(first) = symbol.chars().next() else { return ' ' };
    match first {
        '█' | '▮' | '■' | '▓' => '#',
        '▀' => '"',
        '▄' | '□' | '▯' => '_',
        '░' | '·' | '\u{2801}'..='\u{28ff}' => '.',
        '\u{a0}' | '\u{2800}' => ' ',
        '│' | '┊' => '|',
        '–' | '—' | '−' => '-',
        '▒' | '╱' => '+',
        '∙' => ':',
        '●' => 'o',
        '◆' | '×' => 'x',
        '○' => '0',
        '◇' => '%',
        '▲' => '!',
        '△' | '…' => '~',
        '≤' => '<',
        '≥' => '>',
        '°' => '\'',
        _ => '?',
    }
}

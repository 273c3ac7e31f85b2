//! The help: what to do when it goes wrong, what the keys do, what the figures mean.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Span;

use super::{wrap, write};
use crate::dashboard::{ink, words};

/// A heading with its entries.
type Chapter = (&'static str, &'static [(&'static str, &'static str)]);

/// What stands in the help, the most urgent first.
const CHAPTERS: [Chapter; 3] = [
    (
        "Bang, jet of steam, lost flame, smell of gas",
        &[
            ("1", "Shut the gas at the cylinder, then at the burner."),
            ("2", "Step away from the opening; keep everybody out of line with it."),
            ("3", "Leave it open to vent. No flame until no gas can be left inside, five minutes at least."),
            ("4", "Headache or a CO alarm: out into fresh air at once, and see to the others."),
            ("5", "Then press f. Let it cool slowly and look at the lining before you go on."),
        ],
    ),
    (
        "Keys",
        &[
            ("o", "The burner is lit. Say it when it burns, not before."),
            ("f or c", "The burner is shut."),
            ("space", "I did what the screen asks for. Works only when a change is due."),
            ("p", "Stops the plan's clock, and lets it go on. Heat and steam do not stop: warnings go on."),
            ("s", "Silences the warnings that stand, for ten minutes. They stay on the screen."),
            ("r", "Searches a new plan for the rest, from how the lining is now. It takes over by itself."),
            ("x", "The wall from the fire to its outside: temperature, steam and water at each depth."),
            ("w", "The curve as a whole, or the last half hour."),
            ("q", "Stops following, after a question. It never shuts the gas: you do."),
        ],
    ),
    (
        "What the figures mean",
        &[
            ("LIGHT, SHUT", "What to do with the burner, and in how long. It turns dark on light ten seconds ahead."),
            (
                "rise",
                "How fast a probe heats over whole pulses, of what the wettest layer there stands. A single pulse jumps; that is meant to be.",
            ),
            (
                "danger",
                "Steam pressure and tension from heat against strength, in the worst place. At 1 it may spall. Plans stay below the ceiling.",
            ),
            ("0.18–0.42", "Nine in ten of the linings that fit your readings lie between the two."),
            ("water", "Left of what was there before the first flame, free and bound."),
            ("left", "Time to the plan's end if nothing holds it up."),
            (
                "curve",
                "░ and dots: where the plan expects the hot face. ╱ ahead of now: where it goes if the burner stays as it is. ∙: where the plan before a new one led.",
            ),
            ("rows safe", "What a power cut cannot take from the log any more."),
            (
                "more room",
                "From 80x24 the curve is shown, from 110x34 also where each danger sits and where each probe is.",
            ),
        ],
    ),
];

/// Draws page `page`; pages go round.
pub(in crate::dashboard) fn draw(area: Rect, buffer: &mut Buffer, page: usize) {
    let pages = pages(area.width.into(), area.height.into());
    let number = page % pages.len();
    for (at, line) in (0..).zip(pages[number].iter().cloned()) {
        write(area, at, line, buffer);
    }
    if pages.len() > 1 {
        let text = format!("page {} of {}", number + 1, pages.len());
        let x = area.right().saturating_sub(words::width(&text) as u16);
        buffer.set_string(x, area.y, text, ink::quiet());
    }
}

/// The help broken into pages; a chapter starts a new page unless all of it fits on this one.
fn pages(width: usize, height: usize) -> Vec<Vec<Vec<Span<'static>>>> {
    let mut pages: Vec<Vec<Vec<Span>>> = vec![Vec::new()];
    for chapter in &CHAPTERS {
        let lines = chapter_lines(chapter, width);
        let used = pages.last().map_or(0, Vec::len);
        let gap = usize::from(used > 0);
        if used > 0 && used + gap + lines.len() > height {
            pages.push(Vec::new());
        } else if let (Some(page), 1) = (pages.last_mut(), gap) {
            page.push(Vec::new());
        }
        for line in lines {
            if pages.last().is_some_and(|page| page.len() >= height.max(1)) {
                pages.push(Vec::new());
            }
            if let Some(page) = pages.last_mut() {
                page.push(line);
            }
        }
    }
    pages
}

fn chapter_lines((title, entries): &Chapter, width: usize) -> Vec<Vec<Span<'static>>> {
    let mut lines = vec![vec![Span::styled(*title, ink::strong())]];
    let cells = entries.iter().map(|(term, _)| words::width(term)).max().unwrap_or(0) + 2;
    for (term, meaning) in *entries {
        for (index, text) in wrap(meaning, width.saturating_sub(cells)).into_iter().enumerate() {
            let term = if index == 0 { *term } else { "" };
            lines.push(vec![Span::styled(words::left(term, cells), ink::strong()), Span::raw(text)]);
        }
    }
    lines
}

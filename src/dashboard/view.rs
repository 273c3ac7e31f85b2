//! What the operator chose to see, and what the terminal can show.

/// How to show a snapshot. It changes nothing about the heat-up.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ViewState {
    /// What stands open over the usual panels.
    pub open: Open,
    /// How much of the heat-up the curve shows.
    pub span: Span,
    /// Whether colours may be used.
    pub ink: Ink,
    /// Which characters the terminal has.
    pub glyphs: Glyphs,
}

/// What stands open over the usual panels.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Open {
    /// Nothing.
    #[default]
    Nothing,
    /// The help. Its pages go round, so any number is a page.
    Help {
        /// Page, from 0.
        page: usize,
    },
    /// The wall from the fire to its outside.
    Wall {
        /// Which section; they go round, so any number is one.
        section: usize,
    },
    /// The question whether to stop following.
    Quit,
}

/// How much of the heat-up the curve shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Span {
    /// From the start to the plan's end.
    #[default]
    Whole,
    /// The last half hour and the next quarter.
    Near,
}

/// Whether colours may be used. Every meaning is there without them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Ink {
    /// Two hues that stay apart for every kind of colour sight, on the terminal's own ground.
    #[default]
    Colour,
    /// None, as `NO_COLOR` asks.
    Plain,
}

/// Which characters the terminal has.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Glyphs {
    /// Blocks, line drawing, braille dots.
    #[default]
    Full,
    /// ASCII only.
    Ascii,
}

impl ViewState {
    /// The view for a terminal with these environment variables: `NO_COLOR`, and the locale as `LC_ALL`, `LC_CTYPE` or
    /// `LANG` gives it (the first that is set counts).
    #[must_use]
    pub fn for_terminal(no_color: Option<&str>, term: Option<&str>, locale: Option<&str>) -> Self {
        let plain = no_color.is_some_and(|value| !value.is_empty()) || term == Some("dumb");
        let utf8 = locale.is_none_or(|name| {
            let name = name.to_ascii_lowercase();
            name.contains("utf-8") || name.contains("utf8")
        });
        Self {
            ink: if plain { Ink::Plain } else { Ink::Colour },
            glyphs: if utf8 && term != Some("linux") { Glyphs::Full } else { Glyphs::Ascii },
            ..Self::default()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // https://no-color.org: "when present and not an empty string (regardless of its value)".
    #[test]
    fn no_color_counts_unless_empty() {
        assert_eq!(ViewState::for_terminal(Some("0"), None, None).ink, Ink::Plain);
        assert_eq!(ViewState::for_terminal(Some(""), None, None).ink, Ink::Colour);
        assert_eq!(ViewState::for_terminal(None, None, None).ink, Ink::Colour);
    }

    #[test]
    fn a_locale_without_utf8_gets_ascii() {
        let glyphs = |locale| ViewState::for_terminal(None, Some("xterm"), locale).glyphs;
        assert_eq!(glyphs(Some("C")), Glyphs::Ascii);
        assert_eq!(glyphs(Some("de_DE.UTF-8")), Glyphs::Full);
        assert_eq!(glyphs(Some("C.utf8")), Glyphs::Full);
        assert_eq!(glyphs(None), Glyphs::Full);
    }

    #[test]
    fn the_bare_console_gets_ascii() {
        assert_eq!(ViewState::for_terminal(None, Some("linux"), Some("en_GB.UTF-8")).glyphs, Glyphs::Ascii);
    }
}

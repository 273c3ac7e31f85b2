//! What a key means. Few keys, far apart, none needs a modifier: they are pressed with gloves.

use crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};

use crate::plan::Flame;
use crate::run::{PlanClock, Snapshot, Word};

use super::next::Next;
use super::view::{Open, Span, ViewState};

/// What came of a key.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pressed {
    /// The operator says something to the heat-up.
    Say(Word),
    /// The screen is to be shown differently.
    Show(ViewState),
    /// Nothing.
    Nothing,
}

/// What `key` means while `snapshot` is shown as `state` says. What concerns the burner works whatever stands open.
#[must_use]
pub fn pressed(key: KeyEvent, snapshot: &Snapshot, state: &ViewState) -> Pressed {
    if key.kind == KeyEventKind::Release {
        return Pressed::Nothing;
    }
    let code = plain(key);
    if let Some(word) = burner(code, snapshot).filter(|_| snapshot.ended.is_none()) {
        return Pressed::Say(word);
    }
    match state.open {
        Open::Quit => in_question(code, state),
        Open::Help { page } => in_help(code, page, state),
        Open::Wall { section } => in_wall(code, section, state),
        Open::Nothing => in_usual(code, snapshot, state),
    }
}

/// The key without its case; control-C is the wish to quit.
fn plain(key: KeyEvent) -> KeyCode {
    match key.code {
        KeyCode::Char('c' | 'C') if key.modifiers.contains(KeyModifiers::CONTROL) => KeyCode::Char('q'),
        KeyCode::Char(_) if key.modifiers.intersects(KeyModifiers::CONTROL | KeyModifiers::ALT) => KeyCode::Null,
        KeyCode::Char(letter) => KeyCode::Char(letter.to_ascii_lowercase()),
        other => other,
    }
}

fn burner(code: KeyCode, snapshot: &Snapshot) -> Option<Word> {
    match code {
        KeyCode::Char('o') => Some(Word::On),
        KeyCode::Char('f' | 'c') => Some(Word::Off),
        KeyCode::Char(' ') => Next::of(snapshot).due().map(|flame| match flame {
            Flame::On => Word::On,
            Flame::Off => Word::Off,
        }),
        _ => None,
    }
}

fn in_question(code: KeyCode, state: &ViewState) -> Pressed {
    match code {
        KeyCode::Char('y') => Pressed::Say(Word::Quit),
        KeyCode::Char('n' | 'q') | KeyCode::Esc => Pressed::Show(ViewState { open: Open::Nothing, ..*state }),
        _ => Pressed::Nothing,
    }
}

fn in_help(code: KeyCode, page: usize, state: &ViewState) -> Pressed {
    let open = match code {
        KeyCode::Char('h' | '?') | KeyCode::F(1) | KeyCode::Right | KeyCode::PageDown | KeyCode::Down => {
            Open::Help { page: page.wrapping_add(1) }
        }
        KeyCode::Left | KeyCode::PageUp | KeyCode::Up => Open::Help { page: page.saturating_sub(1) },
        KeyCode::Char('q') => Open::Quit,
        KeyCode::Esc | KeyCode::Enter => Open::Nothing,
        _ => return Pressed::Nothing,
    };
    Pressed::Show(ViewState { open, ..*state })
}

fn in_wall(code: KeyCode, section: usize, state: &ViewState) -> Pressed {
    let open = match code {
        KeyCode::Char('x') | KeyCode::Right | KeyCode::Down => Open::Wall { section: section.wrapping_add(1) },
        KeyCode::Left | KeyCode::Up => Open::Wall { section: section.saturating_sub(1) },
        KeyCode::Char('h' | '?') | KeyCode::F(1) => Open::Help { page: 0 },
        KeyCode::Char('q') => Open::Quit,
        KeyCode::Esc | KeyCode::Enter => Open::Nothing,
        _ => return Pressed::Nothing,
    };
    Pressed::Show(ViewState { open, ..*state })
}

fn in_usual(code: KeyCode, snapshot: &Snapshot, state: &ViewState) -> Pressed {
    match code {
        KeyCode::Char('q') if snapshot.ended.is_some() => Pressed::Say(Word::Quit),
        KeyCode::Char('q') => Pressed::Show(ViewState { open: Open::Quit, ..*state }),
        KeyCode::Char('h' | '?') | KeyCode::F(1) => Pressed::Show(ViewState { open: Open::Help { page: 0 }, ..*state }),
        KeyCode::Char('x') => Pressed::Show(ViewState { open: Open::Wall { section: 0 }, ..*state }),
        KeyCode::Char('w') => {
            let span = if state.span == Span::Whole { Span::Near } else { Span::Whole };
            Pressed::Show(ViewState { span, ..*state })
        }
        KeyCode::Char('p') => match snapshot.clock {
            PlanClock::Paused { .. } => Pressed::Say(Word::Resume),
            PlanClock::Runs => Pressed::Say(Word::Pause),
            PlanClock::Waiting | PlanClock::Done => Pressed::Nothing,
        },
        KeyCode::Char('r') if snapshot.ended.is_none() => Pressed::Say(Word::Replan),
        KeyCode::Char('s') if snapshot.warnings.iter().any(|warning| !warning.silenced) => Pressed::Say(Word::Silence),
        _ => Pressed::Nothing,
    }
}

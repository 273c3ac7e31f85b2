//! The operator of the show: does what the cues say, with one mistake, and keeps the furnace in step with the screen.

use std::cell::Cell;
use std::rc::Rc;
use std::sync::mpsc::SyncSender;
use std::time::Duration;

use crossterm::event::Event as TerminalEvent;
use tokio::sync::mpsc;
use tokio::time::{Instant, sleep_until};

use crate::app::follow::outlet::{Closing, Now, Outlet};
use crate::app::follow::words::Said;
use crate::app::{AppError, print};
use crate::plan::Flame;
use crate::probe::simulated::{Burner, Order};
use crate::run::{Snapshot, Spoken, Verdict, Weight, Word};
use crate::units::Seconds;

/// The forgotten burner is shut so long after the warning, s.
const COMES_BACK_S: f64 = 10.0;

/// Longest that the burner is forgotten, warning or not, s.
const LONGEST_AWAY_S: f64 = 120.0;

/// How long the screen holds still at the mistake and at its warning.
const HOLD: Duration = Duration::from_secs(3);

/// Time between two pictures: enough for the curve to be seen growing.
const PICTURE: Duration = Duration::from_millis(150);

/// So many looks, one a second, without a line mean that one was lost, and another is asked for.
const QUIET_LOOKS: u32 = 8;

/// What the operator works with.
pub struct Shift {
    /// To the furnace.
    pub orders: SyncSender<Order>,
    /// To the heat-up. Holds 64 words, more than are ever said between two looks.
    pub words: mpsc::Sender<Said>,
    /// Shortest time from one line of the furnace to the next.
    pub beat: Duration,
    /// The first pulse that ends after this is not ended in time.
    pub forgets_at: Seconds,
    /// Whether somebody watches a screen.
    pub on_screen: bool,
}

/// Stands between the verdicts and the screen.
pub struct Operator {
    face: Box<dyn Outlet>,
    shift: Shift,
    /// How long to hold before the next line; one at a time, as the furnace is in lockstep. Holds two: a second is only
    /// asked for when a line seems lost.
    asks: mpsc::Sender<Duration>,
    mind: Mind,
    warned_s: Option<f64>,
    hold: Duration,
    quiet_looks: u32,
    /// When the last picture was shown; `None` when the next is due at once.
    shown: Option<Instant>,
    notes: Vec<Spoken>,
    warnings: Rc<Cell<u32>>,
}

/// Where the operator's mind is.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Mind {
    /// On the cues, before the mistake.
    Fresh,
    /// Elsewhere, with the burner on, since then, s.
    Away(f64),
    /// On the cues for good.
    Wiser,
}

impl Operator {
    /// Begins to ask the furnace for lines. Needs a runtime.
    pub fn new(face: Box<dyn Outlet>, shift: Shift) -> Self {
        let (asks, asked) = mpsc::channel(2);
        tokio::spawn(pass_on(asked, shift.orders.clone(), shift.beat));
        let operator = Self {
            face,
            shift,
            asks,
            mind: Mind::Fresh,
            warned_s: None,
            hold: Duration::ZERO,
            quiet_looks: 0,
            shown: None,
            notes: Vec::new(),
            warnings: Rc::default(),
        };
        operator.ask();
        operator
    }

    /// Counts the warnings given.
    pub fn warnings(&self) -> Rc<Cell<u32>> {
        Rc::clone(&self.warnings)
    }

    fn ask(&self) {
        // When two are asked for already, lines come anyway.
        let _ = self.asks.try_send(self.hold);
    }

    fn turn(&self, flame: Flame) {
        let (burner, word) = match flame {
            Flame::On => (Burner::Lit, Word::On),
            Flame::Off => (Burner::Shut, Word::Off),
        };
        if self.shift.orders.try_send(Order::Turn(burner)).is_ok() {
            let _ = self.shift.words.try_send(Said::Word(word));
        }
    }

    fn hear(&mut self, verdict: &Verdict) -> Result<(), AppError> {
        let elapsed_s = verdict.elapsed_s();
        match verdict {
            Verdict::Cue { burner: Flame::On, in_s, .. } if *in_s <= 0.0 => self.turn(Flame::On),
            Verdict::Cue { burner: Flame::Off, in_s, .. } if *in_s <= 0.0 => {
                if self.mind == Mind::Fresh && elapsed_s >= self.shift.forgets_at.0 {
                    self.mind = Mind::Away(elapsed_s);
                    self.note(elapsed_s, "(the show: the operator is called away, and the burner stays on)")?;
                } else if !matches!(self.mind, Mind::Away(_)) {
                    self.turn(Flame::Off);
                }
            }
            Verdict::Warning { .. } => {
                self.warnings.set(self.warnings.get() + 1);
                if matches!(self.mind, Mind::Away(_)) && self.warned_s.is_none() {
                    self.warned_s = Some(elapsed_s);
                    self.hold = HOLD;
                }
            }
            Verdict::Reading { .. } => {
                self.quiet_looks = 0;
                self.come_back(elapsed_s)?;
                self.ask();
                if !self.hold.is_zero() {
                    self.shown = None;
                }
                self.hold = Duration::ZERO;
            }
            _ => {}
        }
        Ok(())
    }

    /// Shuts the forgotten burner once the warning has called the operator back.
    fn come_back(&mut self, elapsed_s: f64) -> Result<(), AppError> {
        let Mind::Away(since_s) = self.mind else { return Ok(()) };
        let called = self.warned_s.is_some_and(|warned_s| elapsed_s - warned_s >= COMES_BACK_S);
        if !called && elapsed_s - since_s < LONGEST_AWAY_S {
            return Ok(());
        }
        self.mind = Mind::Wiser;
        self.turn(Flame::Off);
        let away_s = elapsed_s - since_s;
        let text = format!("(the show: the operator is back and shuts the burner, {away_s:.0} s late)");
        self.note(elapsed_s, &text)
    }

    /// Says something about the show, beside what the program says, and lets it be read.
    fn note(&mut self, elapsed_s: f64, text: &str) -> Result<(), AppError> {
        self.hold = HOLD;
        if !self.shift.on_screen {
            return print(&format!("{:>19} {text}\n", ""));
        }
        self.notes.push(Spoken { elapsed: Seconds(elapsed_s), weight: Weight::Notice, text: text.to_owned() });
        Ok(())
    }

    /// The heat-up as it stands, with the notes about the show among what was said.
    fn with_notes(mut snapshot: Snapshot, notes: &[Spoken]) -> Snapshot {
        let oldest_s = snapshot.spoken.first().map_or(0.0, |spoken| spoken.elapsed.0);
        snapshot.spoken.extend(notes.iter().filter(|note| note.elapsed.0 >= oldest_s).cloned());
        snapshot.spoken.sort_by(|a, b| a.elapsed.0.total_cmp(&b.elapsed.0));
        snapshot
    }
}

/// Passes on what is asked for, at most one line a beat.
async fn pass_on(mut asked: mpsc::Receiver<Duration>, orders: SyncSender<Order>, beat: Duration) {
    let mut due = Instant::now();
    while let Some(hold) = asked.recv().await {
        // A beat that was missed is caught up with, but not for longer than a tenth of a second.
        let behind = Instant::now().checked_sub(Duration::from_millis(100)).unwrap_or(due);
        due = (due + beat).max(behind) + hold;
        sleep_until(due).await;
        if orders.try_send(Order::Next).is_err() {
            return;
        }
    }
}

impl Outlet for Operator {
    fn say(&mut self, verdicts: &[Verdict], now: Now<'_>) -> Result<(), AppError> {
        for verdict in verdicts {
            self.hear(verdict)?;
        }
        let notes = &self.notes;
        let with_notes = || Self::with_notes(now(), notes);
        if self.shift.on_screen && self.shown.is_none_or(|shown| shown.elapsed() >= PICTURE) {
            self.shown = Some(Instant::now());
            return self.face.refresh(&with_notes);
        }
        self.face.say(verdicts, &with_notes)
    }

    fn refresh(&mut self, now: Now<'_>) -> Result<(), AppError> {
        self.quiet_looks += 1;
        if self.quiet_looks > QUIET_LOOKS {
            self.quiet_looks = 0;
            self.ask();
        }
        let notes = &self.notes;
        self.face.refresh(&|| Self::with_notes(now(), notes))
    }

    fn pressed(&mut self, event: &TerminalEvent, now: Now<'_>) -> Option<Word> {
        self.face.pressed(event, now)
    }

    fn shows_ahead(&self) -> bool {
        self.face.shows_ahead()
    }

    fn closing(&self) -> Closing {
        Closing::LastLine
    }
}

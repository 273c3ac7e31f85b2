//! What a row says, and the cells it says it in.

use serde::de::value::{Error as WordError, StrDeserializer};
use serde::de::{DeserializeOwned, IntoDeserializer};
use serde::{Deserialize, Serialize};

use super::cells::{self, Cells};
use super::old_words;
use crate::plan::Flame;
use crate::plan::firing::{Fire, Setting};
use crate::reading::{Channel, Fault, Reading};
use crate::run::{About, Advice, Ending, Range, TimeSource, WarningCause, Word};
use crate::units::{Celsius, KelvinPerHour};

/// What a row says. The cells of each kind are described in [`super::row`].
#[derive(Clone, Debug, PartialEq)]
pub enum Entry {
    /// A line of the heat-up's identity.
    Head {
        /// Which line.
        key: String,
        /// What it says.
        text: String,
    },
    /// The log was taken up again.
    Resumed {
        /// The program that did, with its version.
        program: String,
        /// Bytes of a torn tail that were cut away.
        cut_bytes: u64,
    },
    /// Steps that are not in the log.
    Gap {
        /// How many.
        steps: u64,
    },
    /// One channel of a probe line.
    Reading(Reading),
    /// A probe line without any channel.
    NoReadings,
    /// Time passed.
    Tick,
    /// The operator's word.
    Operator(Word),
    /// A probe port went away.
    PortLost(String),
    /// A probe port came back.
    PortBack(String),
    /// The log could not be written.
    LogFailing(String),
    /// The log could be written again.
    LogBack,
    /// The program had stopped and went on after so many seconds.
    TakenUp {
        /// How long nothing was watched, s.
        missed_s: f64,
    },
    /// A plan for the rest, as the text of a plan file.
    Replanned(String),
    /// No plan for the rest was found.
    NotReplanned(String),
    /// Following began.
    Ready {
        /// Lining name.
        lining: String,
        /// Planned length, s.
        planned_s: f64,
        /// Where elapsed time comes from.
        time_source: TimeSource,
    },
    /// The burner should change.
    Cue {
        /// To which state.
        burner: Flame,
        /// In how many seconds.
        in_s: f64,
        /// To which mark or ramp, if to one.
        set: Option<Setting>,
    },
    /// An estimate of this many sections follows.
    Estimate {
        /// How many sections.
        sections: u32,
    },
    /// Danger number of a section.
    Danger {
        /// Section name.
        section: String,
        /// Its range.
        range: Range,
    },
    /// Water left in a section, kg.
    WaterLeft {
        /// Section name.
        section: String,
        /// Its range, kg.
        range: Range,
    },
    /// A limit is ahead or passed.
    Warning {
        /// Which limit.
        cause: WarningCause,
        /// Channel, if one.
        channel: Option<Channel>,
        /// Section, if one.
        section: Option<String>,
        /// Seconds to the limit.
        lead_s: Option<f64>,
        /// What to do and why.
        advice: Advice,
    },
    /// Worth knowing.
    Notice {
        /// In words.
        text: String,
        /// What it is about.
        about: Option<About>,
    },
    /// Something is not well.
    Fault {
        /// Channel, if one.
        channel: Option<Channel>,
        /// What it is.
        text: String,
        /// Whether it has just ended.
        over: bool,
    },
    /// Following is over.
    End {
        /// Why, in words.
        reason: String,
        /// How it ended.
        ending: Option<Ending>,
    },
    /// A sound row that this version does not understand.
    Strange {
        /// Its cells, as they stand.
        cells: Box<Cells>,
        /// What is not understood.
        why: StrangeCell,
    },
}

/// A cell of a sound row that this version does not understand: a later version wrote it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the cell `{column}` says `{found}`, expected {expected}: a later version of firstheat wrote it")]
pub struct StrangeCell {
    /// Name of the column.
    pub column: &'static str,
    /// What stands there.
    pub found: String,
    /// What this version knows.
    pub expected: &'static str,
}

#[derive(Clone, Copy, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum FaultTurn {
    Begins,
    Over,
}

impl Entry {
    /// The cells that say this.
    pub(super) fn to_cells(&self) -> Cells {
        match self {
            Self::Head { key, text } => Cells::of("head").what(key).text(text),
            Self::Resumed { program, cut_bytes } => Cells::of("resumed").count(*cut_bytes).text(program),
            Self::Gap { steps } => Cells::of("gap").count(*steps),
            Self::Strange { cells, .. } => Cells::clone(cells),
            Self::Reading(Reading { channel, value: Ok(temp) }) => {
                Cells::of("reading").channel(Some(&channel.0)).temp(*temp)
            }
            Self::Reading(Reading { channel, value: Err(fault) }) => {
                Cells::of("reading").channel(Some(&channel.0)).what(&word_of(*fault))
            }
            Self::NoReadings => Cells::of("no-readings"),
            Self::Tick => Cells::of("tick"),
            Self::Operator(word) => Cells::of("operator").what(&word_of(*word)),
            Self::PortLost(text) => Cells::of("port-lost").text(text),
            Self::PortBack(text) => Cells::of("port-back").text(text),
            Self::LogFailing(text) => Cells::of("log-failing").text(text),
            Self::LogBack => Cells::of("log-back"),
            Self::TakenUp { missed_s } => Cells::of("taken-up").value(*missed_s),
            Self::Replanned(plan) => Cells::of("replanned").text(plan),
            Self::NotReplanned(why) => Cells::of("not-replanned").text(why),
            Self::Ready { lining, planned_s, time_source } => {
                Cells::of("ready").what(&word_of(*time_source)).value(*planned_s).text(lining)
            }
            Self::Cue { burner, in_s, set } => {
                let cells = Cells::of("cue").what(&word_of(*burner)).value(*in_s);
                match set {
                    Some(Setting::Mark(fire)) => cells.text(&fire.mark).low(fire.share),
                    Some(Setting::Ramp { to, ramp }) => cells.span(ramp.0, to.0),
                    Some(Setting::Full | Setting::Shut) | None => cells,
                }
            }
            Self::Estimate { sections } => Cells::of("estimate").count(u64::from(*sections)),
            Self::Danger { section, range } => ranged("danger", section, *range),
            Self::WaterLeft { section, range } => ranged("water-left", section, *range),
            Self::Warning { cause, channel, section, lead_s, advice } => {
                let cells = Cells::of("warning").what(&word_of(*cause));
                let cells = cells.channel(name_of(channel.as_ref())).section(section.as_deref());
                let cells = cells.text(&advice.action).why(&advice.reason);
                lead_s.map_or(cells.clone(), |lead_s| cells.value(lead_s))
            }
            Self::Notice { text, about } => notice_cells(about.as_ref()).text(text),
            Self::Fault { channel, text, over } => {
                let turn = if *over { FaultTurn::Over } else { FaultTurn::Begins };
                Cells::of("fault").what(&word_of(turn)).channel(name_of(channel.as_ref())).text(text)
            }
            Self::End { reason, ending } => {
                let cells = Cells::of("end").text(reason);
                ending.map_or(cells.clone(), |ending| cells.what(&word_of(ending)))
            }
        }
    }

    /// What the cells say; [`Entry::Strange`] where this version does not know.
    pub(super) fn from_cells(cells: Cells) -> Self {
        Self::understood(&cells).unwrap_or_else(|why| Self::Strange { cells: Box::new(cells), why })
    }

    fn understood(cells: &Cells) -> Result<Self, StrangeCell> {
        Ok(match cells.kind.as_str() {
            "head" => Self::Head { key: text("what", &cells.what)?, text: text("text", &cells.text)? },
            "resumed" => {
                Self::Resumed { program: text("text", &cells.text)?, cut_bytes: count("value", &cells.value)? }
            }
            "gap" => Self::Gap { steps: count("value", &cells.value)? },
            "reading" => Self::Reading(reading(cells)?),
            "no-readings" => Self::NoReadings,
            "tick" => Self::Tick,
            "operator" => Self::Operator(word("what", &cells.what, "on, off, pause, resume, silence, replan or quit")?),
            "port-lost" => Self::PortLost(text("text", &cells.text)?),
            "port-back" => Self::PortBack(text("text", &cells.text)?),
            "log-failing" => Self::LogFailing(text("text", &cells.text)?),
            "log-back" => Self::LogBack,
            "taken-up" => Self::TakenUp { missed_s: number("value", &cells.value)? },
            "replanned" => Self::Replanned(text("text", &cells.text)?),
            "not-replanned" => Self::NotReplanned(text("text", &cells.text)?),
            _ => return Self::verdict_understood(cells),
        })
    }

    fn verdict_understood(cells: &Cells) -> Result<Self, StrangeCell> {
        Ok(match cells.kind.as_str() {
            "ready" => Self::Ready {
                lining: text("text", &cells.text)?,
                planned_s: number("value", &cells.value)?,
                time_source: word("what", &cells.what, "clock or probe")?,
            },
            "cue" => Self::Cue {
                burner: word("what", &cells.what, "on or off")?,
                in_s: number("value", &cells.value)?,
                set: set_in(cells)?,
            },
            "estimate" => Self::Estimate { sections: count("value", &cells.value)? },
            "danger" => Self::Danger { section: section(cells)?, range: range(cells)? },
            "water-left" => Self::WaterLeft { section: section(cells)?, range: range(cells)? },
            "warning" => warning(cells)?,
            "notice" => notice(cells)?,
            "fault" => Self::Fault {
                channel: optional("channel", &cells.channel)?.map(|name| Channel::new(&name)),
                text: text("text", &cells.text)?,
                over: matches!(word("what", &cells.what, "begins or over")?, FaultTurn::Over),
            },
            "end" => end(cells)?,
            _ => return Err(strange("kind", &cells.kind, "a kind of row this version knows")),
        })
    }
}

/// The mark or the ramp of a cue.
fn set_in(cells: &Cells) -> Result<Option<Setting>, StrangeCell> {
    if cells.low.is_empty() {
        return Ok(None);
    }
    let low = number("low", &cells.low)?;
    if cells.high.is_empty() {
        return Ok(Some(Setting::Mark(Fire { mark: text("text", &cells.text)?, share: low })));
    }
    Ok(Some(Setting::Ramp { to: Celsius(number("high", &cells.high)?), ramp: KelvinPerHour(low) }))
}

fn ranged(kind: &str, section: &str, range: Range) -> Cells {
    Cells::of(kind).section(Some(section)).value(range.mid).span(range.low, range.high)
}

fn reading(cells: &Cells) -> Result<Reading, StrangeCell> {
    let channel = Channel::new(&text("channel", &cells.channel)?);
    let value = if cells.what.is_empty() {
        Ok(Celsius(number("value", &cells.value)?))
    } else {
        Err(word::<Fault>("what", &cells.what, "a fault this version knows")?)
    };
    Ok(Reading { channel, value })
}

fn warning(cells: &Cells) -> Result<Entry, StrangeCell> {
    let lead_s = if cells.value.is_empty() { None } else { Some(number("value", &cells.value)?) };
    Ok(Entry::Warning {
        cause: word("what", &cells.what, "a limit this version knows")?,
        channel: optional("channel", &cells.channel)?.map(|name| Channel::new(&name)),
        section: optional("section", &cells.section)?,
        lead_s,
        advice: Advice { action: text("text", &cells.text)?, reason: text("why", &cells.why)? },
    })
}

/// The word for what a notice is about.
#[derive(Clone, Copy, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum AboutWord {
    Over,
    BackToRound,
    LitLate,
    LitEarly,
}

fn notice_cells(about: Option<&About>) -> Cells {
    let of = |about| Cells::of("notice").what(&word_of(about));
    match about {
        None => Cells::of("notice"),
        Some(About::Over { cause, channel, section }) => {
            let cells = of(AboutWord::Over).channel(name_of(channel.as_ref())).section(section.as_deref());
            cells.why(&word_of(*cause))
        }
        Some(About::BackToRound { round }) => of(AboutWord::BackToRound).count(u64::from(*round)),
        Some(About::LitLate) => of(AboutWord::LitLate),
        Some(About::LitEarly) => of(AboutWord::LitEarly),
    }
}

fn notice(cells: &Cells) -> Result<Entry, StrangeCell> {
    let text = text("text", &cells.text)?;
    if cells.what.is_empty() {
        let about = old_words::about(&text);
        return Ok(Entry::Notice { text, about });
    }
    let about = match word("what", &cells.what, "what a notice of this version may be about")? {
        AboutWord::Over => About::Over {
            cause: word("why", &cells.why, "a limit this version knows")?,
            channel: optional("channel", &cells.channel)?.map(|name| Channel::new(&name)),
            section: optional("section", &cells.section)?,
        },
        AboutWord::BackToRound => About::BackToRound { round: count("value", &cells.value)? },
        AboutWord::LitLate => About::LitLate,
        AboutWord::LitEarly => About::LitEarly,
    };
    Ok(Entry::Notice { text, about: Some(about) })
}

fn end(cells: &Cells) -> Result<Entry, StrangeCell> {
    let reason = text("text", &cells.text)?;
    let ending = match cells.what.as_str() {
        "" => old_words::ending(&reason),
        what => Some(word("what", what, "an ending this version knows")?),
    };
    Ok(Entry::End { reason, ending })
}

fn section(cells: &Cells) -> Result<String, StrangeCell> {
    text("section", &cells.section)
}

fn range(cells: &Cells) -> Result<Range, StrangeCell> {
    Ok(Range {
        low: number("low", &cells.low)?,
        mid: number("value", &cells.value)?,
        high: number("high", &cells.high)?,
    })
}

fn name_of(channel: Option<&Channel>) -> Option<&str> {
    channel.map(|channel| &*channel.0)
}

fn text(column: &'static str, cell: &str) -> Result<String, StrangeCell> {
    cells::unguarded(cell).ok_or_else(|| strange(column, cell, "text with `\\` only where the format has it"))
}

fn optional(column: &'static str, cell: &str) -> Result<Option<String>, StrangeCell> {
    if cell.is_empty() { Ok(None) } else { text(column, cell).map(Some) }
}

fn number(column: &'static str, cell: &str) -> Result<f64, StrangeCell> {
    cells::number_in(cell).ok_or_else(|| strange(column, cell, "a number"))
}

fn count<T: std::str::FromStr>(column: &'static str, cell: &str) -> Result<T, StrangeCell> {
    cell.parse().map_err(|_| strange(column, cell, "a whole number"))
}

fn strange(column: &'static str, found: &str, expected: &'static str) -> StrangeCell {
    StrangeCell { column, found: found.to_owned(), expected }
}

/// The word an enum of bare words goes by in the file: the one its `serde` names give.
pub(super) fn word_of<T: Serialize>(value: T) -> String {
    match serde_json::to_value(value) {
        Ok(serde_json::Value::String(word)) => word,
        other => unreachable!("only enums of bare words are written so, got {other:?}"),
    }
}

/// The value a word stands for.
pub(super) fn word_in<T: DeserializeOwned>(word: &str) -> Option<T> {
    let deserializer: StrDeserializer<'_, WordError> = word.into_deserializer();
    T::deserialize(deserializer).ok()
}

fn word<T: DeserializeOwned>(column: &'static str, cell: &str, expected: &'static str) -> Result<T, StrangeCell> {
    word_in(cell).ok_or_else(|| strange(column, cell, expected))
}

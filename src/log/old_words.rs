//! What the first logs said in words alone: they left the cell `what` of `end` and `notice` rows empty. Read here so that
//! nobody else has to go by sentences. Nothing is ever added: what is new has its word.

use crate::run::{About, Ending, WarningCause};

/// All limits the first logs warned of.
const CAUSES: [WarningCause; 6] = [
    WarningCause::Ramp,
    WarningCause::Danger,
    WarningCause::Service,
    WarningCause::Pulse,
    WarningCause::LightUp,
    WarningCause::FlameOut,
];

/// How the heat-up ended, as far as the words are ones that were written.
pub(super) fn ending(reason: &str) -> Option<Ending> {
    let begins = |words: &str| reason.starts_with(words);
    if begins("the plan is done, the lining is dry and has soaked") {
        Some(Ending::DryAndSoaked)
    } else if begins("the plan took twice its length and the lining still holds water") {
        Some(Ending::Wet)
    } else if begins("the plan took twice its length and the lining has not soaked") {
        Some(Ending::NotSoaked)
    } else if begins("ended before the plan was done") {
        Some(Ending::Stopped)
    } else {
        None
    }
}

/// What a notice is about, as far as the words are ones that were written. They name no channel beside a section.
pub(super) fn about(text: &str) -> Option<About> {
    if let Some(title) = text.strip_prefix("over: ") {
        return CAUSES.into_iter().find_map(|cause| match title.strip_prefix(cause.title())? {
            "" => Some(About::Over { cause, channel: None, section: None }),
            rest => Some(About::Over { cause, channel: None, section: Some(rest.strip_prefix(" of ")?.to_owned()) }),
        });
    }
    if let Some((_, round)) = text.split_once(": going back to round ") {
        return round.parse().ok().map(|round| About::BackToRound { round });
    }
    match text.strip_prefix("lit ")? {
        rest if rest.contains(" late: the plan moves by as much") => Some(About::LitLate),
        rest if rest.contains(" before it was due") => Some(About::LitEarly),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_words_of_the_first_logs_say_how_it_ended() {
        let dry = "the plan is done, the lining is dry and has soaked: shut the gas at the cylinder";
        let stopped = "ended before the plan was done: shut the gas and leave the lining to cool slowly";
        assert_eq!((ending(dry), ending(stopped)), (Some(Ending::DryAndSoaked), Some(Ending::Stopped)));
        assert_eq!(ending("operator"), None);
    }

    #[test]
    fn the_words_of_the_first_logs_say_which_warning_was_over() {
        let of =
            |section: &str| About::Over { cause: WarningCause::Ramp, channel: None, section: Some(section.to_owned()) };
        assert_eq!(about("over: ramp too steep of back end"), Some(of("back end")));
    }

    #[test]
    fn the_words_of_the_first_logs_say_to_which_round_it_went_back() {
        let text = "the lining cooled to 80 °C in 2 h: going back to round 3";
        assert_eq!(about(text), Some(About::BackToRound { round: 3 }));
    }
}

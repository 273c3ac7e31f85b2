//! Alarm discipline: each warning once, again only after it was over, grew graver, or a silence ran out.
//!
//! After ISA-18.2 and EEMUA 191 (by way of HSE CHIS6): an alarm needs an operator action, does not chatter, and silence
//! ends by itself. What calls for leaving the place latches and cannot be shelved.

use crate::reading::Channel;

use super::snapshot::StandingWarning;
use super::verdict::{About, Advice, Verdict, WarningCause};
use crate::units::Seconds;

/// How long a silence lasts, s.
pub(super) const SILENCE_S: f64 = 600.0;

/// What has gone has to stay away for so long before the same warning is new again, s.
const GONE_FOR_S: f64 = 60.0;

/// How grave a condition is. A warning is given anew when its grade rises.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Grade {
    /// Ahead, or passed by a little.
    Act,
    /// Passed though it was announced.
    Passed,
    /// Leave the place. Latches.
    Leave,
}

/// What a warning is about; one of each can stand.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Topic {
    /// Which limit.
    pub cause: WarningCause,
    /// Channel it was seen on.
    pub channel: Option<Channel>,
    /// Section it concerns.
    pub section: Option<String>,
}

/// A condition as it is now.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Condition {
    /// What it is about.
    pub topic: Topic,
    /// How grave.
    pub grade: Grade,
    /// Forecast time to the limit, s; `None` when passed.
    pub lead_s: Option<f64>,
    /// What to do.
    pub advice: Advice,
}

/// What was looked at: a condition, or that it is surely gone (below its dead-band). Between the two nothing is said.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Look {
    /// It is there.
    There(Condition),
    /// It is gone, with its dead-band.
    Gone(Topic),
}

/// The warnings that stand.
#[derive(Clone, Debug, Default)]
pub(super) struct Alarms {
    standing: Vec<Standing>,
}

#[derive(Clone, Debug)]
struct Standing {
    condition: Condition,
    raised_s: f64,
    silenced_until_s: Option<f64>,
    gone_since_s: Option<f64>,
}

impl Alarms {
    /// Takes in what was seen at `now_s` and gives what has to be said.
    pub fn judge(&mut self, now_s: f64, looks: Vec<Look>) -> Vec<Verdict> {
        let mut said = Vec::new();
        for look in looks {
            match look {
                Look::There(condition) => said.extend(self.there(now_s, condition)),
                Look::Gone(topic) => self.gone(now_s, &topic),
            }
        }
        for standing in &mut self.standing {
            if standing.silenced_until_s.is_some_and(|until_s| now_s >= until_s) && standing.gone_since_s.is_none() {
                standing.silenced_until_s = None;
                said.push(standing.condition.warn(now_s));
            }
        }
        self.standing.retain(|standing| {
            let over = standing.gone_since_s.is_some_and(|since_s| now_s - since_s >= GONE_FOR_S);
            let latched = standing.is_latched();
            if over && !latched {
                let text = format!("over: {}", standing.condition.title());
                let Topic { cause, channel, section } = standing.condition.topic.clone();
                let about = Some(About::Over { cause, channel, section });
                said.push(Verdict::Notice { elapsed_s: now_s, text, about });
            }
            !over || latched
        });
        said
    }

    /// Silences what stands for a while; what calls for leaving the place is only acknowledged, so that it can end.
    pub fn silence(&mut self, now_s: f64) -> Verdict {
        let mut count = 0;
        for standing in &mut self.standing {
            let until_s = if standing.condition.grade == Grade::Leave { f64::INFINITY } else { now_s + SILENCE_S };
            count += u32::from(standing.is_shown());
            standing.silenced_until_s = Some(until_s);
        }
        let text = match count {
            0 => "no warning stands".to_owned(),
            _ => format!("{count} silenced for {} min; they come back if they still stand then", SILENCE_S / 60.0),
        };
        Verdict::Notice { elapsed_s: now_s, text, about: None }
    }

    /// What stands, the gravest first. What has gone is not shown, though it may not be said anew yet.
    pub fn standing(&self) -> Vec<StandingWarning> {
        let mut all: Vec<&Standing> = self.standing.iter().filter(|standing| standing.is_shown()).collect();
        all.sort_by(|a, b| b.condition.urgency().cmp(&a.condition.urgency()).then(a.raised_s.total_cmp(&b.raised_s)));
        all.into_iter().map(Standing::seen).collect()
    }

    fn there(&mut self, now_s: f64, condition: Condition) -> Option<Verdict> {
        let covered = self.is_covered(&condition);
        let Some(standing) = self.standing.iter_mut().find(|standing| standing.condition.topic == condition.topic)
        else {
            let verdict = condition.warn(now_s);
            self.standing.push(Standing { condition, raised_s: now_s, silenced_until_s: None, gone_since_s: None });
            return (!covered).then_some(verdict);
        };
        standing.gone_since_s = None;
        let graver = condition.grade > standing.condition.grade;
        if !graver {
            let grade = standing.condition.grade;
            standing.condition = Condition { grade, ..condition };
            return None;
        }
        standing.condition = condition;
        standing.raised_s = now_s;
        standing.silenced_until_s = None;
        (!covered).then(|| standing.condition.warn(now_s))
    }

    /// Whether the same is said of another place already, at least as gravely: one cause, one action, one alarm.
    fn is_covered(&self, condition: &Condition) -> bool {
        self.standing.iter().any(|standing| {
            let Condition { topic, grade, .. } = &standing.condition;
            topic.cause == condition.topic.cause
                && *topic != condition.topic
                && *grade >= condition.grade
                && standing.silenced_until_s.is_none()
                && standing.gone_since_s.is_none()
        })
    }

    fn gone(&mut self, now_s: f64, topic: &Topic) {
        for standing in self.standing.iter_mut().filter(|standing| standing.condition.topic == *topic) {
            standing.gone_since_s.get_or_insert(now_s);
        }
    }
}

impl Standing {
    /// Whether it stays until somebody acknowledges it.
    fn is_latched(&self) -> bool {
        self.condition.grade == Grade::Leave && self.silenced_until_s.is_none()
    }

    fn is_shown(&self) -> bool {
        self.gone_since_s.is_none() || self.is_latched()
    }

    fn seen(&self) -> StandingWarning {
        let Condition { topic, lead_s, advice, .. } = &self.condition;
        StandingWarning {
            cause: topic.cause,
            channel: topic.channel.clone(),
            section: topic.section.clone(),
            since: Seconds(self.raised_s),
            lead: lead_s.map(Seconds),
            advice: advice.clone(),
            burner: topic.cause.wants_of_burner(),
            silenced: self.silenced_until_s.is_some(),
        }
    }
}

impl Condition {
    fn warn(&self, now_s: f64) -> Verdict {
        Verdict::Warning {
            elapsed_s: now_s,
            cause: self.topic.cause,
            channel: self.topic.channel.clone(),
            section: self.topic.section.clone(),
            lead_s: self.lead_s.map(f64::round),
            advice: self.advice.clone(),
        }
    }

    fn title(&self) -> String {
        let place = match (&self.topic.section, &self.topic.channel) {
            (Some(section), _) => format!(" of {section}"),
            (None, Some(channel)) => format!(" of {channel}"),
            (None, None) => String::new(),
        };
        format!("{}{place}", self.topic.cause.title())
    }

    /// Larger is more urgent.
    fn urgency(&self) -> (Grade, u8) {
        let cause = match self.topic.cause {
            WarningCause::FlameOut => 5,
            WarningCause::Danger => 4,
            WarningCause::Service => 3,
            WarningCause::Ramp => 2,
            WarningCause::Pulse => 1,
            WarningCause::LightUp => 0,
        };
        (self.grade, cause)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn topic() -> Topic {
        Topic { cause: WarningCause::Ramp, channel: Some(Channel::new("hot")), section: Some("floor".into()) }
    }

    fn there(grade: Grade) -> Vec<Look> {
        let advice = Advice { action: "shut the burner".into(), reason: "too steep".into() };
        vec![Look::There(Condition { topic: topic(), grade, lead_s: Some(40.0), advice })]
    }

    fn gone() -> Vec<Look> {
        vec![Look::Gone(topic())]
    }

    fn warnings(said: &[Verdict]) -> usize {
        said.iter().filter(|verdict| matches!(verdict, Verdict::Warning { .. })).count()
    }

    #[test]
    fn a_condition_that_stays_is_said_once() {
        let mut alarms = Alarms::default();
        let said: usize = (0..100).map(|now| warnings(&alarms.judge(f64::from(now), there(Grade::Act)))).sum();
        assert_eq!(said, 1);
    }

    #[test]
    fn a_condition_that_comes_and_goes_each_second_is_said_once() {
        let mut alarms = Alarms::default();
        let look = |now: i32| if now % 2 == 0 { there(Grade::Act) } else { gone() };
        let said: usize = (0..600).map(|now| warnings(&alarms.judge(f64::from(now), look(now)))).sum();
        assert_eq!(said, 1);
    }

    #[test]
    fn what_has_gone_is_no_longer_shown_and_shown_again_when_it_comes_back() {
        let mut alarms = Alarms::default();
        let shown = [there(Grade::Act), gone(), there(Grade::Act)].map(|look| {
            alarms.judge(0.0, look);
            alarms.standing().len()
        });
        assert_eq!(shown, [1, 0, 1]);
    }

    #[test]
    fn a_condition_that_was_over_for_a_while_is_said_anew() {
        let mut alarms = Alarms::default();
        alarms.judge(0.0, there(Grade::Act));
        alarms.judge(10.0, gone());
        alarms.judge(10.0 + GONE_FOR_S, gone());
        assert_eq!(warnings(&alarms.judge(100.0, there(Grade::Act))), 1);
    }

    #[test]
    fn a_graver_condition_is_said_anew_at_once() {
        let mut alarms = Alarms::default();
        alarms.judge(0.0, there(Grade::Act));
        assert_eq!(warnings(&alarms.judge(1.0, there(Grade::Passed))), 1);
    }

    #[test]
    fn the_same_cause_at_another_place_is_shown_and_not_said_again() {
        let mut alarms = Alarms::default();
        alarms.judge(0.0, there(Grade::Act));
        let advice = Advice { action: "shut the burner".into(), reason: "too steep".into() };
        let topic = Topic { section: Some("lid".into()), ..topic() };
        let elsewhere = Condition { topic, grade: Grade::Act, lead_s: None, advice };
        let said = alarms.judge(1.0, vec![Look::There(elsewhere)]);
        assert_eq!((warnings(&said), alarms.standing().len()), (0, 2));
    }

    #[test]
    fn a_silence_ends_by_itself_and_what_still_stands_is_said_anew() {
        let mut alarms = Alarms::default();
        alarms.judge(0.0, there(Grade::Act));
        alarms.silence(5.0);
        let quiet = warnings(&alarms.judge(4.0 + SILENCE_S, there(Grade::Act)));
        assert_eq!((quiet, warnings(&alarms.judge(6.0 + SILENCE_S, there(Grade::Act)))), (0, 1));
    }

    #[test]
    fn a_call_to_leave_stands_until_it_is_acknowledged_though_it_is_over() {
        let mut alarms = Alarms::default();
        alarms.judge(0.0, there(Grade::Leave));
        alarms.judge(10.0, gone());
        alarms.judge(500.0, gone());
        let latched = alarms.standing().len();
        alarms.silence(510.0);
        alarms.judge(511.0, gone());
        assert_eq!((latched, alarms.standing().len()), (1, 0));
    }
}

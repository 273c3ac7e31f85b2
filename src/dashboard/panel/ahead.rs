//! What limit comes how soon: if the burner stays as it is, does as planned, or is shut now. One row.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Span;

use crate::plan::Flame;
use crate::run::{Course, CourseNow, LimitAhead, Snapshot, WarningCause};
use crate::units::Seconds;

use super::write;
use crate::dashboard::layout::Room;
use crate::dashboard::{ink, words};

/// Draws the row.
pub(in crate::dashboard) fn draw(area: Rect, buffer: &mut Buffer, snapshot: &Snapshot, room: Room) {
    let burns = snapshot.burner.is_some_and(|burner| burner.flame == Flame::On);
    // With the burner shut, staying as it is and being shut now are one way.
    let ways = snapshot.courses.iter().filter(|way| burns || way.course != Course::ShutNow);
    let mut spans = vec![Span::styled(head(&snapshot.courses, room), ink::quiet())];
    for way in ways {
        spans.push(Span::styled(format!("  {} ", name(way.course, burns, room)), ink::quiet()));
        spans.push(nearest(way, room));
    }
    write(area, 0, spans, buffer);
}

fn head(courses: &[CourseNow], room: Room) -> String {
    let looks = courses.iter().map(|way| way.looks).reduce(|a, b| if a.0 < b.0 { a } else { b });
    // Rounded up, so that ten minutes less a second are not nine.
    match looks.map(|looks| Seconds(60.0 * (looks.0 / 60.0).ceil())) {
        Some(looks) if room != Room::Compact => format!("limits in {}:", words::age(looks)),
        _ => "limits:".to_owned(),
    }
}

fn name(course: Course, burns: bool, room: Room) -> &'static str {
    let is_narrow = room == Room::Compact;
    match course {
        Course::AsPlanned if is_narrow => "plan",
        Course::AsPlanned => "as planned",
        Course::AsIs if burns && is_narrow => "ON",
        Course::AsIs if burns => "stays ON",
        Course::AsIs | Course::ShutNow if is_narrow => "SHUT",
        Course::AsIs => "stays SHUT",
        Course::ShutNow => "SHUT now",
    }
}

/// The nearest limit on a way.
fn nearest(way: &CourseNow, room: Room) -> Span<'static> {
    let Some(LimitAhead { cause, section, lead }) = way.limits.first() else {
        return Span::styled("none", ink::text());
    };
    let what = match cause {
        WarningCause::Danger => "danger",
        WarningCause::Service => "service",
        _ => "ramp",
    };
    let whose = if room == Room::Wide { format!(" of {section}") } else { String::new() };
    let when = if lead.0 <= 0.0 { "NOW".to_owned() } else { words::until(*lead) };
    Span::styled(format!("{what}{whose} {when}"), ink::strong())
}

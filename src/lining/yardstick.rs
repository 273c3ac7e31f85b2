//! Four plain linings on which schedules are set side by side, from a thin coat to a thick sealed casting.

use std::sync::LazyLock;

use super::Lining;
use super::material::Materials;
use super::text::parse_lining;

/// The four, thinnest first, each with a short name (`schedules/yardstick-*.toml`).
///
/// # Panics
/// Never: a test reads the same texts.
#[must_use]
pub fn yardsticks() -> &'static [(&'static str, Lining)] {
    const TEXTS: [(&str, &str); 4] = [
        ("3 mm coat", include_str!("../../schedules/yardstick-coat-3.toml")),
        ("12 mm insulating", include_str!("../../schedules/yardstick-insulating-12.toml")),
        ("50 mm conventional", include_str!("../../schedules/yardstick-conventional-50.toml")),
        ("100 mm low-cement", include_str!("../../schedules/yardstick-low-cement-100.toml")),
    ];
    static SHIPPED: LazyLock<Vec<(&'static str, Lining)>> = LazyLock::new(|| {
        let read = |(name, text)| {
            let lining = parse_lining(text, Materials::built_in()).expect("the shipped linings are read by the tests");
            (name, lining)
        };
        TEXTS.into_iter().map(read).collect()
    });
    &SHIPPED
}

//! How long the report of a day takes, from the log to the page. It should stay under 2 s and 1 MB.

#![allow(clippy::unwrap_used)]

#[path = "../tests/made_heat_up/mod.rs"]
mod made_heat_up;

use divan::{Bencher, black_box};
use firstheat::app::replay::setup_of;
use firstheat::app::report::account_of;
use firstheat::units::quantity::UnitSystem;
use firstheat::{log, report};

fn main() {
    divan::main();
}

/// 24 h of readings every other second on three channels.
#[divan::bench(sample_count = 5, sample_size = 1)]
fn a_day_from_log_to_page(bencher: Bencher<'_, '_>) {
    let directory = tempfile::tempdir().unwrap();
    let path = made_heat_up::log(directory.path(), 144);
    bencher.bench_local(|| {
        let book = log::read(&path).unwrap();
        let setup = setup_of(book.head().unwrap(), &path).unwrap();
        let page = report::page::page(&account_of(&book, &setup, UnitSystem::Metric).unwrap());
        assert!(page.len() < 1_000_000, "{} bytes", page.len());
        black_box(page)
    });
}

//! A disk in memory that fails as real ones do, for trying out what happens to a log.
//!
//! It keeps *live* bytes, which any reader sees, apart from *safe* ones, which outlive a power cut. A sync that is refused
//! behaves as on common systems: the bytes count as clean from then on, so that a second sync on the same descriptor succeeds
//! without having saved them.

use std::io;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use super::medium::Medium;

/// The disk. Clones are the same disk, so one can be kept to make it fail.
#[derive(Clone, Debug, Default)]
pub struct TrialDisk(Arc<Mutex<State>>);

#[derive(Debug, Default)]
struct State {
    live: Vec<u8>,
    safe: Vec<u8>,
    /// Live bytes from here on are yet to be saved.
    dirty_from: usize,
    room_bytes: Option<usize>,
    bytes_until_power_cut: Option<usize>,
    refused_syncs: u32,
    slowness: Duration,
    access: Access,
}

/// What may be done with a disk.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Access {
    /// Anything.
    #[default]
    ReadAndWrite,
    /// It is read alone, as a system makes it after errors; a file on it cannot be opened for writing.
    ReadOnly,
}

impl TrialDisk {
    /// A disk that holds these bytes, safe.
    #[must_use]
    pub fn holding(bytes: &[u8]) -> Self {
        let disk = Self::default();
        *disk.state() =
            State { live: bytes.to_vec(), safe: bytes.to_vec(), dirty_from: bytes.len(), ..State::default() };
        disk
    }

    /// Lets the disk hold no more than this many bytes; `None` lifts it.
    pub fn limit_room(&self, room_bytes: Option<usize>) {
        self.state().room_bytes = room_bytes;
    }

    /// Refuses this many of the next syncs.
    pub fn refuse_syncs(&self, count: u32) {
        self.state().refused_syncs = count;
    }

    /// Cuts the power once this many more bytes were written; nothing works afterwards.
    pub fn cut_power_after(&self, bytes: usize) {
        self.state().bytes_until_power_cut = Some(bytes);
    }

    /// Makes everything take this long; what is under way goes by the newest word.
    pub fn slow_down(&self, each: Duration) {
        self.state().slowness = each;
    }

    /// Mounts the disk anew for this.
    pub fn mount(&self, access: Access) {
        self.state().access = access;
    }

    /// What a reader sees now.
    #[must_use]
    pub fn live(&self) -> Vec<u8> {
        self.state().live.clone()
    }

    /// How many bytes a power cut may take or leave.
    #[must_use]
    pub fn unsaved_bytes(&self) -> usize {
        let state = self.state();
        state.live.len() - state.dirty_from
    }

    /// What is there after a power cut that lets the first `kept` of the unsaved bytes reach the disk.
    #[must_use]
    pub fn after_power_cut(&self, kept: usize) -> Vec<u8> {
        let state = self.state();
        let end = (state.dirty_from + kept).min(state.live.len());
        let mut bytes = state.safe.clone();
        if end > state.dirty_from {
            bytes.resize(bytes.len().max(end), 0);
            bytes[state.dirty_from..end].copy_from_slice(&state.live[state.dirty_from..end]);
        }
        bytes
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The state once the disk has taken its time, if there is still power.
    fn powered(&self) -> io::Result<MutexGuard<'_, State>> {
        let begun = Instant::now();
        while begun.elapsed() < self.state().slowness {
            thread::sleep(Duration::from_millis(1));
        }
        let state = self.state();
        if state.bytes_until_power_cut == Some(0) { Err(no_power()) } else { Ok(state) }
    }
}

impl State {
    /// Refuses writing where only reading is allowed.
    fn writable(&self) -> io::Result<()> {
        match self.access {
            Access::ReadAndWrite => Ok(()),
            Access::ReadOnly => Err(io::ErrorKind::ReadOnlyFilesystem.into()),
        }
    }
}

fn no_power() -> io::Error {
    io::Error::new(io::ErrorKind::NotConnected, "there is no power")
}

impl Medium for TrialDisk {
    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        let mut state = self.powered()?;
        state.writable()?;
        let room_bytes = state.room_bytes.map_or(usize::MAX, |room| room.saturating_sub(state.live.len()));
        let power_bytes = state.bytes_until_power_cut.unwrap_or(usize::MAX);
        let taken = bytes.len().min(room_bytes).min(power_bytes);
        state.live.extend_from_slice(&bytes[..taken]);
        state.bytes_until_power_cut = state.bytes_until_power_cut.map(|left| left - taken);
        if taken == bytes.len() {
            Ok(())
        } else if power_bytes < room_bytes {
            Err(no_power())
        } else {
            Err(io::ErrorKind::StorageFull.into())
        }
    }

    fn sync(&mut self) -> io::Result<()> {
        let mut state = self.powered()?;
        state.writable()?;
        let from = state.dirty_from.min(state.live.len());
        state.dirty_from = state.live.len();
        if state.refused_syncs > 0 {
            state.refused_syncs -= 1;
            return Err(io::Error::other("input/output error"));
        }
        let State { live, safe, .. } = &mut *state;
        safe.resize(live.len(), 0);
        safe[from..].copy_from_slice(&live[from..]);
        Ok(())
    }

    fn size(&mut self) -> io::Result<u64> {
        self.powered().map(|state| state.live.len() as u64)
    }

    fn truncate(&mut self, size: u64) -> io::Result<()> {
        let mut state = self.powered()?;
        state.writable()?;
        state.live.truncate(size as usize);
        state.dirty_from = state.dirty_from.min(size as usize);
        Ok(())
    }

    fn read(&mut self, from: u64, most: u64) -> io::Result<Vec<u8>> {
        let state = self.powered()?;
        let from = (from as usize).min(state.live.len());
        let end = from.saturating_add(most as usize).min(state.live.len());
        Ok(state.live[from..end].to_vec())
    }

    fn reopen(&mut self) -> io::Result<()> {
        self.powered()?.writable()
    }
}

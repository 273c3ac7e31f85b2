//! The end of a log on its medium: what is safe there, what is only written, and how to go on after a failure.

use std::io;

use super::medium::Medium;

/// How many bytes before the safe end are compared after a failure.
const WITNESS_BYTES: usize = 1024;

/// A log being appended to, without any clock or thread.
///
/// Bytes are *written* by [`Tail::append`] and *safe* after [`Tail::sync`]. After an error of either nothing is known of the
/// bytes that were written but not safe: [`Tail::mend`] opens the medium anew and cuts them, and the caller writes them again.
/// A sync is never tried twice on one descriptor, because a system may forget bytes that it failed to save.
#[derive(Debug)]
pub struct Tail<M> {
    medium: M,
    safe_bytes: u64,
    /// Last safe bytes, to tell after a failure whether this is still the same log.
    witness: Vec<u8>,
    /// Bytes written since.
    unsafe_bytes: Vec<u8>,
}

/// Why a log cannot be written.
#[derive(Debug, thiserror::Error)]
pub enum Trouble {
    /// The medium refused.
    #[error("cannot {doing} the log: {source}")]
    Refused {
        /// What was tried.
        doing: &'static str,
        /// What it said.
        #[source]
        source: io::Error,
    },
    /// The log is shorter than what was safe on it, or ends otherwise.
    #[error(
        "the log was changed by something else: expected {expected_bytes} safe bytes, found {found_bytes} and not the same: put \
         it back as it was"
    )]
    Changed {
        /// How many bytes were safe.
        expected_bytes: u64,
        /// How many there are.
        found_bytes: u64,
    },
}

impl<M: Medium> Tail<M> {
    /// The end of a medium that holds only safe bytes.
    ///
    /// # Errors
    ///
    /// When the medium cannot be read.
    pub fn at_end_of(mut medium: M) -> Result<Self, Trouble> {
        let safe_bytes = medium.size().map_err(refused("read"))?;
        let from = safe_bytes.saturating_sub(WITNESS_BYTES as u64);
        let witness = medium.read(from, WITNESS_BYTES as u64).map_err(refused("read"))?;
        Ok(Self { medium, safe_bytes, witness, unsafe_bytes: Vec::new() })
    }

    /// Writes bytes at the end.
    ///
    /// # Errors
    ///
    /// When they could not all be written. [`Tail::mend`] comes next.
    pub fn append(&mut self, bytes: &[u8]) -> Result<(), Trouble> {
        self.medium.append(bytes).map_err(refused("write"))?;
        self.unsafe_bytes.extend_from_slice(bytes);
        Ok(())
    }

    /// Makes everything written safe.
    ///
    /// # Errors
    ///
    /// When it may not be. [`Tail::mend`] comes next.
    pub fn sync(&mut self) -> Result<(), Trouble> {
        self.medium.sync().map_err(refused("save"))?;
        self.safe_bytes += self.unsafe_bytes.len() as u64;
        self.witness.append(&mut self.unsafe_bytes);
        let excess = self.witness.len().saturating_sub(WITNESS_BYTES);
        self.witness.drain(..excess);
        Ok(())
    }

    /// Opens the medium anew, makes sure that it is the same log, and cuts it to what is safe.
    ///
    /// # Errors
    ///
    /// When that cannot be done (now); it may be tried again.
    pub fn mend(&mut self) -> Result<(), Trouble> {
        self.medium.reopen().map_err(refused("open"))?;
        let found_bytes = self.medium.size().map_err(refused("read"))?;
        let from = self.safe_bytes - self.witness.len() as u64;
        let last = self.medium.read(from, self.witness.len() as u64).map_err(refused("read"))?;
        if last != self.witness {
            return Err(Trouble::Changed { expected_bytes: self.safe_bytes, found_bytes });
        }
        self.medium.truncate(self.safe_bytes).map_err(refused("cut"))?;
        self.unsafe_bytes.clear();
        Ok(())
    }
}

fn refused(doing: &'static str) -> impl FnOnce(io::Error) -> Trouble {
    move |source| Trouble::Refused { doing, source }
}

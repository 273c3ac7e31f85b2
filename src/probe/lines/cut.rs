//! Cuts a byte stream into lines, the same lines however the bytes arrive.

/// Longest line that is waited for, bytes. A board's line is a few dozen.
pub const MAX_LINE_BYTES: usize = 4096;

/// Where in the stream the first byte stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Start {
    /// At the start of a line, as in a file.
    OnALine,
    /// Anywhere: what comes before the first line end may be the tail of a line and is thrown away.
    MidLine,
}

/// Something cut out of the stream.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Piece {
    /// The bytes of a line without its end; never empty.
    Line(Vec<u8>),
    /// More than [`MAX_LINE_BYTES`] went by without a line end; what follows up to the next end is dropped too.
    TooLong,
}

/// Keeps the bytes of an unfinished line until the rest arrives.
///
/// LF, CR and CRLF all end a line; blank lines are nothing, so a CRLF that arrives in two parts needs no memory.
#[derive(Clone, Debug)]
pub struct LineSplitter {
    held: Vec<u8>,
    skipping: bool,
}

impl LineSplitter {
    /// A splitter whose next byte stands at `start`.
    #[must_use]
    pub fn new(start: Start) -> Self {
        Self { held: Vec::new(), skipping: start == Start::MidLine }
    }

    /// Takes the next bytes and gives what they complete. What is not complete is kept for the next call.
    pub fn push(&mut self, bytes: &[u8]) -> Vec<Piece> {
        let mut pieces = Vec::new();
        for &byte in bytes {
            match byte {
                b'\n' | b'\r' => {
                    if !self.held.is_empty() {
                        pieces.push(Piece::Line(std::mem::take(&mut self.held)));
                    }
                    self.skipping = false;
                }
                _ if self.skipping => {}
                _ if self.held.len() == MAX_LINE_BYTES => {
                    self.held.clear();
                    self.skipping = true;
                    pieces.push(Piece::TooLong);
                }
                _ => self.held.push(byte),
            }
        }
        pieces
    }

    /// The bytes of the line that is not finished yet.
    #[must_use]
    pub fn unfinished(&self) -> &[u8] {
        &self.held
    }
}

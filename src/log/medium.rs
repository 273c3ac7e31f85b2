//! The only way to the disk: what the log asks of a medium, and the real file.
//!
//! What is assumed of a medium: bytes written in order reach it in order or not at all, so that a power cut keeps some
//! prefix of what was not synced (a tail of other bytes is coped with, see [`super::recover`]); after a sync that succeeded
//! everything before it is safe; after a sync that failed nothing is known of the bytes it was for.

use std::fs::{File, Metadata, OpenOptions, TryLockError};
use std::io::{self, Read as _, Seek as _, SeekFrom, Write as _};
use std::path::{Path, PathBuf};

/// What a log is kept on.
pub trait Medium: Send {
    /// Puts all the bytes at the end. On an error some of them may stand there.
    ///
    /// # Errors
    ///
    /// Whatever keeps the bytes from being written.
    fn append(&mut self, bytes: &[u8]) -> io::Result<()>;

    /// Returns when every byte appended is safe from a power cut.
    ///
    /// # Errors
    ///
    /// When they are not. Calling again on the same descriptor proves nothing: [`Medium::reopen`], then write them again.
    fn sync(&mut self) -> io::Result<()>;

    /// Length in bytes.
    ///
    /// # Errors
    ///
    /// When it cannot be told.
    fn size(&mut self) -> io::Result<u64>;

    /// Cuts everything from byte `size` on.
    ///
    /// # Errors
    ///
    /// When it cannot.
    fn truncate(&mut self, size: u64) -> io::Result<()>;

    /// At most `most` bytes from byte `from` on; fewer only where the medium ends.
    ///
    /// # Errors
    ///
    /// When they cannot be read.
    fn read(&mut self, from: u64, most: u64) -> io::Result<Vec<u8>>;

    /// Lets the descriptor go and opens the same medium again.
    ///
    /// # Errors
    ///
    /// When it cannot be opened any more.
    fn reopen(&mut self) -> io::Result<()>;
}

/// A file on disk, locked against a second writer while it is open.
#[derive(Debug)]
pub struct DiskFile {
    path: PathBuf,
    file: File,
}

impl DiskFile {
    /// A new file. Its directory is synced too, so that a power cut does not take the name away.
    ///
    /// # Errors
    ///
    /// `AlreadyExists` when something has that name: nothing is ever overwritten. Else whatever keeps it from being made.
    pub fn create(path: &Path) -> io::Result<Self> {
        let file = OpenOptions::new().read(true).append(true).create_new(true).open(path)?;
        match lock(&file).and_then(|()| sync_directory_of(path)) {
            Ok(()) => Ok(Self { path: path.to_owned(), file }),
            Err(error) => {
                drop(file);
                std::fs::remove_file(path)?;
                Err(error)
            }
        }
    }

    /// A file that is there, to append to.
    ///
    /// # Errors
    ///
    /// `WouldBlock` when another program writes to it. Else whatever keeps it from being opened.
    pub fn open(path: &Path) -> io::Result<Self> {
        let file = OpenOptions::new().read(true).append(true).open(path)?;
        lock(&file)?;
        Ok(Self { path: path.to_owned(), file })
    }
}

impl Drop for DiskFile {
    /// Gives the lock back: closing alone leaves it to a child process that was begun just now and has not let go of the
    /// file yet.
    fn drop(&mut self) {
        // An error here changes nothing: the lock ends with the last copy of the file.
        let _ = self.file.unlock();
    }
}

impl Medium for DiskFile {
    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.file.write_all(bytes)
    }

    fn sync(&mut self) -> io::Result<()> {
        self.file.sync_data()?;
        still_named(&self.file, &self.path)
    }

    fn size(&mut self) -> io::Result<u64> {
        self.file.metadata().map(|about| about.len())
    }

    fn truncate(&mut self, size: u64) -> io::Result<()> {
        self.file.set_len(size)
    }

    fn read(&mut self, from: u64, most: u64) -> io::Result<Vec<u8>> {
        self.file.seek(SeekFrom::Start(from))?;
        let mut bytes = Vec::new();
        (&mut self.file).take(most).read_to_end(&mut bytes)?;
        Ok(bytes)
    }

    fn reopen(&mut self) -> io::Result<()> {
        let file = match OpenOptions::new().read(true).append(true).open(&self.path) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => return self.recreate(),
            opened => opened?,
        };
        is_same(&self.file, &file.metadata()?)?;
        self.file.unlock()?;
        lock(&file)?;
        self.file = file;
        Ok(())
    }
}

impl DiskFile {
    /// Writes a log that was deleted or moved anew under its name, from the descriptor that still holds it.
    fn recreate(&mut self) -> io::Result<()> {
        let mut anew = Self::create(&self.path)?;
        self.file.seek(SeekFrom::Start(0))?;
        let copied = io::copy(&mut self.file, &mut anew.file).and_then(|_| anew.file.sync_all());
        match copied {
            Ok(()) => *self = anew,
            Err(_) => std::fs::remove_file(&self.path)?,
        }
        copied
    }
}

/// Makes a new name in its directory safe from a power cut.
pub(super) fn sync_directory_of(path: &Path) -> io::Result<()> {
    if cfg!(not(unix)) {
        return Ok(());
    }
    match path.parent() {
        Some(directory) if !directory.as_os_str().is_empty() => File::open(directory)?.sync_all(),
        _ => File::open(".")?.sync_all(),
    }
}

/// Keeps a second writer out. A file system that knows no locks is not a reason to keep no log.
fn lock(file: &File) -> io::Result<()> {
    match file.try_lock() {
        Ok(()) => Ok(()),
        Err(TryLockError::WouldBlock) => Err(io::ErrorKind::WouldBlock.into()),
        Err(TryLockError::Error(error)) if error.kind() == io::ErrorKind::Unsupported => Ok(()),
        Err(TryLockError::Error(error)) => Err(error),
    }
}

/// Notices a log that was deleted or moved while it is written: its bytes would be lost with the last descriptor.
fn still_named(file: &File, path: &Path) -> io::Result<()> {
    let named = std::fs::metadata(path).map_err(|error| match error.kind() {
        io::ErrorKind::NotFound => io::Error::new(error.kind(), "the file was deleted or moved while it was written"),
        _ => error,
    });
    is_same(file, &named?)
}

/// Refuses a file that is not the one that is open.
#[cfg(unix)]
fn is_same(open: &File, named: &Metadata) -> io::Result<()> {
    use std::os::unix::fs::MetadataExt as _;
    let open = open.metadata()?;
    if (open.dev(), open.ino()) == (named.dev(), named.ino()) {
        return Ok(());
    }
    Err(io::Error::new(io::ErrorKind::AlreadyExists, "another file has taken its name: move that file away"))
}

#[cfg(not(unix))]
fn is_same(_open: &File, _named: &Metadata) -> io::Result<()> {
    Ok(())
}

//! What a command asked of the system, read from strace's list with all its data.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use crate::stage::{self, Run, Stage};

/// The calls that are read. What alters files in another way makes the model differ from the real folder, which is looked at
/// after every command.
const CALLS: &str = "?open,openat,?creat,write,pwrite64,ftruncate,truncate,fsync,fdatasync,?unlink,unlinkat,?rename,\
    renameat,renameat2,?link,linkat,?mkdir,mkdirat,?rmdir,lseek,close,copy_file_range";

/// One thing that was asked of the system and done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Call {
    /// A file opened: whether it is made where missing, and emptied.
    Open {
        path: PathBuf,
        make: bool,
        empty: bool,
    },
    /// Bytes written at a place.
    Write {
        path: PathBuf,
        at: usize,
        bytes: Vec<u8>,
    },
    /// Bytes copied from a file to a file.
    Copy {
        from: PathBuf,
        from_at: usize,
        to: PathBuf,
        to_at: usize,
        length: usize,
    },
    /// A file cut or lengthened.
    Truncate { path: PathBuf, length: usize },
    /// A file or folder flushed.
    Flush { path: PathBuf },
    /// A name gone.
    Unlink { path: PathBuf },
    /// A name moved.
    Rename { from: PathBuf, to: PathBuf },
    /// A second name.
    Link { from: PathBuf, to: PathBuf },
    /// A folder made.
    Mkdir { path: PathBuf },
    /// Standard output written: from here on the command is acknowledged.
    Said,
}

/// Runs a line under strace and reads what it did to files on the stage.
pub fn record(stage: &Stage, line: &str) -> (Run, Vec<Call>) {
    let mut command = stage.program("strace");
    let trace = format!("trace={CALLS}");
    command.args([
        "-f",
        "-qq",
        "-y",
        "-xx",
        "-s",
        "100000000",
        "-e",
        &trace,
        "-o",
    ]);
    command
        .arg(stage.log())
        .arg(stage::binary())
        .args(crate::scene::split(line));
    let run = stage::finish(&mut command);
    let text = std::fs::read_to_string(stage.log()).expect("strace wrote its list");
    let mut reader = Reader {
        folder: stage.folder().to_owned(),
        offsets: HashMap::new(),
        calls: Vec::new(),
    };
    for line in text.lines() {
        reader.read(line);
    }
    (run, reader.calls)
}

struct Reader {
    folder: PathBuf,
    offsets: HashMap<u32, usize>,
    calls: Vec<Call>,
}

/// An argument: a number, a string, a descriptor with its path, or words.
#[derive(Debug, Clone)]
enum Arg {
    Text(Vec<u8>),
    Opened(u32, PathBuf),
    Words(String),
}

impl Arg {
    fn number(&self) -> usize {
        match self {
            Self::Words(words) => words
                .parse()
                .unwrap_or_else(|_| panic!("no number: {words}")),
            other => panic!("no number: {other:?}"),
        }
    }
}

impl Reader {
    fn read(&mut self, line: &str) {
        let line = line.trim_start_matches(|c: char| c.is_ascii_digit() || c == ' ');
        let Some((name, rest)) = line.split_once('(') else {
            return;
        };
        let Some((inner, result)) = rest.rsplit_once(") = ") else {
            return;
        };
        let result = result.split([' ', '<']).next().unwrap_or("");
        let Ok(result) = result.parse::<usize>() else {
            return;
        };
        let args = arguments(inner);
        self.take(name, &args, result);
    }

    fn on_stage(&self, path: &Path) -> Option<PathBuf> {
        let path = self.folder.join(path);
        path.strip_prefix(&self.folder).ok().map(Path::to_owned)
    }

    /// The path that a call names: the string after the folder it starts from.
    fn named(&self, args: &[Arg], nth: usize) -> Option<PathBuf> {
        let texts = args.iter().filter_map(|arg| match arg {
            Arg::Text(bytes) => Some(String::from_utf8_lossy(bytes).into_owned()),
            _ => None,
        });
        let text = texts.into_iter().nth(nth)?;
        self.on_stage(Path::new(&text))
    }

    fn take(&mut self, name: &str, args: &[Arg], result: usize) {
        match name {
            "open" | "openat" | "creat" => self.open(args, result),
            "close" => {
                if let Some(Arg::Opened(fd, _)) = args.first() {
                    self.offsets.remove(fd);
                }
            }
            "lseek" => {
                if let Some(Arg::Opened(fd, _)) = args.first() {
                    self.offsets.insert(*fd, result);
                }
            }
            "write" | "pwrite64" => self.write(name, args, result),
            "copy_file_range" => self.copy(args, result),
            "fsync" | "fdatasync" | "ftruncate" => {
                let Some(Arg::Opened(_, path)) = args.first() else {
                    return;
                };
                let Some(path) = self.on_stage(path) else {
                    return;
                };
                self.calls.push(match name {
                    "ftruncate" => Call::Truncate {
                        path,
                        length: args[1].number(),
                    },
                    _ => Call::Flush { path },
                });
            }
            _ => self.name(name, args),
        }
    }

    fn name(&mut self, name: &str, args: &[Arg]) {
        let Some(path) = self.named(args, 0) else {
            return;
        };
        let two = || {
            self.named(args, 1)
                .expect("the other name lies on the stage too")
        };
        let call = match name {
            "unlink" | "unlinkat" | "rmdir" => Call::Unlink { path },
            "rename" | "renameat" | "renameat2" => Call::Rename {
                from: path,
                to: two(),
            },
            "link" | "linkat" => Call::Link {
                from: path,
                to: two(),
            },
            "mkdir" | "mkdirat" => Call::Mkdir { path },
            other => panic!("{other} is not modelled"),
        };
        self.calls.push(call);
    }

    fn open(&mut self, args: &[Arg], fd: usize) {
        let fd = u32::try_from(fd).expect("descriptors are small");
        self.offsets.insert(fd, 0);
        let Some(path) = self.named(args, 0) else {
            return;
        };
        let flags = args.iter().find_map(|arg| match arg {
            Arg::Words(words) if words.contains("O_") => Some(words.clone()),
            _ => None,
        });
        let flags = flags.unwrap_or_default();
        assert!(!flags.contains("O_APPEND"), "appending is not modelled");
        let (make, empty) = (flags.contains("O_CREAT"), flags.contains("O_TRUNC"));
        if make || empty {
            self.calls.push(Call::Open { path, make, empty });
        }
    }

    fn write(&mut self, name: &str, args: &[Arg], wrote: usize) {
        let [Arg::Opened(fd, path), Arg::Text(bytes), ..] = args else {
            return;
        };
        if *fd == 1 {
            self.calls.push(Call::Said);
            return;
        }
        if !path.is_absolute() {
            return;
        }
        let at = match name {
            "pwrite64" => args[3].number(),
            _ => {
                let offset = self.offsets.entry(*fd).or_default();
                *offset += wrote;
                *offset - wrote
            }
        };
        if let Some(path) = self.on_stage(path) {
            assert!(bytes.len() >= wrote, "strace has cut the data off");
            self.calls.push(Call::Write {
                path,
                at,
                bytes: bytes[..wrote].to_vec(),
            });
        }
    }

    fn copy(&mut self, args: &[Arg], length: usize) {
        let [
            Arg::Opened(from_fd, from),
            from_off,
            Arg::Opened(to_fd, to),
            to_off,
            ..,
        ] = args
        else {
            return;
        };
        let null = |arg: &Arg| matches!(arg, Arg::Words(words) if words == "NULL");
        assert!(
            null(from_off) && null(to_off),
            "a copy at a place is not modelled"
        );
        let mut step = |fd: &u32| {
            let offset = self.offsets.entry(*fd).or_default();
            *offset += length;
            *offset - length
        };
        let (from_at, to_at) = (step(from_fd), step(to_fd));
        if let (Some(from), Some(to)) = (self.on_stage(from), self.on_stage(to))
            && length > 0
        {
            self.calls.push(Call::Copy {
                from,
                from_at,
                to,
                to_at,
                length,
            });
        }
    }
}

/// Splits arguments at commas outside strings, brackets and braces.
fn arguments(inner: &str) -> Vec<Arg> {
    let (mut args, mut start, mut depth, mut quoted) = (Vec::new(), 0, 0_i32, false);
    let bytes = inner.as_bytes();
    for (at, byte) in bytes.iter().enumerate() {
        match byte {
            b'"' => quoted = !quoted,
            b'{' | b'[' | b'<' if !quoted => depth += 1,
            b'}' | b']' | b'>' if !quoted => depth -= 1,
            b',' if !quoted && depth == 0 => {
                args.push(argument(inner[start..at].trim()));
                start = at + 1;
            }
            _ => {}
        }
    }
    args.push(argument(inner[start..].trim()));
    args
}

fn argument(text: &str) -> Arg {
    if let Some(rest) = text.strip_prefix('"') {
        return Arg::Text(unescape(rest.split('"').next().unwrap_or("")));
    }
    if let Some((fd, path)) = text.split_once('<')
        && let Ok(fd) = fd.parse()
    {
        let path = String::from_utf8_lossy(&unescape(path.trim_end_matches('>'))).into_owned();
        return Arg::Opened(fd, path.into());
    }
    Arg::Words(text.to_owned())
}

fn unescape(text: &str) -> Vec<u8> {
    let (mut bytes, mut rest) = (Vec::new(), text.as_bytes());
    while let Some((first, tail)) = rest.split_first() {
        if *first == b'\\' && tail.first() == Some(&b'x') && tail.len() >= 3 {
            let digits = std::str::from_utf8(&tail[1..3]).expect("two digits");
            bytes.push(u8::from_str_radix(digits, 16).expect("two hexadecimal digits"));
            rest = &tail[3..];
        } else {
            bytes.push(*first);
            rest = tail;
        }
    }
    bytes
}

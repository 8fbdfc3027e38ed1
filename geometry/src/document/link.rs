//! The link: one revision in the fragment of an address.
//!
//! In: [`Lines`]. Out: text of letters, digits, `-`, `_` and `.`. And back, trusted in nothing: a [`LinkError`] says
//! where the damage is. The document's notes and those of its readings stay at home; readings set aside go along, with
//! their reasons. Ids are renumbered, in order from 0.
//!
//! Form: `SB1.` total length in decimal `.` blocks. A block is up to 62 characters of base64url and two that check
//! them, the block's place and the length. The blocks' characters are four bytes of SHA-256 and the packed form, deflated.

use core::fmt;

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use miniz_oxide::deflate::compress_to_vec;
use miniz_oxide::inflate::decompress_to_vec_with_limit;
use sha2::{Digest, Sha256};

use super::Lines;
use super::pack::{pack, unpack};
use super::rules::Fault;
use crate::units::{LengthUnit, Message};

/// Longest link that is read, in characters: 2 MiB.
pub const LONGEST_LINK: usize = 2 << 20;
/// Most that a link may unpack to, in bytes: 16 MiB.
pub const LARGEST_UNPACKED: usize = 16 << 20;
/// Over so many characters a file is the better way to share.
pub const COMFORTABLE_LINK: usize = 8_000;

const HEAD: &str = "SB1.";
const BLOCK: usize = 62;
const CHECKED: usize = BLOCK + 2;
const DIGITS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";
const SEAL: usize = 4;

/// Why a link was not opened; the work is as it was. Characters are counted from the start of the link's text.
#[derive(Clone, Debug, PartialEq)]
pub enum LinkError {
    /// It does not start as a link of lines does.
    NoLink,
    /// It was made by a newer program.
    Newer,
    /// It is longer than [`LONGEST_LINK`].
    TooLong(usize),
    /// Its end is missing.
    CutOff {
        /// Characters that are there.
        found: usize,
        /// Characters that were sent.
        sent: usize,
    },
    /// Something hangs on its end.
    Overlong {
        /// Characters that are there.
        found: usize,
        /// Characters that were sent.
        sent: usize,
    },
    /// It is damaged behind so many characters, of so many.
    Damaged {
        /// Characters that are still right.
        after: usize,
        /// All of them.
        of: usize,
    },
    /// All characters check, and yet it does not unpack.
    DoesNotUnpack,
    /// What was unpacked breaks a rule.
    Unsound(Fault),
}

impl Message for LinkError {
    fn message(&self, unit: LengthUnit) -> String {
        const ASK: &str = "Ask for the link again, or for the file.";
        match self {
            Self::NoLink => format!("This link holds no lines. {ASK}"),
            Self::Newer => {
                "This link was made by a newer Scrieve Board. Reload the page to get the newest, or ask for the file."
                    .to_owned()
            }
            Self::TooLong(found) => {
                format!("This link has {found} characters, at most {LONGEST_LINK} are read. Ask for the file.")
            }
            Self::CutOff { found, sent } => format!("This link is cut off: {found} of {sent} characters. {ASK}"),
            Self::Overlong { found, sent } => {
                format!("This link has {} characters too many at its end. {ASK}", found.saturating_sub(*sent))
            }
            Self::Damaged { after, of } => {
                format!("This link is damaged after character {after} of {of}. {ASK}")
            }
            Self::DoesNotUnpack => format!("This link does not unpack, though no character is damaged. {ASK}"),
            Self::Unsound(fault) => format!("The lines in this link are not sound. {} {ASK}", fault.message(unit)),
        }
    }
}

impl fmt::Display for LinkError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message(LengthUnit::Millimetres))
    }
}

impl core::error::Error for LinkError {}

/// Writes the text that goes behind `#` in a link.
#[must_use]
pub fn write_link(lines: &Lines) -> String {
    let packed = compress_to_vec(&pack(lines), 10);
    let mut sealed = seal(&packed).to_vec();
    sealed.extend(packed);
    let body = URL_SAFE_NO_PAD.encode(sealed);
    let blocks = body.len().div_ceil(BLOCK);
    let unnumbered = HEAD.len() + 1 + body.len() + 2 * blocks;
    // The number counts its own digits.
    let mut total = unnumbered;
    while total != unnumbered + total.to_string().len() {
        total = unnumbered + total.to_string().len();
    }
    let mut link = format!("{HEAD}{total}.");
    for (n, block) in body.as_bytes().chunks(BLOCK).enumerate() {
        link.extend(block.iter().copied().map(char::from));
        link.extend(check_of(total, n, block).map(char::from));
    }
    link
}

/// Reads the text behind `#` in a link.
///
/// # Errors
/// [`LinkError`]: what is damaged, where, and what to do.
pub fn read_link(text: &str) -> Result<Lines, LinkError> {
    let text = text.trim();
    let text = text.strip_prefix('#').unwrap_or(text);
    if text.len() > LONGEST_LINK {
        return Err(LinkError::TooLong(text.len()));
    }
    let Some(rest) = text.strip_prefix(HEAD) else {
        let newer = text
            .strip_prefix("SB")
            .and_then(|rest| rest.split_once('.'));
        return Err(match newer {
            Some((version, _))
                if !version.is_empty() && version.bytes().all(|b| b.is_ascii_digit()) =>
            {
                LinkError::Newer
            }
            _ => LinkError::NoLink,
        });
    };
    let found = text.chars().count();
    let damaged_head = LinkError::Damaged {
        after: HEAD.len(),
        of: found,
    };
    let (total, body) = rest.split_once('.').ok_or_else(|| damaged_head.clone())?;
    let plain =
        total.len() <= 7 && !total.starts_with('0') && total.bytes().all(|b| b.is_ascii_digit());
    let sent: usize = total
        .parse()
        .ok()
        .filter(|_| plain)
        .ok_or(damaged_head.clone())?;
    let before = HEAD.len() + total.len() + 1;
    let sealed = checked_body(body, before, sent)?;
    if found < sent {
        return Err(LinkError::CutOff { found, sent });
    }
    if found > sent {
        return Err(LinkError::Overlong { found, sent });
    }
    let bytes = URL_SAFE_NO_PAD
        .decode(sealed)
        .map_err(|_not_base64| LinkError::DoesNotUnpack)?;
    let (seal_sent, packed) = bytes
        .split_at_checked(SEAL)
        .ok_or(LinkError::DoesNotUnpack)?;
    if seal_sent != seal(packed) {
        return Err(LinkError::Damaged {
            after: HEAD.len(),
            of: sent,
        });
    }
    let unpacked = decompress_to_vec_with_limit(packed, LARGEST_UNPACKED)
        .map_err(|_too_large_or_broken| LinkError::DoesNotUnpack)?;
    let lines = unpack(&unpacked).ok_or(LinkError::DoesNotUnpack)?;
    match lines.first_fault() {
        Some(fault) => Err(LinkError::Unsound(fault)),
        None => Ok(lines),
    }
}

/// The body without its check characters, as far as whole blocks are there, or the place of the first damage.
fn checked_body(body: &str, before: usize, sent: usize) -> Result<Vec<u8>, LinkError> {
    let mut kept = Vec::with_capacity(body.len());
    let whole = sent.saturating_sub(before);
    let mut at = 0;
    let bytes = body.as_bytes();
    while at < whole.min(bytes.len()) {
        let end = (at + CHECKED).min(whole);
        // The first block checks the length as well, which stands before it.
        let after = if at == 0 { HEAD.len() } else { before + at };
        let damaged = LinkError::Damaged { after, of: sent };
        let Some(block) = bytes.get(at..end) else {
            // The last block that is there is not whole: the cut is told by the length.
            return Err(if bytes[at..].iter().all(|byte| DIGITS.contains(byte)) {
                LinkError::CutOff {
                    found: before + body.chars().count(),
                    sent,
                }
            } else {
                damaged
            });
        };
        let (characters, check) = block
            .split_at_checked(block.len().saturating_sub(2))
            .ok_or(damaged.clone())?;
        if characters.is_empty() || check != check_of(sent, at / CHECKED, characters) {
            return Err(damaged);
        }
        kept.extend_from_slice(characters);
        at = end;
    }
    Ok(kept)
}

fn seal(packed: &[u8]) -> [u8; SEAL] {
    let digest = Sha256::digest(packed);
    let mut seal = [0; SEAL];
    seal.iter_mut()
        .zip(digest)
        .for_each(|(to, from)| *to = from);
    seal
}

/// Two characters that check a block, its place and the link's length: a cyclic code of 12 bits,
/// x¹² + x¹¹ + x³ + x² + x + 1.
fn check_of(total: usize, place: usize, block: &[u8]) -> [u8; 2] {
    let bytes = |number: usize| u32::try_from(number).unwrap_or(u32::MAX).to_le_bytes();
    let mut register: u16 = 0xfff;
    for byte in bytes(total).iter().chain(&bytes(place)).chain(block) {
        register ^= u16::from(*byte) << 4;
        for _ in 0..8 {
            register = if register & 0x800 == 0 {
                register << 1
            } else {
                (register << 1) ^ 0x80f
            };
        }
        register &= 0xfff;
    }
    [
        DIGITS[usize::from(register >> 6)],
        DIGITS[usize::from(register & 0x3f)],
    ]
}

//! Keys that a reader knows from elsewhere: a file in the form of `ssh-keygen`'s allowed signers.

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;

use super::key::fingerprint_of;
use super::seal::NAMESPACE;

/// One key that the reader knows.
#[derive(Debug, Clone, PartialEq, Eq)]
struct KnownSigner {
    /// As whom the reader knows it.
    principals: String,
    /// Fingerprint of the key.
    fingerprint: String,
    namespaces: Option<String>,
    valid_after: Option<Timestamp>,
    valid_before: Option<Timestamp>,
}

/// The keys that a reader knows, by the lines `principals [options] keytype key` of ssh-keygen(1), ALLOWED SIGNERS.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct KnownSigners {
    signers: Vec<KnownSigner>,
}

/// What a reader's list says about a key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Standing {
    /// The reader knows it, under this name.
    Known(String),
    /// It is on the list, but not for this: why, in words.
    NotFor(String),
    /// It is not on the list.
    Unknown,
}

impl KnownSigners {
    /// Reads a list.
    ///
    /// # Errors
    /// Every line that is wrong, with its number.
    pub fn read(text: &str) -> Result<Self, Vec<String>> {
        let (mut signers, mut wrong) = (Vec::new(), Vec::new());
        for (index, line) in text.lines().enumerate() {
            let line = line.trim();
            if line.is_empty() || line.starts_with('#') {
                continue;
            }
            match read_line(line) {
                Ok(signer) => signers.push(signer),
                Err(says) => wrong.push(format!("line {}: {says}", index + 1)),
            }
        }
        if wrong.is_empty() { Ok(Self { signers }) } else { Err(wrong) }
    }

    /// Adds one key under a name.
    pub fn add(&mut self, name: &str, public_line: &str) {
        if let Some(fingerprint) = fingerprint_of(public_line) {
            let (principals, namespaces) = (name.to_owned(), None);
            self.signers.push(KnownSigner {
                principals,
                fingerprint,
                namespaces,
                valid_after: None,
                valid_before: None,
            });
        }
    }

    /// Adds the keys of another list.
    pub fn extend(&mut self, other: Self) {
        self.signers.extend(other.signers);
    }

    /// What the list says about a key for a record of this program, now.
    pub fn standing(&self, fingerprint: &str, now: Timestamp) -> Standing {
        let mut why_not = None;
        for signer in self.signers.iter().filter(|signer| signer.fingerprint == fingerprint) {
            match signer.trouble(now) {
                None => return Standing::Known(signer.principals.clone()),
                Some(says) => why_not = Some(says),
            }
        }
        why_not.map_or(Standing::Unknown, Standing::NotFor)
    }
}

impl KnownSigner {
    fn trouble(&self, now: Timestamp) -> Option<String> {
        if let Some(spaces) = &self.namespaces
            && !spaces.split(',').any(|pattern| fits(pattern, NAMESPACE))
        {
            return Some(format!("your list knows it only for {spaces}, not for {NAMESPACE}"));
        }
        if let Some(after) = self.valid_after.filter(|after| now < *after) {
            return Some(format!("by your list it is not valid before {after}"));
        }
        if let Some(before) = self.valid_before.filter(|before| now >= *before) {
            return Some(format!("by your list it was valid until {before} only"));
        }
        None
    }
}

/// Whether a text fits a pattern of OpenSSH (ssh_config(5), PATTERNS): `*` any letters, `?` one.
fn fits(pattern: &str, text: &str) -> bool {
    match pattern.chars().next() {
        None => text.is_empty(),
        Some('*') => {
            text.char_indices().map(|(at, _)| at).chain([text.len()]).any(|at| fits(&pattern[1..], &text[at..]))
        }
        Some(own) => {
            let mut rest = text.chars();
            rest.next().is_some_and(|c| own == '?' || own == c) && fits(&pattern[own.len_utf8()..], rest.as_str())
        }
    }
}

/// Splits at spaces that stand in no quotes.
fn words(line: &str) -> Vec<&str> {
    let mut quoted = false;
    let split = |c: char| {
        quoted ^= c == '"';
        c.is_whitespace() && !quoted
    };
    line.split(split).filter(|word| !word.is_empty()).collect()
}

fn read_line(line: &str) -> Result<KnownSigner, String> {
    let words = words(line);
    let is_kind = |word: &&&str| word.starts_with("ssh-") || word.starts_with("ecdsa-") || word.starts_with("sk-");
    let (options, kind, key) = match words.as_slice() {
        [_, kind, key, ..] if is_kind(&kind) => ("", *kind, *key),
        [_, options, kind, key, ..] if is_kind(&kind) => (*options, *kind, *key),
        _ => return Err("a line holds: name, options or none, kind of key, key".to_owned()),
    };
    let fingerprint = fingerprint_of(&format!("{kind} {key}")).ok_or("the key cannot be read")?;
    let principals = words[0].trim_matches('"').to_owned();
    let mut signer = KnownSigner { principals, fingerprint, namespaces: None, valid_after: None, valid_before: None };
    for option in split_options(options) {
        let (name, value) = option.split_once('=').unwrap_or((option, ""));
        let value = value.trim_matches('"');
        match name.to_ascii_lowercase().as_str() {
            "namespaces" => signer.namespaces = Some(value.to_owned()),
            "valid-after" => signer.valid_after = Some(moment(value)?),
            "valid-before" => signer.valid_before = Some(moment(value)?),
            "cert-authority" => return Err("certificates are not supported: name the key itself".to_owned()),
            other => return Err(format!("the option `{other}` is not known")),
        }
    }
    Ok(signer)
}

/// Options stand between commas that stand in no quotes.
fn split_options(options: &str) -> impl Iterator<Item = &str> {
    let mut quoted = false;
    let split = move |c: char| {
        quoted ^= c == '"';
        c == ',' && !quoted
    };
    options.split(split).filter(|option| !option.is_empty())
}

/// `YYYYMMDD` or `YYYYMMDDHHMM[SS]`, with `Z` in UTC, without in local time.
fn moment(text: &str) -> Result<Timestamp, String> {
    let wrong = || format!("`{text}` is no time: YYYYMMDD or YYYYMMDDHHMM[SS], with Z for UTC");
    let (digits, zone) = match text.strip_suffix(['Z', 'z']) {
        Some(digits) => (digits, TimeZone::UTC),
        None => (text, TimeZone::system()),
    };
    if !digits.bytes().all(|b| b.is_ascii_digit()) || ![8, 12, 14].contains(&digits.len()) {
        return Err(wrong());
    }
    let part = |from: usize, to: usize| digits.get(from..to).and_then(|d| d.parse::<i8>().ok()).unwrap_or(0);
    let year = digits[..4].parse().map_err(|_| wrong())?;
    let when = DateTime::new(year, part(4, 6), part(6, 8), part(8, 10), part(10, 12), part(12, 14), 0);
    let when = when.map_err(|_| wrong())?;
    zone.to_ambiguous_timestamp(when).compatible().map_err(|_| wrong())
}

#[cfg(test)]
mod tests {
    use super::*;

    const KEY: &str = "ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAINdamAGCsQq31Uv+08lkBzoO4XLz2qYjJa8CGmj3B1Ea";
    const FINGERPRINT: &str = "SHA256:bbXpuKG6zhzdmnxq256TlqzFBzRl2f6OOg722cYNbU8";

    fn standing(line: &str) -> Standing {
        let now: Timestamp = "2026-11-25T12:00:00Z".parse().unwrap();
        KnownSigners::read(line).unwrap().standing(FINGERPRINT, now)
    }

    #[test]
    fn a_key_on_the_list_is_known_by_its_name_there() {
        assert_eq!(standing(&format!("# my shop\n\nshop {KEY}\n")), Standing::Known("shop".to_owned()));
        let quoted = format!("shop,\"front desk\" namespaces=\"file,record@*\" {KEY} a comment");
        assert!(matches!(standing(&quoted), Standing::Known(_)));
        assert_eq!(standing(""), Standing::Unknown);
    }

    #[test]
    fn a_key_for_something_else_or_another_time_is_not_for_this() {
        for options in ["namespaces=\"file\"", "valid-before=\"20260101Z\"", "valid-after=\"20270101Z\""] {
            assert!(matches!(standing(&format!("shop {options} {KEY}")), Standing::NotFor(_)), "{options}");
        }
        let good = "namespaces=\"record@rigproof\",valid-after=\"20200101Z\",valid-before=\"20300101120000Z\"";
        assert!(matches!(standing(&format!("shop {good} {KEY}")), Standing::Known(_)));
    }

    #[test]
    fn every_line_that_is_wrong_is_named() {
        let text = format!("only-a-name\nshop cert-authority {KEY}\nshop {KEY}\nshop valid-before=\"2026\" {KEY}\n");
        let wrong = KnownSigners::read(&text).unwrap_err();
        assert_eq!(wrong.len(), 3, "{wrong:?}");
        assert!(wrong[0].starts_with("line 1:") && wrong[1].contains("certificates") && wrong[2].contains("2026"));
    }
}

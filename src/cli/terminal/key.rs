//! Asks for the key that signs, and for its passphrase.

use std::path::{Path, PathBuf};
use std::sync::atomic::Ordering;

use console::{Key, Term};

use super::super::failure::Failure;
use super::super::signing;
use super::{BROKEN_OFF, TerminalFront};
use crate::record::SigningKey;

/// Reads a passphrase key by key, unechoed. (A prompt that reads a whole line does not hear Ctrl-C.)
pub(in super::super) fn passphrase(term: &Term, path: &Path) -> Option<String> {
    let _ = term.write_str(&format!("Passphrase of {}: ", path.display()));
    let mut phrase = String::new();
    let outcome = loop {
        match term.read_key_raw() {
            Ok(Key::Enter) => break Some(phrase),
            Ok(Key::Backspace) => {
                phrase.pop();
            }
            Ok(Key::CtrlC | Key::Char('\u{3}')) | Err(_) => {
                BROKEN_OFF.store(true, Ordering::SeqCst);
                break None;
            }
            Ok(Key::Char(c)) => phrase.push(c),
            Ok(_) => {}
        }
    };
    let _ = term.write_line("");
    outcome
}

impl TerminalFront {
    /// Reads a key file, asking for its passphrase; Ctrl-C there breaks the walk off.
    pub(super) fn read_key_file(&self, path: &Path) -> Result<SigningKey, Failure> {
        let read = signing::read(path, |path| passphrase(&self.term, path));
        self.ready()?;
        read
    }

    pub(super) fn choose_key(&mut self, name: &str) -> Result<SigningKey, Failure> {
        if let Some(path) = self.named_key.clone() {
            return self.read_key_file(&path);
        }
        let own = signing::own_key_path()?;
        let kept = format!("the key of this program ({})", own.display());
        let fresh = format!("a new key, made now ({})", own.display());
        let choices = [if own.exists() { kept.as_str() } else { fresh.as_str() }, "another OpenSSH key file"];
        if self.select("Which key signs?", &choices)? == 1 {
            let path = PathBuf::from(self.input("Path of the private key", false)?);
            return self.read_key_file(&path);
        }
        let own = signing::own(name, |path| passphrase(&self.term, path));
        self.ready()?;
        let (key, new) = own?;
        if new {
            self.line(&signing::introduce(&key));
        }
        Ok(key)
    }
}

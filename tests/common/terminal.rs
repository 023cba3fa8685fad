//! The program in a terminal of 80 columns and 24 rows, with somebody who reads the screen and types.

use std::io::{Read, Write};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::{Duration, Instant};

use portable_pty::{Child, CommandBuilder, MasterPty, PtySize, SlavePty, native_pty_system};

use super::{Bench, PROGRAM};

const ROWS: u16 = 24;
const COLUMNS: u16 = 80;
const PATIENCE: Duration = Duration::from_secs(20);

const CTRL_C: &[u8] = b"\x03";
const DOWN: &[u8] = b"\x1b[B";

/// Everything that the program asks for in a line or with a list, as it words it.
const QUESTIONS: &[&str] = &[
    "Who works? Name",
    "Who works now? Name",
    "Role (installer, apprentice, ...)",
    "Read and understood?",
    "Done? Enter, or ? for more",
    "Enter, or the time that was waited",
    "Which one did you do?",
    "Who came? Enter when told and nobody came",
    "goes on?",
    "Reading in ",
    "Value of the ",
    "The meter shows",
    "Write what you see",
    "What is done about it?",
    "What is done about it? 1 to 5",
    "Which key signs? 1 to 2",
    "Where does the work begin again?",
    "What was wrong, and what is done",
    "Why it is right",
    "Why it stays",
    "Released by",
    "What was checked, and what was seen",
    "Enter shows the next ones",
    "Key file that signs the release (Enter: none)",
    "Go on with the job as it was begun?",
    "Why the change does not matter for this record",
    "Who has the right and permits it",
    "For what use, and how long",
    "sign now?",
    "Statement (Enter takes the one above)",
    "Which key signs?",
    "Path of the private key",
    "Code at the foot of the sheets",
    "Who did the work, as on the sheet? Name",
    "Day of the work, as on the sheet",
    "Who enters it now? Name",
    "All boxes ticked? Enter, or those that are not",
    "On the sheet",
    "Way on the sheet",
    "Who came, as on the sheet? A name, or nobody",
    "Released by, as on the sheet",
    "What was checked and seen, as on the sheet",
];

pub struct Terminal {
    master: Box<dyn MasterPty + Send>,
    slave: Option<Box<dyn SlavePty + Send>>,
    child: Box<dyn Child + Send + Sync>,
    keyboard: Box<dyn Write + Send>,
    output: Receiver<Vec<u8>>,
    screen: vt100::Parser,
    written: Vec<u8>,
    typed_at: usize,
}

impl Terminal {
    pub fn start(bench: &Bench, arguments: &[&str], surroundings: &[(&str, &str)]) -> Self {
        let size = PtySize { rows: ROWS, cols: COLUMNS, pixel_width: 0, pixel_height: 0 };
        let pair = native_pty_system().openpty(size).unwrap();
        let mut command = CommandBuilder::new(PROGRAM);
        command.args(arguments);
        command.cwd(bench.path(""));
        for name in ["NO_COLOR", "CLICOLOR", "CLICOLOR_FORCE"] {
            command.env_remove(name);
        }
        for (name, value) in bench.surroundings() {
            command.env(name, value);
        }
        for (name, value) in surroundings {
            command.env(name, value);
        }
        let child = pair.slave.spawn_command(command).unwrap();
        let mut reader = pair.master.try_clone_reader().unwrap();
        let (sender, output) = channel();
        std::thread::spawn(move || {
            let mut buffer = [0; 4096];
            while let Ok(count @ 1..) = reader.read(&mut buffer) {
                if sender.send(buffer[..count].to_vec()).is_err() {
                    return;
                }
            }
        });
        Self {
            keyboard: pair.master.take_writer().unwrap(),
            master: pair.master,
            slave: Some(pair.slave),
            child,
            output,
            screen: vt100::Parser::new(ROWS, COLUMNS, 0),
            written: Vec::new(),
            typed_at: 0,
        }
    }

    /// Calls a walk that was begun again, as the same person.
    pub fn start_again(bench: &Bench, arguments: &[&str]) -> Self {
        let mut terminal = Self::start(bench, arguments, &[]);
        if terminal.asked() == "goes on?" {
            terminal.yes("goes on?");
        }
        terminal
    }

    /// Takes in what the program writes, for a moment.
    fn look(&mut self) -> bool {
        match self.output.recv_timeout(Duration::from_millis(2)) {
            Ok(bytes) => {
                self.screen.process(&bytes);
                self.written.extend(bytes);
                true
            }
            Err(RecvTimeoutError::Timeout) => true,
            Err(RecvTimeoutError::Disconnected) => false,
        }
    }

    /// Looks until something is so.
    #[track_caller]
    pub fn until(&mut self, what: &str, is_so: impl Fn(&Self) -> bool) {
        let began = Instant::now();
        while !is_so(self) {
            assert!(began.elapsed() < PATIENCE, "it never came to this: {what}; the screen shows:\n{}", self.screen());
            self.look();
        }
    }

    /// What a person sees now.
    pub fn screen(&self) -> String {
        self.screen.screen().contents()
    }

    pub fn cursor_is_visible(&self) -> bool {
        !self.screen.screen().hide_cursor()
    }

    /// All bytes that the program wrote, with its escape sequences.
    pub fn written(&self) -> String {
        String::from_utf8_lossy(&self.written).into_owned()
    }

    /// All text that the program wrote.
    pub fn text(&self) -> String {
        console::strip_ansi_codes(&self.written()).replace('\r', "")
    }

    /// The text since something was typed.
    fn fresh(&self) -> String {
        let fresh = String::from_utf8_lossy(&self.written[self.typed_at..]);
        console::strip_ansi_codes(&fresh).replace('\r', "")
    }

    fn local_flags(&self) -> u64 {
        u64::from(self.master.get_termios().unwrap().local_flags.bits())
    }

    /// Whether each key reaches the program at once, unechoed: it waits in a question.
    pub fn waits_for_a_key(&self) -> bool {
        // ICANON on Linux and on the BSDs.
        let line_by_line = if cfg!(target_os = "linux") { 0x2 } else { 0x100 };
        self.local_flags() & line_by_line == 0
    }

    /// Whether the terminal echoes what is typed.
    pub fn echoes(&self) -> bool {
        self.local_flags() & 0x8 != 0
    }

    /// The question at which the program waits: the last one on a line of its own, with nothing typed behind it.
    fn question(&self) -> Option<String> {
        let fresh = self.fresh();
        if !self.waits_for_a_key() {
            return None;
        }
        let (at, name) = QUESTIONS.iter().filter_map(|name| Some((fresh.rfind(name)?, name))).max()?;
        let rest = &fresh[at..];
        let open = match *name {
            "What is done about it?" => {
                let ends = ["Concession by a named person", "Repair, then measure again"];
                rest.lines().count() > 2 && ends.iter().any(|end| rest.trim_end().ends_with(end))
            }
            "Which key signs?" => rest.trim_end().ends_with("another OpenSSH key file"),
            "Where does the work begin again?" => rest.lines().count() > 1 && rest.ends_with('\n'),
            _ => ["›", "› ", ": ", "[y/n] "].iter().any(|end| rest.ends_with(end)),
        };
        open.then(|| (*name).to_owned())
    }

    /// Waits for the next question and gives its words.
    #[track_caller]
    pub fn asked(&mut self) -> String {
        self.until("a question", |terminal| terminal.question().is_some());
        // The entries of a list come line by line.
        loop {
            let before = self.written.len();
            for _ in 0..3 {
                self.look();
            }
            if self.written.len() == before {
                return self.question().unwrap();
            }
        }
    }

    /// Waits for a line that asks for something, whatever its words; gives what stands before the bracket of what Enter
    /// takes.
    #[track_caller]
    pub fn field(&mut self) -> String {
        let open = |t: &Self| t.waits_for_a_key() && ["› ", ": "].iter().any(|end| t.fresh().ends_with(end));
        self.until("a field", open);
        let fresh = self.fresh();
        let line = fresh.lines().last().unwrap_or_default();
        line.trim_start_matches(['?', ' ']).split(['[', '›']).next().unwrap_or_default().trim().to_owned()
    }

    /// Types a line, whatever is asked.
    pub fn line(&mut self, text: &str) {
        self.press(format!("{text}\r").as_bytes());
    }

    #[track_caller]
    pub fn expect_question(&mut self, words: &str) {
        let asked = self.asked();
        assert_eq!(asked.trim(), words.trim(), "the screen shows:\n{}", self.screen());
    }

    fn press(&mut self, keys: &[u8]) {
        self.typed_at = self.written.len();
        self.keyboard.write_all(keys).unwrap();
        self.keyboard.flush().unwrap();
    }

    /// Types a line at a question.
    #[track_caller]
    pub fn answer(&mut self, question: &str, text: &str) {
        self.expect_question(question);
        self.press(format!("{text}\r").as_bytes());
    }

    #[track_caller]
    pub fn yes(&mut self, question: &str) {
        self.expect_question(question);
        self.press(b"y\r");
    }

    #[track_caller]
    pub fn no(&mut self, question: &str) {
        self.expect_question(question);
        self.press(b"n\r");
    }

    /// The entry of a list that is marked now.
    fn marked(&self) -> Option<String> {
        let screen = self.screen();
        let lines = screen.lines().rev();
        lines.filter_map(|line| line.strip_prefix("❯ ").or_else(|| line.strip_prefix("> "))).map(str::to_owned).next()
    }

    /// Goes down a list to the entry that begins with these words, and takes it.
    #[track_caller]
    pub fn choose(&mut self, question: &str, entry: &str) {
        self.expect_question(question);
        let first = self.marked().unwrap();
        loop {
            let marked = self.marked().unwrap();
            if marked.starts_with(entry) {
                return self.press(b"\r");
            }
            self.press(DOWN);
            self.until("another entry is marked", |t| {
                t.marked().is_some_and(|now| now != marked) && t.waits_for_a_key()
            });
            assert_ne!(self.marked().unwrap(), first, "the list has no `{entry}`:\n{}", self.screen());
        }
    }

    /// Waits for the passphrase of a key: a line that is not echoed.
    #[track_caller]
    pub fn expect_passphrase(&mut self) {
        let asked = |t: &Self| t.fresh().lines().last().is_some_and(|line| line.contains("Passphrase of"));
        self.until("the passphrase", |terminal| asked(terminal) && !terminal.echoes());
    }

    #[track_caller]
    pub fn answer_passphrase(&mut self, phrase: &str) {
        self.expect_passphrase();
        self.press(format!("{phrase}\r").as_bytes());
    }

    /// Ends the program at once, as a power cut does.
    pub fn kill(&mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }

    /// Presses Ctrl-C.
    pub fn ctrl_c(&mut self) {
        self.press(CTRL_C);
    }

    /// Answers, and presses Ctrl-C while the program works on the answer: before it asks again.
    #[track_caller]
    pub fn ctrl_c_behind(&mut self, question: &str, text: &str) {
        self.answer(question, text);
        let began = Instant::now();
        while self.waits_for_a_key() && began.elapsed() < PATIENCE {}
        self.keyboard.write_all(CTRL_C).unwrap();
    }

    /// The step that was shown last: `test/lamp/heat`; none before the first one.
    pub fn step(&self) -> String {
        // No step is longer than that.
        let late = String::from_utf8_lossy(&self.written[self.written.len().saturating_sub(20_000)..]);
        let text = console::strip_ansi_codes(&late);
        let before = text.rfind(" (step ").map_or("", |at| &text[..at]);
        before.rsplit(char::is_whitespace).next().unwrap_or_default().to_owned()
    }

    /// Waits until the program has ended and everything it wrote is there; gives its exit status.
    #[track_caller]
    pub fn ended(&mut self) -> u32 {
        let began = Instant::now();
        let status = loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                break status;
            }
            assert!(began.elapsed() < PATIENCE, "the program does not end; the screen shows:\n{}", self.screen());
            self.look();
        };
        assert!(!self.waits_for_a_key() && self.echoes(), "the terminal is not left as it was");
        self.slave = None;
        while self.look() {}
        assert_eq!(status.signal(), None);
        status.exit_code()
    }

    /// Whether the words were written since something was typed, wherever the lines were broken.
    pub fn said(&self, words: &str) -> bool {
        let plain = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
        plain(&self.fresh()).contains(&plain(words))
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

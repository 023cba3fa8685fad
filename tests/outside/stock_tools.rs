//! A record verified, signed and time-stamped by tools that nobody here wrote.
//! Sources: `ssh-keygen`, `ssh-agent`, `ssh-add` (OpenSSH, Debian package `openssh-client`), `sha256sum` (coreutils) and
//! `openssl ts` (OpenSSL, Debian package `openssl`), as they are installed.

use std::path::Path;
use std::process::{Command, Stdio};

use super::common::{Bench, files, write_files};

fn is_here(tool: &str, package: &str) -> bool {
    let here = Command::new("sh").args(["-c", &format!("command -v {tool}")]).output().unwrap().status.success();
    assert!(here || std::env::var_os("CI").is_none(), "CI installs {package}");
    here
}

/// `VERIFY.txt`, run as the shell script that it is: how it ended, and what it said.
fn instructions(record: &Path) -> (bool, String) {
    let output = Command::new("sh").arg("VERIFY.txt").current_dir(record).output().unwrap();
    let said = [output.stdout, output.stderr].map(|bytes| String::from_utf8_lossy(&bytes).into_owned()).concat();
    (output.status.success(), said)
}

#[test]
fn the_instructions_run_as_a_script_accept_a_record_with_two_seals() {
    if !is_here("ssh-keygen", "openssh-client") {
        return;
    }
    let bench = Bench::tiny().walked();
    let (good, said) = instructions(&bench.record());
    assert!(good && said.contains("Good \"record@rigproof\" signature for robin-alder"), "{said}");
    let second = ["sign", "record", "--name", "Ash Thorn", "--role", "owner", "--statement", "seen it work"];
    bench.run(&second).expect(0);
    let (good, said) = instructions(&bench.record());
    assert!(good && said.contains("signature for ash-thorn") && said.contains("everything fits"), "{said}");
}

#[test]
fn the_instructions_run_as_a_script_notice_what_was_changed() {
    if !is_here("ssh-keygen", "openssh-client") {
        return;
    }
    let bench = Bench::tiny().walked();
    bench.run(&["sign", "record", "--name", "Ash Thorn", "--role", "owner", "--statement", "seen it"]).expect(0);
    let record = bench.record();
    let all = files(&record);
    for (name, bytes) in all.iter().filter(|(name, _)| name != "VERIFY.txt" && !name.starts_with("procedures/")) {
        let mut changed = bytes.clone();
        let at = changed.len() / 2;
        changed[at] ^= 1;
        std::fs::write(record.join(name), changed).unwrap();
        assert!(!instructions(&record).0, "{name} changed");
        std::fs::write(record.join(name), bytes).unwrap();
    }
    std::fs::write(record.join("report/added.html"), "added").unwrap();
    let (good, said) = instructions(&record);
    assert!(!good && said.contains("report/added.html"), "{said}");
    std::fs::remove_file(record.join("report/added.html")).unwrap();
    for gone in ["seal", "seal-2", "report"] {
        std::fs::remove_dir_all(record.join(gone)).unwrap();
        assert!(!instructions(&record).0, "{gone} removed");
        write_files(&record, &all);
    }
    assert!(instructions(&record).0);
}

#[test]
fn a_key_that_the_ssh_agent_holds_signs_without_being_handed_out() {
    if !is_here("ssh-agent", "openssh-client") {
        return;
    }
    let bench = Bench::tiny();
    let key = bench.path("agent-key");
    let run = |program: &str, arguments: &[&str], socket: &str| {
        let done = Command::new(program).args(arguments).env("SSH_AUTH_SOCK", socket).stdin(Stdio::null()).output();
        assert!(done.unwrap().status.success(), "{program} {arguments:?}");
    };
    let path = key.display().to_string();
    run("ssh-keygen", &["-q", "-t", "ed25519", "-N", "", "-f", &path], "");
    let socket = bench.path("agent.sock").display().to_string();
    let mut agent = Command::new("ssh-agent").args(["-D", "-a", &socket]).stdout(Stdio::null()).spawn().unwrap();
    let ready = (0..200).any(|_| {
        std::thread::sleep(std::time::Duration::from_millis(20));
        Path::new(&socket).exists()
    });
    assert!(ready, "the agent made no socket");
    let public = format!("{path}.pub");
    let mut arguments = bench.walk_arguments();
    arguments.extend(["--key", &public]);
    let call = || bench.command(&arguments).env("SSH_AUTH_SOCK", &socket).output().unwrap();
    // The agent does not hold it yet.
    let refused = call();
    run("ssh-add", &["-q", &path], &socket);
    std::fs::remove_file(&key).unwrap();
    let signed = call();
    agent.kill().unwrap();
    agent.wait().unwrap();
    assert_eq!(refused.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&refused.stderr).contains("does not hold its private half"));
    assert_eq!(signed.status.code(), Some(0), "{}", String::from_utf8_lossy(&signed.stderr));
    bench.verify().expect(0);
    assert!(instructions(&bench.record()).0);
}

/// A time-stamping authority of our own, as the manual of `openssl ts` describes one.
const AUTHORITY: &str = "
cd \"$1\"
cat > ts.cnf <<'END'
[tsa]
default_tsa = own
[own]
serial = serial
crypto_device = builtin
signer_cert = tsa.pem
certs = ca.pem
signer_key = tsa.key
signer_digest = sha256
default_policy = 1.2.3.4.1
digests = sha256
accuracy = secs:1
ess_cert_id_chain = no
END
echo 01 > serial
openssl req -x509 -newkey rsa:2048 -nodes -keyout ca.key -out ca.pem -days 2 -subj /CN=authority
openssl req -newkey rsa:2048 -nodes -keyout tsa.key -out tsa.csr -subj /CN=stamps
printf 'extendedKeyUsage=critical,timeStamping\\n' > ext
openssl x509 -req -in tsa.csr -CA ca.pem -CAkey ca.key -CAcreateserial -out tsa.pem -days 2 -extfile ext
";

#[test]
fn a_time_stamp_of_openssl_is_taken_and_openssl_accepts_it_over_the_seal() {
    if !is_here("openssl", "openssl") {
        return;
    }
    let bench = Bench::tiny().walked();
    let place = bench.path("authority");
    std::fs::create_dir(&place).unwrap();
    let shell = |script: &str| {
        let output = Command::new("sh").args(["-e", "-c", script, "sh"]).arg(&place).output().unwrap();
        (output.status.success(), String::from_utf8_lossy(&output.stderr).into_owned())
    };
    let (made, said) = shell(AUTHORITY);
    assert!(made, "{said}");
    bench.run(&["timestamp", "record", "--request", "authority/q.tsq"]).expect(0);
    let (stamped, said) = shell("cd \"$1\"; openssl ts -reply -config ts.cnf -section own -queryfile q.tsq -out r.tsr");
    assert!(stamped, "{said}");
    bench.run(&["timestamp", "record", "--response", "authority/r.tsr"]).expect(0).says("existed at");
    let (accepted, said) = shell(
        "cd \"$1\"; openssl ts -verify -data ../record/seal/SHA256SUMS.sig -in ../record/seal/timestamp.tsr -CAfile ca.pem",
    );
    assert!(accepted, "{said}");
    let (ended, json) = bench.verify_json();
    ended.expect(0);
    assert!(json["signed_by"][0]["stamped"].is_string(), "{json}");
    if is_here("ssh-keygen", "openssh-client") {
        assert!(instructions(&bench.record()).0);
    }

    // A stamp of another seal, a changed one, and something that is none.
    let other = Bench::tiny().walked();
    let stamp = std::fs::read(bench.record().join("seal/timestamp.tsr")).unwrap();
    std::fs::write(other.path("r.tsr"), &stamp).unwrap();
    other.run(&["timestamp", "record", "--response", "r.tsr"]).expect(2).says("over something else");
    std::fs::write(other.path("r.tsr"), "no stamp").unwrap();
    other.run(&["timestamp", "record", "--response", "r.tsr"]).expect(2).says("no time stamp by RFC 3161");
    std::fs::write(other.record().join("seal/timestamp.tsr"), &stamp).unwrap();
    other.verify().expect(1).says("seal/timestamp.tsr: the time stamp is over something else");
}

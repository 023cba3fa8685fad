//! Signatures and canonical JSON.
//! Sources: RFC 8032 7.1 TEST 1 key and a signature made with it by OpenSSH 9.2; RFC 8785 and the test data of its
//! author; `ssh-keygen` itself where it is installed (Debian package `openssh-client`).

use std::path::Path;
use std::process::{Command, Stdio};

use rigproof::record::{KnownSigners, NAMESPACE, SigningKey, Standing};

fn vectors() -> serde_json::Value {
    serde_json::from_str(include_str!("data/signing_vectors.json")).unwrap()
}

fn text<'v>(value: &'v serde_json::Value, key: &str) -> &'v str {
    value[key].as_str().unwrap()
}

fn from_hex(hex: &str) -> Vec<u8> {
    (0..hex.len()).step_by(2).map(|at| u8::from_str_radix(&hex[at..at + 2], 16).unwrap()).collect()
}

#[test]
fn the_sshsig_vector_of_the_rfc_8032_key_is_made_byte_for_byte() {
    let vectors = vectors();
    let vector = &vectors["sshsig"];
    let seed: [u8; 32] = from_hex(text(vector, "secret_seed_hex")).try_into().unwrap();
    let pair = ssh_key::private::Ed25519Keypair::from_seed(&seed);
    let key = ssh_key::PrivateKey::from(pair);
    for (hash, expected) in
        [(ssh_key::HashAlg::Sha512, "signature_sha512"), (ssh_key::HashAlg::Sha256, "signature_sha256")]
    {
        let signature = key.sign(text(vector, "namespace"), hash, text(vector, "message").as_bytes()).unwrap();
        let armour = signature.to_pem(ssh_key::LineEnding::LF).unwrap();
        let unwrapped = |s: &str| s.lines().filter(|l| !l.starts_with("-----")).collect::<String>();
        assert_eq!(unwrapped(&armour), unwrapped(text(vector, expected)), "{expected}");
    }
    assert_eq!(key.fingerprint(ssh_key::HashAlg::Sha256).to_string(), text(vector, "fingerprint"));
}

#[test]
fn canonical_json_is_that_of_rfc_8785() {
    let vectors = vectors();
    let mut objects = 0;
    for vector in vectors["jcs_objects"].as_array().unwrap() {
        let input: serde_json::Value = serde_json::from_str(text(vector, "input")).unwrap();
        let canonical = serde_json_canonicalizer::to_string(&input).unwrap();
        assert_eq!(canonical.as_bytes(), from_hex(text(vector, "output_hex")), "{}", text(vector, "name"));
        objects += 1;
    }
    assert_eq!(objects, 6);
    let mut numbers = 0;
    for vector in
        vectors["jcs_numbers"].as_array().unwrap().iter().chain(vectors["jcs_extra_numbers"].as_array().unwrap())
    {
        let [bits, published] = [0, 1].map(|at| vector[at].as_str().unwrap());
        let value = f64::from_bits(u64::from_str_radix(bits, 16).unwrap());
        assert_eq!(serde_json_canonicalizer::to_string(&value).unwrap(), published, "{bits}");
        numbers += 1;
    }
    assert_eq!(numbers, 26);
}

fn ssh_keygen_is_here() -> bool {
    let here = Command::new("ssh-keygen").arg("-?").output().is_ok();
    assert!(here || std::env::var_os("CI").is_none(), "CI installs openssh-client");
    here
}

fn verify(folder: &Path, signers: &Path, principal: &str, signature: &str, message: &str) -> bool {
    let mut child = Command::new("ssh-keygen")
        .args(["-Y", "verify", "-f"])
        .arg(signers)
        .args(["-I", principal, "-n", NAMESPACE, "-s"])
        .arg(folder.join(signature))
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    std::io::Write::write_all(child.stdin.as_mut().unwrap(), message.as_bytes()).unwrap();
    child.wait().unwrap().success()
}

#[test]
fn ssh_keygen_accepts_our_signature_and_refuses_a_changed_message() {
    if !ssh_keygen_is_here() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let key = SigningKey::make(&folder.path().join("key"), "tester").unwrap();
    std::fs::write(folder.path().join("sums.sig"), key.sign(b"four files\n").unwrap()).unwrap();
    let signers = folder.path().join("allowed_signers");
    let line = format!("tester namespaces=\"{NAMESPACE}\" {}\n", key.public_line().unwrap());
    std::fs::write(&signers, line).unwrap();
    assert!(verify(folder.path(), &signers, "tester", "sums.sig", "four files\n"));
    assert!(!verify(folder.path(), &signers, "tester", "sums.sig", "five files\n"));
    assert!(!verify(folder.path(), &signers, "somebody", "sums.sig", "four files\n"));
}

#[test]
fn a_key_and_a_signature_of_ssh_keygen_are_accepted_here() {
    if !ssh_keygen_is_here() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("theirs");
    let made = Command::new("ssh-keygen")
        .args(["-q", "-t", "ed25519", "-N", "an open secret", "-C", "theirs", "-f"])
        .arg(&path)
        .status()
        .unwrap();
    assert!(made.success());
    assert!(SigningKey::read(&path, || Some("a wrong one".into())).is_err(), "a wrong passphrase opens nothing");
    assert!(SigningKey::read(&path, || None).is_err());
    let key = SigningKey::read(&path, || Some("an open secret".into())).unwrap();
    // Theirs over our message, verified by the library that verifies our records.
    let plain = folder.path().join("plain");
    let made = Command::new("ssh-keygen").args(["-q", "-t", "ed25519", "-N", "", "-f"]).arg(&plain).status().unwrap();
    assert!(made.success());
    std::fs::write(folder.path().join("message"), "eleven readings\n").unwrap();
    let signed = Command::new("ssh-keygen")
        .args(["-Y", "sign", "-f"])
        .arg(&plain)
        .args(["-n", NAMESPACE])
        .arg(folder.path().join("message"))
        .stderr(Stdio::null())
        .status()
        .unwrap();
    assert!(signed.success());
    let armour = std::fs::read_to_string(folder.path().join("message.sig")).unwrap();
    let signature = ssh_key::SshSig::from_pem(&armour).unwrap();
    let public = std::fs::read_to_string(plain.with_extension("pub")).unwrap();
    let public = ssh_key::PublicKey::from_openssh(&public).unwrap();
    assert!(public.verify(NAMESPACE, b"eleven readings\n", &signature).is_ok());
    assert!(public.verify(NAMESPACE, b"twelve readings\n", &signature).is_err());
    assert!(public.verify("another@purpose", b"eleven readings\n", &signature).is_err());
    assert!(key.sign(b"x").unwrap().starts_with("-----BEGIN SSH SIGNATURE-----"));
}

#[test]
fn a_signature_by_a_key_that_is_not_on_the_list_is_refused_by_ssh_keygen_and_unknown_here() {
    if !ssh_keygen_is_here() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let [own, stranger] = ["own", "stranger"].map(|name| SigningKey::make(&folder.path().join(name), name).unwrap());
    let line = format!("tester namespaces=\"{NAMESPACE}\" {}\n", own.public_line().unwrap());
    let signers = folder.path().join("allowed_signers");
    std::fs::write(&signers, &line).unwrap();
    for (key, good) in [(&own, true), (&stranger, false)] {
        std::fs::write(folder.path().join("sums.sig"), key.sign(b"four files\n").unwrap()).unwrap();
        assert_eq!(verify(folder.path(), &signers, "tester", "sums.sig", "four files\n"), good);
        let standing = KnownSigners::read(&line).unwrap().standing(&key.fingerprint(), jiff::Timestamp::now());
        assert_eq!(matches!(standing, Standing::Known(_)), good, "{standing:?}");
    }
}

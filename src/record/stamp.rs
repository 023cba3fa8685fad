//! Time stamps by RFC 3161, as files: a request goes out, what an authority answers comes back. No network is used.
//!
//! What is stamped is the signature of a seal: it existed, and with it all that it covers, when the authority said so.
//! The authority's own signature is for a tool that knows its certificate: `openssl ts -verify`.

use std::path::Path;

use cms::cert::x509::spki::AlgorithmIdentifier;
use cms::content_info::ContentInfo;
use cms::signed_data::SignedData;
use der::asn1::{Int, Null, OctetString};
use der::oid::ObjectIdentifier;
use der::oid::db::rfc5912::ID_SHA_256;
use der::{Any, Decode, Encode};
use jiff::Timestamp;
use rand_core::RngCore;
use sha2::{Digest, Sha256};
use x509_tsp::{MessageImprint, TimeStampReq, TimeStampResp, TspVersion, TstInfo};

use super::error::RecordError;
use super::files::{read_plain, write_durably};
use super::layout::{Part, REQUEST, SIGNATURE, STAMP};

/// id-signedData (RFC 5652).
const SIGNED_DATA: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.7.2");
/// id-ct-TSTInfo (RFC 3161).
const STAMP_CONTENT: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.9.16.1.4");
/// A stamp with the certificates of its authority takes a few kilobytes.
const LARGEST: u64 = 1 << 20;

/// A request for a time stamp over a signature, in DER.
fn request(signature: &[u8]) -> Result<Vec<u8>, der::Error> {
    let mut nonce = [0; 8];
    rand_core::OsRng.fill_bytes(&mut nonce);
    // A positive integer in its shortest form.
    nonce[0] = nonce[0] & 0x7f | 0x40;
    let hash_algorithm = AlgorithmIdentifier { oid: ID_SHA_256, parameters: Some(Any::from(Null)) };
    let hashed_message = OctetString::new(Sha256::digest(signature).to_vec())?;
    TimeStampReq {
        version: TspVersion::V1,
        message_imprint: MessageImprint { hash_algorithm, hashed_message },
        req_policy: None,
        nonce: Some(Int::new(&nonce)?),
        cert_req: true,
        extensions: None,
    }
    .to_der()
}

/// What a time stamp says of a signature: the time; or why it says nothing, in words.
pub(super) fn time_of(response: &[u8], signature: &[u8], request: Option<&[u8]>) -> Result<Timestamp, String> {
    let info =
        read(response).map_err(|error| error.unwrap_or_else(|| "this is no time stamp by RFC 3161".to_owned()))?;
    let imprint = &info.message_imprint;
    if imprint.hash_algorithm.oid != ID_SHA_256 {
        return Err("the time stamp is not over a SHA-256 hash".to_owned());
    }
    if imprint.hashed_message.as_bytes() != Sha256::digest(signature).as_slice() {
        return Err(format!("the time stamp is over something else than {SIGNATURE}"));
    }
    if let Some(asked) = request {
        let asked = TimeStampReq::from_der(asked).map_err(|_| format!("{REQUEST} is no request for a time stamp"))?;
        if asked.nonce.is_some() && asked.nonce != info.nonce {
            return Err(format!("the time stamp is no answer to {REQUEST}: its nonce is another"));
        }
    }
    let seconds = i64::try_from(info.gen_time.to_unix_duration().as_secs()).unwrap_or(i64::MAX);
    Timestamp::from_second(seconds).map_err(|_| "the time of the time stamp is out of range".to_owned())
}

/// The inner part of a response; `None` as the error where it is none at all.
fn read(response: &[u8]) -> Result<TstInfo, Option<String>> {
    let response = TimeStampResp::from_der(response).map_err(|_| None)?;
    let status = response.status.status as u8;
    if status > 1 {
        let reason = response.status.status_string.map(|text| text.iter().map(ToString::to_string).collect::<Vec<_>>());
        let reason = reason.map(|lines| format!(": {}", lines.join("; "))).unwrap_or_default();
        return Err(Some(format!("the authority did not grant the time stamp (status {status}){reason}")));
    }
    let ContentInfo { content_type, content } = response.time_stamp_token.ok_or(None)?;
    if content_type != SIGNED_DATA {
        return Err(None);
    }
    let signed: SignedData = content.decode_as().map_err(|_| None)?;
    if signed.encap_content_info.econtent_type != STAMP_CONTENT {
        return Err(None);
    }
    let inner = signed.encap_content_info.econtent.ok_or(None)?;
    let inner: OctetString = inner.decode_as().map_err(|_| None)?;
    TstInfo::from_der(inner.as_bytes()).map_err(|_| None)
}

/// The last seal of a record, and the signature that is stamped.
fn last_signature(folder: &Path) -> Result<(Part, Vec<u8>), RecordError> {
    let sealed = Part::last_of(folder).up_to().filter(|part| part.is_sealed(folder)).last();
    let part = sealed.ok_or_else(|| RecordError::NotARecord {
        path: folder.to_owned(),
        says: "nothing in it is sealed; a time stamp is over a seal".to_owned(),
    })?;
    let path = folder.join(part.seal_file(SIGNATURE));
    Ok((part, read_plain(&path, LARGEST).map_err(RecordError::file("read", &path))?))
}

/// Writes the request for a time stamp of the last seal into the record, and gives it.
///
/// # Errors
/// [`RecordError`]; where the seal has a time stamp already.
pub fn request_stamp(folder: &Path) -> Result<Vec<u8>, RecordError> {
    let (part, signature) = last_signature(folder)?;
    let says = |says: &str| RecordError::Stamp { says: says.to_owned() };
    if folder.join(part.seal_file(STAMP)).exists() {
        return Err(says("the last seal has a time stamp already"));
    }
    let bytes = request(&signature).map_err(|error| says(&error.to_string()))?;
    write_durably(&folder.join(part.seal_file(REQUEST)), &bytes)?;
    Ok(bytes)
}

/// Takes what an authority answered into the record: the time that it states for the last seal.
///
/// # Errors
/// [`RecordError::Stamp`] where it is no time stamp of that seal; nothing is written then.
pub fn keep_stamp(folder: &Path, response: &Path) -> Result<Timestamp, RecordError> {
    let response = read_plain(response, LARGEST).map_err(RecordError::file("read", response))?;
    let (part, signature) = last_signature(folder)?;
    let asked = read_plain(&folder.join(part.seal_file(REQUEST)), LARGEST).ok();
    let at = time_of(&response, &signature, asked.as_deref()).map_err(|says| RecordError::Stamp { says })?;
    write_durably(&folder.join(part.seal_file(STAMP)), &response)?;
    Ok(at)
}

/// What the time stamp of a seal says, where the seal has one. A request that is none, or is for something else, is told of
/// even where no answer came.
pub(super) fn check(folder: &Path, part: Part) -> Result<Option<Timestamp>, String> {
    let there = |name: &str| std::fs::symlink_metadata(folder.join(part.seal_file(name))).is_ok();
    let read = |name: &str| {
        let name = part.seal_file(name);
        read_plain(&folder.join(&name), LARGEST).map_err(|error| format!("{name}: {error}"))
    };
    if !there(STAMP) && !there(REQUEST) {
        return Ok(None);
    }
    let signature = read(SIGNATURE)?;
    let asked = there(REQUEST).then(|| read(REQUEST)).transpose()?;
    if let Some(asked) = &asked {
        let name = part.seal_file(REQUEST);
        let request =
            TimeStampReq::from_der(asked).map_err(|_| format!("{name}: this is no request for a time stamp"))?;
        if request.message_imprint.hashed_message.as_bytes() != Sha256::digest(&signature).as_slice() {
            return Err(format!("{name}: the request is for something else than {SIGNATURE}"));
        }
    }
    if !there(STAMP) {
        return Ok(None);
    }
    let stamp = time_of(&read(STAMP)?, &signature, asked.as_deref());
    stamp.map(Some).map_err(|says| format!("{}: {says}", part.seal_file(STAMP)))
}

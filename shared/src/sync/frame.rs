//! Frames of the open automerge-repo WebSocket protocol, version 1: CBOR maps.
//!
//! Unknown keys and unknown kinds are skipped, lengths may have any width, numbers may be floats.
//! Ids stay texts here; who may use them is decided elsewhere.

use minicbor::data::Type;
use minicbor::decode::Error;
use minicbor::{Decoder, Encoder};

/// The only version there is.
pub const VERSION: &str = "1";

/// One frame.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Frame {
    /// Kind: `join`, `peer`, `sync`, `request`, `ephemeral`, `doc-unavailable`, `error`, ….
    pub kind: String,
    /// Who sends it.
    pub sender: Option<String>,
    /// Whom it is for.
    pub target: Option<String>,
    /// Which document.
    pub document: Option<String>,
    /// Sync message or presence.
    pub data: Option<Vec<u8>>,
    /// Versions that a joining peer speaks.
    pub versions: Vec<String>,
    /// Session of presence.
    pub session: Option<String>,
    /// Number of presence within its session.
    pub count: Option<u64>,
    /// Words of an `error`.
    pub message: Option<String>,
}

/// Reads a frame.
///
/// # Errors
/// When the bytes are no CBOR map with texts as keys.
pub fn decode(bytes: &[u8]) -> Result<Frame, Error> {
    let mut decoder = Decoder::new(bytes);
    let mut frame = Frame::default();
    let mut left = decoder.map()?;
    loop {
        match left {
            Some(0) => break,
            Some(n) => left = Some(n - 1),
            None if decoder.datatype()? == Type::Break => break,
            None => {}
        }
        match decoder.str()? {
            "type" => frame.kind = decoder.str()?.to_owned(),
            "senderId" => frame.sender = text(&mut decoder)?,
            "targetId" => frame.target = text(&mut decoder)?,
            "documentId" => frame.document = text(&mut decoder)?,
            "sessionId" => frame.session = text(&mut decoder)?,
            "message" => frame.message = text(&mut decoder)?,
            "data" => frame.data = blob(&mut decoder)?,
            "count" => frame.count = number(&mut decoder)?,
            "supportedProtocolVersions" => frame.versions = texts(&mut decoder)?,
            _ => decoder.skip()?,
        }
    }
    Ok(frame)
}

fn text(decoder: &mut Decoder<'_>) -> Result<Option<String>, Error> {
    if decoder.datatype()? == Type::String {
        return Ok(Some(decoder.str()?.to_owned()));
    }
    decoder.skip()?;
    Ok(None)
}

fn texts(decoder: &mut Decoder<'_>) -> Result<Vec<String>, Error> {
    let Some(count) = decoder.array()? else {
        return Err(Error::message("an array without a length"));
    };
    (0..count)
        .filter_map(|_| text(decoder).transpose())
        .collect()
}

fn blob(decoder: &mut Decoder<'_>) -> Result<Option<Vec<u8>>, Error> {
    // Typed arrays of RFC 8746 are a tag before the bytes.
    if decoder.datatype()? == Type::Tag {
        decoder.tag()?;
    }
    if decoder.datatype()? == Type::Bytes {
        return Ok(Some(decoder.bytes()?.to_vec()));
    }
    decoder.skip()?;
    Ok(None)
}

fn number(decoder: &mut Decoder<'_>) -> Result<Option<u64>, Error> {
    match decoder.datatype()? {
        Type::U8 | Type::U16 | Type::U32 | Type::U64 => Ok(Some(decoder.u64()?)),
        Type::F16 => {
            let half = decoder
                .input()
                .get(decoder.position() + 1..decoder.position() + 3);
            let number = half.map(|bytes| whole(half_float(bytes)));
            decoder.skip()?;
            Ok(number)
        }
        Type::F32 | Type::F64 => Ok(Some(whole(decoder.f64()?))),
        _ => {
            decoder.skip()?;
            Ok(None)
        }
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a cast of a float to an integer saturates"
)]
fn whole(float: f64) -> u64 {
    float as u64
}

/// A positive half-precision number of two bytes; not a number counts as 0 (RFC 8949, appendix D).
fn half_float(bytes: &[u8]) -> f64 {
    let bits = bytes
        .iter()
        .fold(0_u16, |bits, byte| bits << 8 | u16::from(*byte));
    let (exponent, fraction) = (i32::from(bits >> 10 & 0x1f), f64::from(bits & 0x3ff));
    match exponent {
        _ if bits >> 15 == 1 => 0.0,
        0 => fraction * 2_f64.powi(-24),
        31 => 0.0,
        _ => (fraction + 1024.0) * 2_f64.powi(exponent - 25),
    }
}

/// Writes a frame.
#[must_use]
pub fn encode(frame: &Frame) -> Vec<u8> {
    let texts = [
        ("type", Some(&frame.kind)),
        ("senderId", frame.sender.as_ref()),
        ("targetId", frame.target.as_ref()),
        ("documentId", frame.document.as_ref()),
        ("sessionId", frame.session.as_ref()),
        ("message", frame.message.as_ref()),
    ];
    let mut encoder = Encoder::new(Vec::new());
    let written = write(&mut encoder, frame, &texts);
    written.expect("writing CBOR to memory does not fail");
    encoder.into_writer()
}

type Written = Result<(), minicbor::encode::Error<std::convert::Infallible>>;

fn write(
    encoder: &mut Encoder<Vec<u8>>,
    frame: &Frame,
    texts: &[(&str, Option<&String>)],
) -> Written {
    encoder.begin_map()?;
    for (name, value) in texts {
        if let Some(value) = value {
            encoder.str(name)?.str(value)?;
        }
    }
    if let Some(data) = &frame.data {
        encoder.str("data")?.bytes(data)?;
    }
    if let Some(count) = frame.count {
        encoder.str("count")?.u64(count)?;
    }
    match frame.kind.as_str() {
        "peer" => {
            encoder.str("selectedProtocolVersion")?.str(VERSION)?;
            encoder.str("peerMetadata")?.map(0)?;
        }
        "join" => {
            encoder
                .str("supportedProtocolVersions")?
                .array(1)?
                .str(VERSION)?;
            encoder.str("peerMetadata")?.map(0)?;
        }
        _ => {}
    }
    encoder.end()?.ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_what_it_writes() {
        let frame = Frame {
            kind: "ephemeral".into(),
            sender: Some("a".into()),
            target: Some("b".into()),
            document: Some("doc".into()),
            data: Some(vec![1, 2, 3]),
            session: Some("s".into()),
            count: Some(70_000),
            ..Frame::default()
        };
        assert_eq!(decode(&encode(&frame)).unwrap(), frame);
    }

    /// RFC 8949, appendix A: 0xf9_3e00 is 1.5, 0xb9 a map with a 16-bit length, 0xf7 undefined.
    #[test]
    fn reads_what_others_write() {
        let bytes = [
            b"\xb9\x00\x03\x64type\x64sync\x65count\xf9\x3e\x00".as_slice(),
            b"\x64else\xf7",
        ]
        .concat();
        let frame = decode(&bytes).unwrap();
        assert_eq!((frame.kind.as_str(), frame.count), ("sync", Some(1)));
    }

    /// RFC 8949, appendix A.
    #[test]
    fn reads_short_floats() {
        for (bytes, number) in [
            ([0x3c, 0x00], 1.0),
            ([0x3e, 0x00], 1.5),
            ([0x7b, 0xff], 65504.0),
            ([0x00, 0x01], 5.960_464_477_539_063e-8),
            ([0x04, 0x00], 0.000_061_035_156_25),
        ] {
            assert!((half_float(&bytes) - number).abs() < 1e-20, "{number}");
        }
    }

    #[test]
    fn refuses_what_is_no_frame() {
        for bytes in [
            b"".as_slice(),
            b"\x01",
            b"\xa1\x01\x02",
            b"\xbf\x64type",
            b"\xbb\xff\xff\xff\xff\xff\xff\xff\xff",
        ] {
            assert!(decode(bytes).is_err(), "{bytes:?}");
        }
    }
}

//! Ed25519 against RFC 8032.

use proptest::prelude::*;

use crate::proof::{Digest, PublicKey, Seed, Signature};

fn bytes<const N: usize>(hex: &str) -> [u8; N] {
    many(hex).try_into().unwrap()
}

fn many(hex: &str) -> Vec<u8> {
    (0..hex.len())
        .step_by(2)
        .map(|at| u8::from_str_radix(&hex[at..at + 2], 16).unwrap())
        .collect()
}

/// Seed, public key, message, signature: RFC 8032, section 7.1, tests 1 to 3.
const RFC_8032: [[&str; 4]; 3] = [
    [
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
    ],
    [
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
    ],
    [
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
    ],
];

#[test]
fn signs_as_rfc_8032_does() {
    for [seed, public, message, signature] in RFC_8032 {
        let seed = Seed::new(&bytes(seed));
        assert_eq!(seed.public().as_bytes(), &bytes::<32>(public));
        let made = seed.sign(&many(message));
        assert_eq!(made, Signature(bytes(signature)));
        assert!(seed.public().verifies(&many(message), &made));
        assert!(!seed.public().verifies(b"another", &made));
    }
}

/// S + L is the same number to a lax verifier (RFC 8032, section 5.1.7, asks for S < L;
/// L = 2^252 + 27742317777372353535851937790883648493, section 5.1).
#[test]
fn nobody_can_write_a_signature_another_way() {
    let order: [u8; 32] = bytes("edd3f55c1a631258d69cf7a2def9de1400000000000000000000000000000010");
    let [seed, _, message, signature] = RFC_8032[1];
    let key = Seed::new(&bytes(seed)).public();
    let mut other: [u8; 64] = bytes(signature);
    let mut carry = 0;
    for (byte, more) in other[32..].iter_mut().zip(order) {
        let sum = u16::from(*byte) + u16::from(more) + carry;
        *byte = sum.to_le_bytes()[0];
        carry = sum >> 8;
    }
    assert_ne!(Signature(other), Signature(bytes(signature)));
    assert!(!key.verifies(&many(message), &Signature(other)));
}

/// The neutral point signs for everybody; 2^255 − 19 is a second way to write zero.
#[test]
fn weak_and_oddly_written_keys_are_none() {
    let mut one = [0; 32];
    one[0] = 1;
    assert!(PublicKey::from_bytes(&one).is_err());
    let mut again = [0xff; 32];
    (again[0], again[31]) = (0xed, 0x7f);
    assert!(PublicKey::from_bytes(&again).is_err());
    assert!(PublicKey::from_bytes(&[0; 32]).is_err());
}

#[test]
fn texts_come_back() {
    let key = Seed::new(&[7; 32]).public();
    assert_eq!(key.to_string().parse::<PublicKey>(), Ok(key));
    let digest = Digest::of(b"abc");
    // FIPS 180-4's example for the three bytes "abc".
    assert_eq!(
        digest.to_string(),
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    );
    assert_eq!(digest.to_string().parse::<Digest>(), Ok(digest));
    assert!(digest.to_string().to_uppercase().parse::<Digest>().is_err());
    assert!("ba".parse::<Digest>().is_err());
    assert!(
        key.to_string()
            .trim_end_matches('=')
            .parse::<PublicKey>()
            .is_err()
    );
    assert!(
        format!("{:?}", Seed::new(&[7; 32])).len() < 10,
        "a secret is not shown"
    );
}

proptest! {
    #[test]
    fn a_changed_bit_is_noticed(seed in any::<[u8; 32]>(), mut message in prop::collection::vec(any::<u8>(), 1..80), at in any::<prop::sample::Index>(), bit in 0..8_u8) {
        let seed = Seed::new(&seed);
        let signature = seed.sign(&message);
        prop_assert!(seed.public().verifies(&message, &signature));
        let mut other = signature.0;
        other[at.index(64)] ^= 1 << bit;
        prop_assert!(!seed.public().verifies(&message, &Signature(other)));
        let at = at.index(message.len());
        message[at] ^= 1 << bit;
        prop_assert!(!seed.public().verifies(&message, &signature));
    }
}

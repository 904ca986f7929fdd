//! The Merkle tree against RFC 6962's and transparency-dev's numbers, and the plain definition.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use proptest::prelude::*;

use crate::proof::Digest;
use crate::proof::tree::{
    Frontier, Head, consistency_proof, inclusion_proof, leaf_hash, root, verify_consistency,
    verify_inclusion,
};

/// Eight entries and the roots of the trees of the first 1 to 8 of them; the root of none
/// (transparency-dev/merkle, `testonly/constants.go`, Apache-2.0; RFC 6962, section 2.1).
const ENTRIES: [&[u8]; 8] = [
    &[],
    &[0x00],
    &[0x10],
    &[0x20, 0x21],
    &[0x30, 0x31],
    &[0x40, 0x41, 0x42, 0x43],
    &[0x50, 0x51, 0x52, 0x53, 0x54, 0x55, 0x56, 0x57],
    &[
        0x60, 0x61, 0x62, 0x63, 0x64, 0x65, 0x66, 0x67, 0x68, 0x69, 0x6a, 0x6b, 0x6c, 0x6d, 0x6e,
        0x6f,
    ],
];
const ROOTS: [&str; 9] = [
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
];

fn hashes() -> Vec<Digest> {
    ENTRIES.iter().map(|entry| leaf_hash(entry)).collect()
}

fn base64(text: &str) -> Digest {
    Digest(STANDARD.decode(text).unwrap().try_into().unwrap())
}

fn head(size: usize) -> Head {
    Head {
        size: size as u64,
        root: ROOTS[size].parse().unwrap(),
    }
}

#[test]
fn roots_of_rfc_6962() {
    for (size, expected) in ROOTS.iter().enumerate() {
        assert_eq!(root(&hashes()[..size]).to_string(), *expected, "{size}");
    }
}

const FIRST_FOUR: &str = "037kGJdt2VdTwcc4Yrk5j6Kiz5tP8P3+izDNlSCWFLc=";
const THIRD_AND_FOURTH: &str = "Xwg/ChozygdqlSeYMlgNs+DvRYS9/x9UyKNg9Q3jAx4=";
const LAST_FOUR: &str = "a0eq8p7jwq+a+Im8H7klTavTEXfxYjLdaqsDXKOb9uQ=";

/// Index, size and path of four inclusion proofs (transparency-dev/merkle, `testdata/inclusion/*/
/// happy-path.json`, Apache-2.0).
const INCLUSION: [(usize, usize, &[&str]); 4] = [
    (
        0,
        8,
        &[
            "lqKW0iTyhcZ77pPDD4owkVfw2qNdxbh+QQt4YwoJz8c=",
            THIRD_AND_FOURTH,
            LAST_FOUR,
        ],
    ),
    (
        5,
        8,
        &[
            "vBoGQ7EuTS18d5GPROD095qDi2z57FtcKD4fTYhZnms=",
            "yoVOoSjtBQtBs1/8G4e46yveRh6eO1WW7Oa51ZdaCuA=",
            FIRST_FOUR,
        ],
    ),
    (2, 3, &["+sVCA+fMaWzw38tCySodnbr3CtnmIfS9jZhmLwDjwSU="]),
    (
        1,
        5,
        &[
            "bjQLnP+zepicpUTmu3gKLHiQHT+zNzh2hRGjBhevoB0=",
            THIRD_AND_FOURTH,
            "vBoGQ7EuTS18d5GPROD095qDi2z57FtcKD4fTYhZnms=",
        ],
    ),
];

#[test]
fn published_inclusion_proofs() {
    for (index, size, path) in INCLUSION {
        let path: Vec<Digest> = path.iter().map(|text| base64(text)).collect();
        let leaves = &hashes()[..size];
        assert_eq!(inclusion_proof(leaves, index).unwrap(), path);
        let Head { size, root } = head(size);
        assert!(verify_inclusion(
            &leaves[index],
            index as u64,
            size,
            &path,
            &root
        ));
    }
}

/// Sizes and path of four consistency proofs (transparency-dev/merkle, `testdata/consistency/*/
/// happy-path.json`, Apache-2.0); the swapped roots of its `2/swapped-roots.json` are refused.
const CONSISTENCY: [(usize, usize, &[&str]); 4] = [
    (
        1,
        8,
        &[
            "lqKW0iTyhcZ77pPDD4owkVfw2qNdxbh+QQt4YwoJz8c=",
            THIRD_AND_FOURTH,
            LAST_FOUR,
        ],
    ),
    (
        6,
        8,
        &[
            "DrxdNDf74tsVi58Sah0RjjCBgQMdCpSfje3t68VY72o=",
            "yoVOoSjtBQtBs1/8G4e46yveRh6eO1WW7Oa51ZdaCuA=",
            FIRST_FOUR,
        ],
    ),
    (
        2,
        5,
        &[
            THIRD_AND_FOURTH,
            "vBoGQ7EuTS18d5GPROD095qDi2z57FtcKD4fTYhZnms=",
        ],
    ),
    (
        6,
        7,
        &[
            "DrxdNDf74tsVi58Sah0RjjCBgQMdCpSfje3t68VY72o=",
            "sIaT7C5yFZcTBkHoIR5+7cy0wmQTlj7ubB4u0W/7Gl8=",
            FIRST_FOUR,
        ],
    ),
];

#[test]
fn published_consistency_proofs() {
    for (older, newer, path) in CONSISTENCY {
        let path: Vec<Digest> = path.iter().map(|text| base64(text)).collect();
        assert_eq!(consistency_proof(&hashes()[..newer], older).unwrap(), path);
        assert!(verify_consistency(&head(older), &head(newer), &path));
        let swapped = [
            Head {
                root: head(newer).root,
                ..head(older)
            },
            Head {
                root: head(older).root,
                ..head(newer)
            },
        ];
        assert!(!verify_consistency(&swapped[0], &swapped[1], &path));
    }
}

/// MTH of RFC 9162, section 2.1.1, as it is defined.
fn defined(leaves: &[Digest]) -> Digest {
    match leaves {
        [] => Digest::of(&[]),
        [one] => *one,
        many => {
            let mut k = 1;
            while 2 * k < many.len() {
                k *= 2;
            }
            let (left, right) = (defined(&many[..k]), defined(&many[k..]));
            Digest::of_all(&[&[1], &left.0, &right.0])
        }
    }
}

fn leaves(count: usize) -> Vec<Digest> {
    (0..count).map(|n| leaf_hash(&n.to_be_bytes())).collect()
}

#[test]
fn every_proof_of_every_small_tree_holds_and_no_other_place_does() {
    for size in 1..=33 {
        let leaves = leaves(size);
        let root = defined(&leaves);
        for index in 0..size {
            let path = inclusion_proof(&leaves, index).unwrap();
            for claimed in 0..=size {
                let holds =
                    verify_inclusion(&leaves[index], claimed as u64, size as u64, &path, &root);
                assert_eq!(holds, claimed == index, "{index} of {size} as {claimed}");
            }
        }
        let newer = Head {
            size: size as u64,
            root,
        };
        for older in 1..=size {
            let path = consistency_proof(&leaves, older).unwrap();
            for claimed in 1..=size {
                let head = Head {
                    size: claimed as u64,
                    root: defined(&leaves[..claimed]),
                };
                let holds = verify_consistency(&head, &newer, &path);
                assert_eq!(holds, claimed == older, "{older} of {size} as {claimed}");
            }
        }
    }
    assert_eq!(inclusion_proof(&leaves(3), 3), None);
    assert_eq!(consistency_proof(&leaves(3), 0), None);
    assert_eq!(consistency_proof(&leaves(3), 4), None);
}

#[test]
fn a_frontier_that_cannot_be_is_not_read() {
    let mut frontier = Frontier::default();
    leaves(11).iter().for_each(|leaf| frontier.push(leaf));
    let text = serde_json::to_string(&frontier).unwrap();
    assert_eq!(serde_json::from_str::<Frontier>(&text).unwrap(), frontier);
    assert!(serde_json::from_str::<Frontier>(&text.replace(":11", ":12")).is_err());
}

proptest! {
    #[test]
    fn a_frontier_has_the_defined_root(count in 0..300_usize) {
        let leaves = leaves(count);
        let mut frontier = Frontier::default();
        leaves.iter().for_each(|leaf| frontier.push(leaf));
        prop_assert_eq!(frontier.root(), defined(&leaves));
        prop_assert_eq!(frontier.size(), count as u64);
    }

    #[test]
    fn a_changed_proof_proves_nothing(size in 2..200_usize, pick in any::<prop::sample::Index>(), at in any::<prop::sample::Index>(), what in 0..4_u8, bit in 0..256_usize) {
        let leaves = leaves(size);
        let newer = Head { size: size as u64, root: root(&leaves) };
        let index = pick.index(size);
        let spoil = |mut path: Vec<Digest>| {
            let place = at.index(path.len().max(1));
            match what {
                0 if !path.is_empty() => path[place].0[bit / 8] ^= 1 << (bit % 8),
                1 if !path.is_empty() => { path.remove(place); }
                2 => path.push(leaves[0]),
                _ => path.insert(place.min(path.len()), leaves[0]),
            }
            path
        };
        let path = inclusion_proof(&leaves, index).unwrap();
        let spoilt = spoil(path.clone());
        if spoilt != path {
            prop_assert!(!verify_inclusion(&leaves[index], index as u64, newer.size, &spoilt, &newer.root));
        }
        let older = Head { size: index as u64 + 1, root: root(&leaves[..=index]) };
        let path = consistency_proof(&leaves, index + 1).unwrap();
        let spoilt = spoil(path.clone());
        if spoilt != path {
            prop_assert!(!verify_consistency(&older, &newer, &spoilt));
        }
    }
}

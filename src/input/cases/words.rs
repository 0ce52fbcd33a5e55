//! Words of the trade for feet, claws, lesions and people. Aliases are common practice, no source;
//! the codes of the ICAR claw disorder key (Claw Health Atlas, 2015) are from memory.

use crate::model::case_record::{Claw, Foot};
use crate::model::lesion::Lesion;
use crate::model::walk::Observer;

/// A word as it is compared: lower case, with single spaces for all that is no letter or figure.
pub(super) fn normalise(word: &str) -> String {
    let mut plain = String::with_capacity(word.len());
    for letter in word.chars() {
        if letter.is_alphanumeric() {
            plain.extend(letter.to_lowercase());
        } else if !plain.is_empty() && !plain.ends_with(' ') {
            plain.push(' ');
        }
    }
    plain.truncate(plain.trim_end().len());
    plain
}

/// Whether a cell says that nothing is known: `?`, `-`, `n/a`, `unknown`.
pub(super) fn says_nothing(word: &str) -> bool {
    matches!(normalise(word).as_str(), "" | "na" | "n a" | "unknown" | "not known" | "not recorded")
}

fn find<T: Copy>(table: &[(T, &[&str])], word: &str) -> Option<T> {
    let word = normalise(word);
    table.iter().find(|(_, names)| names.contains(&word.as_str())).map(|(value, _)| *value)
}

/// The foot that a word stands for.
pub(super) fn foot(word: &str) -> Option<Foot> {
    const WORDS: [(Foot, &[&str]); 4] = [
        (
            Foot::LeftFront,
            &[
                "lf",
                "fl",
                "left front",
                "front left",
                "left fore",
                "fore left",
                "near fore",
                "near front",
                "nf",
                "vl",
                "vorne links",
            ],
        ),
        (
            Foot::RightFront,
            &[
                "rf",
                "fr",
                "right front",
                "front right",
                "right fore",
                "fore right",
                "off fore",
                "off front",
                "of",
                "vr",
                "vorne rechts",
            ],
        ),
        (
            Foot::LeftHind,
            &[
                "lh",
                "hl",
                "lr",
                "rl",
                "bl",
                "lb",
                "left hind",
                "hind left",
                "left rear",
                "rear left",
                "left back",
                "back left",
                "near hind",
                "nh",
                "hinten links",
            ],
        ),
        (
            Foot::RightHind,
            &[
                "rh",
                "hr",
                "rr",
                "br",
                "rb",
                "right hind",
                "hind right",
                "right rear",
                "rear right",
                "right back",
                "back right",
                "off hind",
                "oh",
                "hinten rechts",
            ],
        ),
    ];
    find(&WORDS, word)
}

/// The claw that a word stands for.
pub(super) fn claw(word: &str) -> Option<Claw> {
    const WORDS: [(Claw, &[&str]); 2] = [
        (Claw::Inner, &["inner", "inside", "medial", "med", "in", "i", "m", "innen"]),
        (Claw::Outer, &["outer", "outside", "lateral", "lat", "out", "o", "l", "aussen", "außen"]),
    ];
    find(&WORDS, word)
}

/// The observer that a word stands for.
pub(super) fn observer(word: &str) -> Option<Observer> {
    const WORDS: [(Observer, &[&str]); 4] = [
        (Observer::Adviser, &["adviser", "advisor", "consultant", "berater"]),
        (
            Observer::Farmer,
            &[
                "farmer",
                "owner",
                "manager",
                "staff",
                "milker",
                "worker",
                "herdsman",
                "herd manager",
                "farm",
                "farm staff",
                "stockman",
                "landwirt",
            ],
        ),
        (
            Observer::Vet,
            &[
                "vet",
                "veterinarian",
                "veterinary",
                "veterinary surgeon",
                "vet tech",
                "tierarzt",
                "dierenarts",
            ],
        ),
        (
            Observer::Trimmer,
            &["trimmer", "hoof trimmer", "foot trimmer", "claw trimmer", "klauenpfleger", "pareur"],
        ),
    ];
    find(&WORDS, word)
}

/// What a word says of the lesion.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Diagnosis {
    /// A lesion group.
    Known(Lesion),
    /// That nobody knows or wrote it down.
    Unrecorded,
    /// A word that is none of the list: a lesion all the same.
    Unknown,
}

/// What a word says of the lesion. A code of the key counts under its parent's group; codes of
/// disorders outside the groups are `other`.
pub(super) fn lesion(word: &str) -> Diagnosis {
    const WORDS: [(Lesion, &[&str]); Lesion::COUNT] = [
        (
            Lesion::WhiteLine,
            &[
                "white line",
                "white line disease",
                "white line lesion",
                "white line fissure",
                "white line separation",
                "white line abscess",
                "wld",
                "wl",
                "wlf",
                "wla",
            ],
        ),
        (
            Lesion::SolePenetration,
            &[
                "sole penetration",
                "sole penetration bruise or abscess under the sole",
                "sole puncture",
                "puncture",
                "penetration",
                "stone bruise",
                "bruise",
                "bruised sole",
                "sole bruise",
                "sole bruising",
                "sole abscess",
                "abscess under the sole",
                "sole injury",
                "sole",
                "foreign body",
                "stone",
            ],
        ),
        (
            Lesion::AxialFissure,
            &[
                "axial fissure",
                "axial wall fissure",
                "axial wall crack",
                "axial crack",
                "inside wall crack",
                "inner wall crack",
                "hfa",
            ],
        ),
        (
            Lesion::FootRot,
            &[
                "foot rot",
                "footrot",
                "interdigital phlegmon",
                "phlegmon",
                "foul",
                "foul in the foot",
                "foul of the foot",
                "interdigital necrobacillosis",
                "ip",
                "panaritium",
            ],
        ),
        (
            Lesion::DigitalDermatitis,
            &["digital dermatitis", "dd", "bdd", "mortellaro", "hairy heel wart", "heel wart", "hairy wart"],
        ),
        (
            Lesion::SoleUlcer,
            &["sole ulcer", "ulcer", "toe ulcer", "bulb ulcer", "heel ulcer", "su", "u", "bu", "tu"],
        ),
        (
            Lesion::Other,
            &[
                "other",
                "another lesion",
                "ac",
                "asymmetric claws",
                "cd",
                "concave dorsal wall",
                "cc",
                "corkscrew claw",
                "id",
                "interdigital dermatitis",
                "superficial dermatitis",
                "ds",
                "double sole",
                "hhe",
                "heel horn erosion",
                "heel erosion",
                "hf",
                "horn fissure",
                "hfh",
                "horizontal fissure",
                "hfv",
                "vertical fissure",
                "sand crack",
                "ih",
                "interdigital hyperplasia",
                "corn",
                "sc",
                "scissor claws",
                "sh",
                "sole haemorrhage",
                "sole hemorrhage",
                "shd",
                "shc",
                "sw",
                "swelling of coronet",
                "ts",
                "thin sole",
                "thin soles",
                "tn",
                "toe necrosis",
                "overgrown claw",
                "upper limb",
                "hip",
                "stifle",
                "hock",
                "injury",
                "joint infection",
                "fracture",
            ],
        ),
    ];
    const NOTHING: [&str; 9] = [
        "unrecorded",
        "lame",
        "lameness",
        "none",
        "no lesion",
        "no lesion found",
        "nothing found",
        "not lifted",
        "not looked at",
    ];
    let plain = normalise(word);
    if says_nothing(word) || NOTHING.contains(&plain.as_str()) {
        return Diagnosis::Unrecorded;
    }
    find(&WORDS, word).map_or(Diagnosis::Unknown, Diagnosis::Known)
}

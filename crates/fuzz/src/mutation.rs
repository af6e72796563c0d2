//! Seeded mutations of inputs. They are the same on every machine, so that a failure can be reproduced.

use bladeform_specimen::Random;

/// Largest mutated input, bytes: large enough to repeat a piece often, small enough to be fast.
const LARGEST: usize = 65_536;

/// Most changes of one input. With more, hardly any input gets past its header.
const MOST_CHANGES: usize = 4;

/// Longest piece that is removed, bytes. Pieces that are repeated are up to eight times as long.
const LONGEST_PIECE: usize = 16;

/// Most copies of a repeated piece.
const MOST_COPIES: usize = 40;

/// Numbers at and beyond the ends of the types that readers use.
const EXTREMES: [&str; 14] = [
    "0",
    "-1",
    "1e308",
    "-1e308",
    "1e-320",
    "nan",
    "inf",
    "4294967295",
    "4294967296",
    "18446744073709551615",
    "-9223372036854775808",
    "1e999",
    "0x10",
    "",
];

/// Counts at the ends of a binary header's 32 bits.
const COUNTS: [u32; 5] = [0, 1, 0x7fff_ffff, 0xffff_ffff, 0x0100_0000];

/// A mutation of one of the seeds, determined by `random` alone. Empty if there are no seeds.
#[must_use]
pub fn mutated(random: &mut Random, seeds: &[Vec<u8>]) -> Vec<u8> {
    if seeds.is_empty() {
        return Vec::new();
    }
    let mut bytes = seeds[below(random, seeds.len())].clone();
    for _ in 0..=below(random, MOST_CHANGES) {
        if bytes.is_empty() {
            break;
        }
        let other = below(random, seeds.len());
        change(random, &mut bytes, &seeds[other]);
        bytes.truncate(LARGEST);
    }
    bytes
}

/// A number from 0 to one less than `n`.
fn below(random: &mut Random, n: usize) -> usize {
    (random.bits() % n.max(1) as u64) as usize
}

/// One change of bytes that are not empty. `other` is an input from which a piece may come.
fn change(random: &mut Random, bytes: &mut Vec<u8>, other: &[u8]) {
    let at = below(random, bytes.len());
    let length = 1 + below(random, LONGEST_PIECE.min(bytes.len() - at));
    match below(random, 9) {
        0 => bytes[at] ^= 1 << below(random, 8),
        1 => bytes[at] = random.bits() as u8,
        2 => bytes.truncate(at),
        3 => repeat_piece(random, bytes, at, 8 * length),
        4 => {
            bytes.drain(at..at + length);
        }
        5 => {
            let count = COUNTS[below(random, COUNTS.len())].to_le_bytes();
            for (b, c) in bytes[at..].iter_mut().zip(count) {
                *b = c;
            }
        }
        6 | 7 => replace_number(random, bytes, at),
        _ => {
            bytes.truncate(at);
            bytes.extend_from_slice(&other[below(random, other.len())..]);
        }
    }
}

/// Repeats the piece that begins at `at`.
fn repeat_piece(random: &mut Random, bytes: &mut Vec<u8>, at: usize, length: usize) {
    let piece = bytes[at..(at + length).min(bytes.len())].to_vec();
    let copies = piece.repeat(1 + below(random, MOST_COPIES));
    bytes.splice(at..at, copies);
}

/// Replaces the next number in text from `at` on by an extreme one.
fn replace_number(random: &mut Random, bytes: &mut Vec<u8>, at: usize) {
    let is_of_number = |b: &u8| b.is_ascii_digit() || b"+-.eE".contains(b);
    let Some(start) = bytes[at..].iter().position(u8::is_ascii_digit).map(|p| at + p) else { return };
    let end = bytes[start..].iter().position(|b| !is_of_number(b)).map_or(bytes.len(), |p| start + p);
    bytes.splice(start..end, EXTREMES[below(random, EXTREMES.len())].bytes());
}

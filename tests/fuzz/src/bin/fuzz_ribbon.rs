//! Bytes to a line with stretches, to its ribbon and to the ground that it covers.
//!
//! An error is fine. A panic, an unsound ring, and ground farther from the line than the widest
//! stretch allows are faults; if the whole line has one width, on both sides, with round ends, so is
//! ground that is missing.
#![no_main]

use fuzz::ground::{Scale, width};
use geo::LineString;
use libfuzzer_sys::arbitrary::{Result, Unstructured};
use libfuzzer_sys::fuzz_target;
use tract::Metres;
use zones::validate::{
    Fault, FaultKind, all_faults, check_coverage, check_rings, check_strip, first_fault,
};
use zones::{Bank, Cover, Ribbon, RibbonEnd, RibbonSide, Stretch, partition, union};

fn station(bytes: &mut Unstructured<'_>) -> Result<Metres> {
    let station = f64::from(bytes.arbitrary::<i16>()?);
    Ok(Metres(station / bytes.choose(&[1_000.0, 100.0, 1.0])?))
}

fn end(bytes: &mut Unstructured<'_>) -> Result<RibbonEnd> {
    Ok(*bytes.choose(&[RibbonEnd::Round, RibbonEnd::Flat])?)
}

fn stretch(bytes: &mut Unstructured<'_>) -> Result<Stretch> {
    let side = *bytes.choose(&[RibbonSide::Both, RibbonSide::Left, RibbonSide::Right])?;
    let (from, to) = match bytes.ratio(1, 3)? {
        true => (Metres(0.0), Metres(f64::INFINITY)),
        false => (station(bytes)?, station(bytes)?),
    };
    let width_from = width(bytes)?;
    let width_to = if bytes.arbitrary()? { width(bytes)? } else { width_from };
    Ok(Stretch { side, from, to, width_from, width_to, start: end(bytes)?, end: end(bytes)? })
}

/// Whether the stretch is all ground within one width of the line.
fn is_whole(stretch: &Stretch) -> bool {
    stretch.side == RibbonSide::Both
        && (stretch.from.0, stretch.to.0) == (0.0, f64::INFINITY)
        && stretch.width_from == stretch.width_to
        && [stretch.start, stretch.end] == [RibbonEnd::Round; 2]
}

fn check(line: &LineString, stretches: &[Stretch]) {
    let Ok(ribbon) = Ribbon::new(line, stretches) else { return };
    let Ok(ground) = union(&[Cover::Beside(&ribbon)]) else { return };
    let fault = first_fault(|see| check_rings(&ground, see));
    assert_eq!(fault.map(|fault| fault.to_string()), None, "rings");
    let Ok(bank) = Bank::of_lines(&line.clone().into()) else { return };
    let widths = stretches.iter().flat_map(|stretch| [stretch.width_from, stretch.width_to]);
    let widest = Metres(widths.map(|width| width.0).fold(0.0, f64::max));
    let is_whole = stretches.iter().all(is_whole) && stretches.len() == 1;
    let matters = |fault: &Fault| is_whole || matches!(fault.kind, FaultKind::TooFar(_));
    let faults = all_faults(|see| check_strip(&ground, &bank, widest, see));
    let fault = faults.into_iter().find(matters);
    assert_eq!(fault.map(|fault| fault.to_string()), None, "{widest:?}");
}

fuzz_target!(|data: &[u8]| {
    let _ = (|| -> Result<()> {
        let mut bytes = Unstructured::new(data);
        let scale = Scale::drawn(&mut bytes)?;
        let line = scale.line(&mut bytes, 12)?;
        let count = bytes.int_in_range(1..=3)?;
        let stretches =
            (0..count).map(|_| stretch(&mut bytes)).collect::<Result<Vec<Stretch>>>()?;
        check(&line, &stretches);
        // Inside a unit, what the line covers is a coverage with the rest.
        if let (Ok(Some(unit)), Ok(ribbon)) =
            (scale.ground(&mut bytes), Ribbon::new(&line, &stretches))
        {
            let faces = partition(&unit, &[Cover::Beside(&ribbon)], <[usize]>::len);
            let grounds: Vec<_> = faces.into_iter().flatten().map(|face| face.ground).collect();
            let fault = first_fault(|see| check_coverage(&unit, &grounds, see));
            assert!(grounds.is_empty() || fault.is_none(), "coverage: {}", fault.unwrap());
        }
        Ok(())
    })();
});

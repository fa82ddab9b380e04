//! Bytes to a unit, banks, bodies, sites and widths, to the partition; then the engine's validators.
//!
//! An error is fine. A panic, a broken coverage, a strip that is too narrow or too wide, and faces
//! that depend on the order of the covers are faults.
#![no_main]

use fuzz::ground::{Scale, width};
use geo::{Coord, MultiLineString, MultiPolygon};
use libfuzzer_sys::arbitrary::{Result, Unstructured};
use libfuzzer_sys::fuzz_target;
use tract::{Metres, SquareMetres};
use zones::validate::{
    Fault, check_account, check_coverage, check_rings, check_strip, first_fault,
};
use zones::{Bank, Cover, Face, area_of, ground_within, partition};

/// A unit and what may cover it.
#[derive(Debug)]
struct Case {
    unit: MultiPolygon,
    waters: Vec<Water>,
    grounds: Vec<MultiPolygon>,
}

/// Something with two strips, the second outside the first.
#[derive(Debug)]
struct Water {
    shape: Shape,
    inner: Metres,
    outer: Metres,
}

#[derive(Debug)]
enum Shape {
    Places(Vec<Coord>),
    Body(MultiPolygon),
    Lines(MultiLineString),
}

impl Water {
    /// None if the line has no length.
    fn bank(&self) -> Option<Bank> {
        match &self.shape {
            Shape::Places(places) => Some(Bank::of_points(places.iter().copied())),
            Shape::Body(body) => Some(Bank::of_body(body)),
            Shape::Lines(lines) => Bank::of_lines(lines).ok(),
        }
    }
}

impl Case {
    /// None if the ground that was drawn is not valid, which the engine asks for.
    fn drawn(bytes: &mut Unstructured<'_>) -> Result<Option<Self>> {
        let scale = Scale::drawn(bytes)?;
        let Some(unit) = scale.ground(bytes)? else { return Ok(None) };
        let mut case = Self { unit, waters: Vec::new(), grounds: Vec::new() };
        for _ in 0..bytes.int_in_range(0..=4)? {
            let shape = match bytes.int_in_range(0..=5)? {
                0 => Shape::Places(scale.points(bytes, 3)?),
                kind @ (1 | 2) => match (scale.ground(bytes)?, kind) {
                    (None, _) => return Ok(None),
                    (Some(body), 1) => Shape::Body(body),
                    (Some(ground), _) => {
                        case.grounds.push(ground);
                        continue;
                    }
                },
                _ => Shape::Lines(MultiLineString::new(vec![
                    scale.line(bytes, 12)?,
                    scale.line(bytes, 3)?,
                ])),
            };
            case.waters.push(Water { shape, inner: width(bytes)?, outer: width(bytes)? });
        }
        Ok(Some(case))
    }

    fn check(&self) {
        let banks: Vec<(Bank, &Water)> =
            self.waters.iter().filter_map(|water| Some((water.bank()?, water))).collect();
        let strips = banks.iter().flat_map(|(bank, water)| {
            let both = Metres(water.inner.0 + water.outer.0);
            [Cover::Within(bank, water.inner), Cover::Within(bank, both)]
        });
        let covers: Vec<Cover<'_>> = strips.chain(self.grounds.iter().map(Cover::Ground)).collect();
        if let Ok(faces) = partition(&self.unit, &covers, <[usize]>::to_vec) {
            self.check_faces(&faces);
            self.check_order(&covers, &faces);
        }
        for (bank, water) in &banks {
            if let Ok(ground) = ground_within(bank, water.inner) {
                self.sound("rings of a strip", first_fault(|see| check_rings(&ground, see)));
                let fault = first_fault(|see| check_strip(&ground, bank, water.inner, see));
                self.sound("strip", fault);
            }
        }
    }

    fn sound(&self, what: &str, fault: Option<Fault>) {
        if let Some(fault) = fault {
            panic!("{what}: {fault}\n{self:?}");
        }
    }

    fn check_faces(&self, faces: &[Face<Vec<usize>>]) {
        let grounds: Vec<MultiPolygon> = faces.iter().map(|face| face.ground.clone()).collect();
        for ground in &grounds {
            self.sound("rings of a face", first_fault(|see| check_rings(ground, see)));
        }
        self.sound("coverage", first_fault(|see| check_coverage(&self.unit, &grounds, see)));
        for face in faces {
            let slack = SquareMetres(1e-9 * face.area.0);
            let parts = [area_of(&face.ground)];
            let fault = first_fault(|see| check_account(face.area, &parts, slack, see));
            self.sound("area of a face", fault);
        }
    }

    /// The same covers in reverse give the same faces.
    fn check_order(&self, covers: &[Cover<'_>], faces: &[Face<Vec<usize>>]) {
        let reversed: Vec<Cover<'_>> = covers.iter().rev().copied().collect();
        let last = covers.len().saturating_sub(1);
        let kind_of = |covers: &[usize]| -> Vec<usize> {
            covers.iter().rev().map(|nth| last - nth).collect()
        };
        let again = partition(&self.unit, &reversed, kind_of).expect("it was parted before");
        assert_eq!(again, faces, "the faces depend on the order of the covers\n{self:?}");
    }
}

fuzz_target!(|data: &[u8]| {
    if let Ok(Some(case)) = Case::drawn(&mut Unstructured::new(data)) {
        case.check();
    }
});

//! One unit under many rule books: every ledger closes, and a book stops only for want of a figure.

use tests::many_books::rows;
use tract::{GroundState, Severity, SquareMetres};

#[test]
fn every_ledger_closes() {
    let rows = rows();
    let ledgers = rows.iter().filter(|row| row.plan.is_ok()).count();
    assert!(ledgers >= 8, "{ledgers} ledgers, at least eight are asked for");
    for row in rows {
        let plan = match row.plan {
            Ok(plan) => plan,
            Err(faults) => {
                let mut errors = faults.iter().filter(|fault| fault.severity == Severity::Error);
                assert!(
                    errors.all(|fault| fault.code == "open-figure"),
                    "{}: {faults:#?}",
                    row.book
                );
                continue;
            }
        };
        let account = &plan.ledger.units[0];
        // 40 acres exactly: 20 chains of 20.1168 m on each side.
        assert_eq!(account.gross_printed.0, 400, "{}", row.book);
        let parts: SquareMetres =
            account.parts.iter().fold(SquareMetres(0.0), |sum, part| sum + part.area);
        let off = (parts.0 - account.gross.0).abs() / account.gross.0;
        assert!(off < 1e-9, "{}: parts are off by {off}", row.book);
        let printed: i64 = account.parts.iter().map(|part| part.printed.0).sum();
        assert_eq!(printed, account.gross_printed.0, "{}", row.book);
        let kept = account.parts.iter().any(|part| part.state != GroundState::Open);
        assert!(kept, "{}: nothing is kept along the water", row.book);
    }
}

//! The ledger file: opening, writing, undoing, copying.

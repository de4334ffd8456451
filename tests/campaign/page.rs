//! later
use super::results::Line;
pub fn write(_: &[Line]) -> Result<(), String> { Ok(()) }
pub fn agrees() -> Result<(), String> { Ok(()) }

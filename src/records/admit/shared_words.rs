//! Class words of a new trait that another trait has too: a bare word means the one that had it first, and it is said.
//!
//! Changes nothing. Called when a trait is added or defined anew.

use super::desk::Desk;
use super::subject::Notice;
use crate::genetics::{ClassSpec, TraitSpec};
use crate::records::code::fold;
use crate::records::genes::is_seedling_trait;
use crate::records::rows::Thing;

/// Says which class words the seedling traits on offer have already: bare, they would not mean the new trait.
pub(super) fn tell(desk: &mut Desk, own: i64, spec: &TraitSpec) {
    let facts = desk.facts;
    let offered = facts.trait_.iter().filter(|row| row.id != own);
    let offered = offered.filter(|row| row.switched_on && is_seedling_trait(row));
    for row in offered {
        let has = |class: &&ClassSpec| {
            let mut classes = facts.trait_class.iter();
            classes.any(|known| known.trait_id == row.id && fold(&known.name) == fold(&class.name))
        };
        let shared: Vec<String> = spec
            .classes
            .iter()
            .filter(has)
            .map(|class| class.name.clone())
            .collect();
        if !shared.is_empty() {
            let of = facts
                .code_of(Thing::Trait, row.id)
                .unwrap_or_default()
                .to_owned();
            let added = spec.code.clone();
            desk.tell(Notice::SharedWords { added, of, shared });
        }
    }
}

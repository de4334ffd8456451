//! What a grower writes down, and the gate that every record passes.

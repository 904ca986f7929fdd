//! Each rule against a file that breaks it, and the whole tree against all rules.

use super::*;

fn complaint(rule: fn(&Source<'_>, &mut Vec<String>), path: &str, text: &str) -> Vec<String> {
    let mut complaints = Vec::new();
    rule(&Source { path, text }, &mut complaints);
    complaints
}

#[test]
fn the_tree_is_tidy() {
    let complaints = complaints(&crate::root().unwrap()).unwrap();
    assert!(complaints.is_empty(), "{complaints:#?}");
}

#[test]
fn each_rule_sees_what_breaks_it() {
    assert_eq!(complaint(header, "server/src/a.rs", "use b;").len(), 1);
    assert_eq!(
        complaint(length, "server/src/a.rs", &"x\n".repeat(401)).len(),
        1
    );
    assert_eq!(
        complaint(length, "client/src/components/a.rs", &"x\n".repeat(151)).len(),
        1
    );
    assert_eq!(complaint(no_mod_rs, "server/src/a/mod.rs", "").len(), 1);
    assert_eq!(
        complaint(unfinished, "a.rs", concat!("// TO", "DO later")).len(),
        1
    );
    assert_eq!(
        complaint(
            shared_order,
            "shared/src/damage/causes.rs",
            "use crate::job::Job;"
        )
        .len(),
        1
    );
    assert_eq!(
        complaint(shared_order, "shared/src/nowhere.rs", "").len(),
        1
    );
    assert_eq!(
        complaint(
            automerge,
            "shared/src/solve.rs",
            "use automerge::Automerge;"
        )
        .len(),
        1
    );
    assert_eq!(
        complaint(sea_orm, "server/src/routes.rs", "use sea_orm::Set;").len(),
        1
    );
    assert_eq!(
        complaint(verdicts, "client/src/a.rs", "if d > tolerance_mm {").len(),
        1
    );
}

#[test]
fn tests_below_the_code_do_not_count() {
    let text = format!(
        "//! a\nfn a() {{}}\n\n#[cfg(test)]\nmod tests {{\n{}}}\n",
        "x\n".repeat(500)
    );
    assert!(complaint(length, "server/src/a.rs", &text).is_empty());
}

#[test]
fn lower_layers_may_be_used() {
    assert!(
        complaint(
            shared_order,
            "shared/src/book/read.rs",
            "use crate::job::Job;"
        )
        .is_empty()
    );
    assert!(
        complaint(
            shared_order,
            "shared/src/job.rs",
            "use crate::ids::PointId;"
        )
        .is_empty()
    );
}

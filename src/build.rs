//! A new migration or template rebuilds the program.
fn main() {
    println!("cargo:rerun-if-changed=migrations");
}

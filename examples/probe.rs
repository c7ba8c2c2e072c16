#[path = "../tests/common/days.rs"]
mod days;
fn main() {
    let which = std::env::args().nth(1).unwrap();
    let text = if which == "logged" { days::twelve_hours() } else { days::twelve_hours_computed() };
    let s = stallheat::scenario::parse(&text).unwrap();
    let n: usize = std::env::args().nth(2).unwrap().parse().unwrap();
    let t = std::time::Instant::now();
    let mut e = 0;
    for _ in 0..n {
        e = stallheat::simulate::simulate(&s).unwrap().evaluations;
    }
    println!("{} {:.3} ms, {e} evals", which, t.elapsed().as_secs_f64() * 1e3 / n as f64);
}

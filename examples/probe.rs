#[path = "../tests/common/days.rs"]
mod days;
fn main() {
    let which = std::env::args().nth(1).unwrap();
    let text = if which == "logged" { days::twelve_hours() } else { days::twelve_hours_computed() };
    let s = stallheat::scenario::parse(&text).unwrap();
    let n: usize = std::env::args().nth(2).unwrap().parse().unwrap();
    let mut e = 0;
    let mut all: Vec<f64> = (0..n)
        .map(|_| {
            let t = std::time::Instant::now();
            e = stallheat::simulate::simulate(&s).unwrap().evaluations;
            t.elapsed().as_secs_f64() * 1e3
        })
        .collect();
    all.sort_by(f64::total_cmp);
    println!("{} min {:.3} median {:.3} ms, {e} evals", which, all[0], all[n / 2]);
}

fn main() {
    let setup = stallheat::scenario::parameters::Setup::default();
    let f = stallheat::fluid::Fluid::new(34.0, 7.2, 860.0);
    let p = stallheat::plumbing::Plumbing::new(&setup, f);
    for t in 0..30 {
        let k = 278.0 + t as f64;
        let c = p.circulation(k);
        println!("{k} {:.4} {:.3}", c.flow_m3_per_s * 6e4, c.current_a);
    }
}

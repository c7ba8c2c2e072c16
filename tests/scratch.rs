use stallheat::{scenario, simulate::simulate, timeline::Node, transmission::Path};
#[test]
fn look() {
    for f in ["saturday_bracket_day", "dyno_bench_session"] {
        let text = std::fs::read_to_string(format!("scenarios/{f}.json")).unwrap();
        let s = scenario::parse(&text).unwrap_or_else(|e| panic!("{e}"));
        let t0 = std::time::Instant::now();
        let t = simulate(&s).unwrap_or_else(|e| panic!("{e}"));
        println!(
            "{f} {:?} samples {} evals {} dur {}",
            t0.elapsed(),
            t.samples.len(),
            t.evaluations,
            t.duration_s()
        );
        for e in &t.events {
            let s = &t.samples[e.samples.1];
            let f = |n: Node| s.temperature_k[n.index()] * 1.8 - 459.67;
            println!(
                "{:>2} {:12} {:8.0}..{:8.0}  {}  made {:.0} kJ {:?}",
                e.round.unwrap_or(0),
                e.kind.key(),
                e.start_s,
                e.end_s,
                Node::ALL.iter().map(|n| format!("{:6.1}", f(*n))).collect::<String>(),
                t.event_ledger(e).made_j() / 1e3,
                e.ended_by
            );
        }
        for p in Path::SOURCES.iter().chain(&Path::SINKS) {
            println!("{} {:.0} kJ", p.key(), t.ledger.path_j(*p) / 1e3);
        }
        println!("closure {:e}  peak {:?}", t.ledger.closure(), t.peak(Node::ConverterFluid));
        for l in &t.launches {
            println!(
                "launch {:?} {:.1} pan {:.1}",
                l.round,
                l.temperature_k[0] * 1.8 - 459.67,
                l.temperature_k[2] * 1.8 - 459.67
            );
        }
    }
}

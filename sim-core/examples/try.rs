use sim_core::{conditions::*, rig::{shipped::shipped, keys::*, file::*}, steady::Stand, sweep::*, flowstart::*, point::*};
fn main() {
    let f = parse(include_str!("../rigs/six.toml"));
    let f = match f { Ok(f) => f, Err(e) => { println!("{e:?}"); return; } };
    let rig = f.rig;
    println!("size {}", std::mem::size_of_val(&rig));
    println!("{:?}", rig.reference());
    let s = Setup { rig, conditions: Conditions::default() };
    let fs = flow_start(&s, 0.25).unwrap();
    println!("{:#?}", fs);
    for trim in [Trim::Off, Trim::On] { for idle in [IdleAir::Held, IdleAir::Fixed] {
        for flame in sim_core::engine::flame::FLAME_LAWS {
        let c = Conditions { trim, idle_air: idle, flame, ..Default::default() };
        let st = Stand::new(&rig, &c);
        let e = edges(&st);
        println!("{trim:?} {idle:?} {flame:?} {e:?} width {:?} middle {:?} ear {:?}", e.width(), e.middle(), e.ear_aim());
        }
    }}
    for idle_air in [IdleAir::Held, IdleAir::Fixed] {
    let st = Stand::new(&rig, &Conditions{idle_air, ..Default::default()});
    for i in -16..33 { let p = st.point(i as f64/64.0); print!("{:7.4} {:11}", p.screw_turns, p.zone().word()); match p.outcome { Outcome::Running(x) => { for r in READINGS { print!(" {:.4}", r.value(&x).unwrap_or(f64::NAN)); } println!(" {:?} r={:e}", x.valve_limit, x.residual)}, Outcome::Stalled(s) => println!("{s:?}") } }
    }
    let t = std::time::Instant::now();
    println!("{:?} {:?}", spread(&rig, &s), t.elapsed());
    let st = Stand::new(&rig, &Conditions::default());
    let t = std::time::Instant::now(); let mut x=0.0;
    for i in 0..10000 { x += st.point(i as f64*1e-6).cov().unwrap(); }
    println!("point {:?} {x}", t.elapsed()/10000);
    let t = std::time::Instant::now();
    for i in 0..10000 { x += Stand::new(&rig, &Conditions::default()).point(i as f64*1e-6).cov().unwrap(); }
    println!("stand+point {:?} {x}", t.elapsed()/10000);
    let c = Conditions{trim:Trim::On, ..Default::default()};
    let t = std::time::Instant::now();
    for i in 0..10000 { x += Stand::new(&rig, &c).point(i as f64*1e-6).cov().unwrap(); }
    println!("stand+point trim on {:?} {x}", t.elapsed()/10000);
}

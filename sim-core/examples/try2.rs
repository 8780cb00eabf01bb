use sim_core::{conditions::*, rig::{shipped::shipped, keys::*}, steady::Stand, flowstart::*, point::*, units::Unit};
fn main() {
    let rig = shipped("six").unwrap().rig;
    let s = Setup { rig, conditions: Conditions::default() };
    let fs = flow_start(&s, 0.25).unwrap();
    println!("{} {} felt {} thr {} {:?}", fs.flow_start_turns, fs.setting_turns, fs.felt_play_m, fs.threshold_turns, fs.stream_turns);
    for d in [-1.4,-1.2, -1.1,-0.8, -0.4, -0.2, 0.0, 0.2, 0.4, 0.6, 0.7, 0.8] {
        let mut s2 = s; s2.conditions.rest_height_m = d*1e-3;
        let f = flow_start(&s2, 0.25).unwrap();
        println!("rest {d}: {} {:?} {:?}", f.setting_turns, f.after.zone(), f.after.state().map(|s| (s.lambda, s.cov)));
    }
    let aim = Stand::new(&rig,&Conditions::default()).aim_turns().unwrap();
    for n in [2500.0, 4000.0] { for th in [2.0,3.0,4.0,5.0,7.0,10.0,15.0,20.0,25.0,30.0,40.0,50.0,60.0,80.0,100.0] {
        let c = Conditions{ speed_rad_s: Some(Unit::Rpm.to_si(n)), throttle: th/100.0, ..Default::default() };
        let st = Stand::new(&rig,&c);
        let p = st.point(aim); let q = st.point(aim+1.0/16.0);
        match p.outcome { Outcome::Running(x) => println!("{n} {th}% air {:.1} lam {:.4} pm {:.3} cov {:.3} brake {:.1} z {:.1} pot {:.2} sixteenth {:.2}%", x.air_kg_s*3600.0, x.lambda, x.manifold_pa/1e5, x.cov, x.brake_nm, x.plate_lift_m*1e3, x.potentiometer_v, 100.0*(q.state().map_or(0.0,|q| q.lambda)/x.lambda-1.0)), Outcome::Stalled(e) => println!("{n} {th} {e:?}") }
    }}
    for alt in [0.0,500.0,1500.0,3000.0] { let st = Stand::new(&rig,&Conditions{altitude_m:alt, ..Default::default()}); let p=st.point(aim); println!("alt {alt} {:?}", p.state().map(|s|(s.lambda,s.potentiometer_v,s.cov))); }
    for alt in [0.0,500.0,1500.0,3000.0] { let st = Stand::new(&rig,&Conditions{altitude_m:alt, speed_rad_s: Some(Unit::Rpm.to_si(2500.0)), throttle:0.3, ..Default::default()}); let p=st.point(aim); println!("alt {alt} {:?}", p.state().map(|s|(s.lambda,s.potentiometer_v,s.cov))); }
    for (w, c) in [("aim", Conditions::default()), ("0mA", Conditions{actuator_a:Some(0.0),..Default::default()}), ("leak1", Conditions{leak_kg_s:1.0/3600.0,..Default::default()}),("fuel-15", Conditions{fuel_k:258.15,..Default::default()}),("fuel80", Conditions{fuel_k:353.15,..Default::default()}), ("cool20", Conditions{coolant_k:293.15,..Default::default()}), ("cool-15", Conditions{coolant_k:258.15,..Default::default()}), ("misf1 trim", Conditions{misfire:0.01, trim:Trim::On,..Default::default()}), ("leak1 trim", Conditions{leak_kg_s:1.0/3600.0,trim:Trim::On,..Default::default()})] {
        for d in [-1.0/16.0, 0.0, 1.0/16.0] { let p=Stand::new(&rig,&c).point(aim+d); println!("{w} {d} {:?}", p.state().map(|s| (s.lambda, s.cov, s.potentiometer_v, s.actuator_a*1e3, s.speed_rad_s*9.549, s.co*100.0))); }
    }
}

use sim_core::{conditions::*, rig::shipped::shipped, steady::Stand};
fn main(){ let rig=shipped("six").unwrap().rig; let st=Stand::new(&rig,&Conditions::default()); let mut x=0.0; 
for _ in 0..5 { let t=std::time::Instant::now(); for i in 0..50000 { x+=st.point(i as f64*1e-6).cov().unwrap(); } println!("{:?} {x}", t.elapsed()/50000); }}

//! The feed of an engine that turns: drawn from, held by its regulator, with vapour to put back.

use super::feed::Feed;
use super::volume_balance::VolumeBalance;

impl Feed<'_> {
    /// Drives a running engine's feed to a time. Vapour in the feed goes first, at its own
    /// pressure; then the pressure moves, and the regulator holds it at `set_pa` without a rise
    /// of its own. Where more is drawn than there is, room is left as vapour.
    pub fn drive(&self, balance: &mut VolumeBalance, until_s: f64) {
        if balance.vapour_m3 > 0.0 {
            let p = balance.pressure_pa;
            let (net, _) = self.net_m3_s(p);
            let left_s = until_s - balance.time_s;
            let time_s = if net > 0.0 { left_s.min(balance.vapour_m3 / net) } else { left_s };
            balance.vapour_m3 = (balance.vapour_m3 - net * time_s).max(0.0);
            let passed = self.passed_m3(p, time_s);
            self.add(balance, time_s, p, p * time_s, p.max(0.0).sqrt() * time_s, &passed);
        }
        if balance.pressure_pa < self.set_pa && balance.time_s < until_s {
            self.advance_or_stop(balance, until_s, self.set_pa);
        }
        let left_s = until_s - balance.time_s;
        if balance.pressure_pa >= self.set_pa && left_s > 0.0 {
            let (net, _) = self.net_m3_s(self.set_pa);
            if net < 0.0 {
                // Not held: it falls from here.
                self.advance_or_stop(balance, until_s, f64::NAN);
            } else {
                let p = self.set_pa;
                let above = match balance.pressure_pa > p {
                    true => self.supply.stored_m3(balance.pressure_pa) - self.supply.stored_m3(p),
                    false => 0.0,
                };
                balance.pressure_pa = p;
                let passed = self.passed_m3(p, left_s);
                self.add(balance, left_s, p, p * left_s, p.sqrt() * left_s, &passed);
                balance.returned_m3 += net * left_s + above;
            }
        }
        if balance.pressure_pa < 0.0 {
            balance.vapour_m3 -= self.supply.stored_m3(balance.pressure_pa);
            balance.pressure_pa = 0.0;
        }
        balance.time_s = until_s;
    }
}

/// A feed that its regulator holds with the pump running: what flows each second (m3/s), whatever
/// the engine draws of what would return.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct HeldFeed {
    pump_share: f64,
    set_pa: f64,
    pumped_m3_s: f64,
    plunger_m3_s: f64,
    seat_m3_s: f64,
}

impl HeldFeed {
    /// That of a feed of which nothing seeps.
    pub fn of(feed: &Feed<'_>) -> HeldFeed {
        HeldFeed {
            pump_share: feed.pump_share,
            set_pa: feed.set_pa,
            pumped_m3_s: feed.supply.pump.delivery_m3_s(feed.set_pa, feed.pump_share),
            plunger_m3_s: feed.leaks.plunger_m3_s_pa * feed.set_pa,
            seat_m3_s: feed.leaks.seat_m3_s_pa * feed.set_pa,
        }
    }

    /// As [`Feed::drive`] for a time (s) with so much drawn (m3); does nothing and says so where
    /// the feed is not held, or not with this share of the pump.
    pub fn drive(
        &self,
        balance: &mut VolumeBalance,
        (lasts_s, pump_share): (f64, f64),
        drawn_m3: f64,
    ) -> bool {
        let returned_m3 =
            (self.pumped_m3_s - self.plunger_m3_s - self.seat_m3_s) * lasts_s - drawn_m3;
        let same = pump_share == self.pump_share && balance.pressure_pa == self.set_pa;
        let holds = same && balance.vapour_m3 == 0.0 && returned_m3 >= 0.0;
        if holds {
            balance.time_s += lasts_s;
            balance.pumped_m3 += self.pumped_m3_s * lasts_s;
            balance.plunger_m3 += self.plunger_m3_s * lasts_s;
            balance.seat_m3 += self.seat_m3_s * lasts_s;
            balance.drawn_m3 += drawn_m3;
            balance.returned_m3 += returned_m3;
        }
        holds
    }
}

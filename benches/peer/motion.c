/* The equations of motion of the freely running engine, written anew in C: manifold, crank,
 * floating plate, wall film, sums of air and fuel. What sim-core's own stepper is timed and
 * compared with (benches/peer.rs builds and calls it). It shares no line with sim-core.
 *
 * Standard input: the rig's numbers, `section.key number...` a line, then the line `drive` and
 * rows of `until_s inlet_start_mm2 inlet_end_mm2 imep_start_bar imep_end_bar current_ma brake_nm`.
 * Arguments: steps a second, times the whole drive is driven.
 * Output: nanoseconds a rate of the quickest pass, rates a pass, then the nine states at the end.
 *
 * Outside: sea level, 20 degC; coolant 90 degC, fuel without alcohol at 30 degC; screw as shipped.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define STATES 9
#define FEEDS_BACK 5
#define MOST 32
#define ROWS 16

static const double PI = 3.14159265358979323846;
static const double R_AIR = 287.05287, GAMMA = 1.4, STRAIGHT_ABOVE = 0.999;
static const double AMBIENT_PA = 101325.0, AMBIENT_K = 293.15;
static const double BAR = 1e5, MM = 1e-3;
/* What the states are counted in: Pa, rad/s, m, m/s, kg, then kg of air and fuel. */
static const double COUNTED[STATES] = {1e5, 100.0, 1e-3, 0.1, 1e-4, 1e-3, 1e-3, 1e-3, 1e-3};
/* Manifold, speed, plate, plate speed, film at the start, so counted. */
static const double START[STATES] = {0.34, 0.74, 1.4, 0.0, 0.6, 0, 0, 0, 0};

typedef struct { char name[64]; int count; double at[MOST]; } Entry;
static Entry entries[256];
static int entry_count;

static const Entry *entry(const char *name) {
    for (int i = 0; i < entry_count; i++)
        if (strcmp(entries[i].name, name) == 0) return &entries[i];
    fprintf(stderr, "the rig has no %s\n", name);
    exit(1);
}
static double value(const char *name) { return entry(name)->at[0]; }

typedef struct {
    double choked_ratio, most_flow, straight_flow, flux_s_m;
    double radius_m, discharge, root_2_density, carries_n;
    int edges;
    double edge_m[MOST], gap_m[MOST];
    double opening_m, per_plate, slit_height_m, slit_discharge, half_reynolds;
    int slits;
    double width_m[MOST], fuel_kg_m3, fuel_pa_s;
    double exhaust_pa, volume_m3, rubbing, accessories_pa;
    double compression, polytropic, filling[3], charge_k, pa_per_kg;
    double wets, dries_s, inertia, plate_kg, plate_damping;
} Engine;

typedef struct { double t0, t1, inlet_m2[2], imep_pa[2], jet_m_s, brake_nm; } Segment;

/* Flow function of the pressure ratio, downstream over upstream (isentropic nozzle). */
static double flow_function(const Engine *e, double ratio) {
    if (ratio <= e->choked_ratio) return e->most_flow;
    if (ratio >= 1.0) return 0.0;
    if (ratio > STRAIGHT_ABOVE) return e->straight_flow * (1.0 - ratio) / (1.0 - STRAIGHT_ABOVE);
    double to_gamma = pow(ratio, 1.0 / GAMMA);
    double work = 2.0 * GAMMA / (GAMMA - 1.0) * (1.0 - ratio / to_gamma);
    return to_gamma * sqrt(work);
}

static Engine engine_of_rig(void) {
    Engine e;
    memset(&e, 0, sizeof e);
    e.choked_ratio = pow(2.0 / (GAMMA + 1.0), GAMMA / (GAMMA - 1.0));
    e.most_flow =
        sqrt(GAMMA) * pow(2.0 / (GAMMA + 1.0), (GAMMA + 1.0) / (2.0 * (GAMMA - 1.0)));
    double to_gamma = pow(STRAIGHT_ABOVE, 1.0 / GAMMA);
    e.straight_flow =
        to_gamma * sqrt(2.0 * GAMMA / (GAMMA - 1.0) * (1.0 - STRAIGHT_ABOVE / to_gamma));
    e.flux_s_m = 1.0 / sqrt(R_AIR * AMBIENT_K);

    e.radius_m = value("air.plate_radius_mm") * MM;
    e.discharge = value("air.plate_discharge");
    e.root_2_density = sqrt(2.0 * AMBIENT_PA / (R_AIR * AMBIENT_K));
    const Entry *edge = entry("air.funnel_height_mm"), *gap = entry("air.funnel_gap_mm");
    e.edges = edge->count;
    for (int i = 0; i < e.edges; i++) {
        e.edge_m[i] = edge->at[i] * MM;
        e.gap_m[i] = (value("air.rim_clearance_mm") + gap->at[i]) * MM;
    }
    double plate_arm = value("lever.plate_arm_mm");
    e.per_plate = value("lever.plunger_arm_mm") / plate_arm;
    double plunger_m = value("metering.plunger_mm") * MM;
    e.carries_n = value("metering.system_pressure_bar") * BAR * PI / 4.0 * plunger_m * plunger_m
        * e.per_plate;

    e.opening_m = value("lever.zero_height_mm") * MM;
    e.slit_height_m = value("metering.slit_height_mm") * MM;
    e.slit_discharge = value("metering.slit_discharge");
    e.half_reynolds = value("metering.slit_half_reynolds");
    const Entry *width = entry("metering.slit_width_mm");
    e.slits = width->count;
    for (int i = 0; i < e.slits; i++) e.width_m[i] = width->at[i] * MM;
    double rho = 745.0, alpha = 346.4228 / (rho * rho) + 0.4388 / rho, warmer = alpha * 15.0;
    e.fuel_kg_m3 = rho * exp(-warmer * (1.0 + 0.8 * warmer));
    e.fuel_pa_s = 0.55e-3 * exp(1000.0 * (1.0 / 303.15 - 1.0 / 293.15));

    e.exhaust_pa = AMBIENT_PA + value("engine.exhaust_mbar") * 100.0;
    e.volume_m3 = value("engine.displacement_l") * 1e-3;
    e.rubbing = value("engine.rubbing_scale") * BAR;
    e.accessories_pa = value("engine.accessories_bar") * BAR;
    e.compression = value("engine.compression");
    e.polytropic = value("engine.polytropic");
    e.filling[0] = value("engine.filling_0");
    e.filling[1] = value("engine.filling_1_s");
    e.filling[2] = value("engine.filling_2_s2");
    e.charge_k = value("engine.charge_k");
    e.pa_per_kg = R_AIR * e.charge_k / (value("moving.manifold_l") * 1e-3);

    double idle_rad_s = value("controller.idle_rpm") * PI / 30.0;
    e.wets = value("moving.film_share");
    e.dries_s = value("moving.film_s") * pow(idle_rad_s / (100.0 * START[1]), 0.7);
    e.inertia = value("moving.inertia_kg_m2");
    e.plate_kg = value("moving.plate_kg");
    e.plate_damping = value("moving.plate_damping_ns_m");
    return e;
}

/* Flow past plate and throttle in a row (kg/s) and the drop over the plate: closed where the
 * throttle is choked, else by Newton's steps in the root of the drop. */
static double inlet_kg_s(const Engine *e, double area_m2, double p, double z, double *drop_pa) {
    if (z < e->edge_m[0]) z = e->edge_m[0];
    if (z > e->edge_m[e->edges - 1]) z = e->edge_m[e->edges - 1];
    int i = 1;
    while (i < e->edges - 1 && z >= e->edge_m[i]) i++;
    double along = (z - e->edge_m[i - 1]) / (e->edge_m[i] - e->edge_m[i - 1]);
    double gap = e->gap_m[i - 1] + (e->gap_m[i] - e->gap_m[i - 1]) * along;
    double by_root = e->discharge * PI * gap * (2.0 * e->radius_m + gap) * e->root_2_density;
    double a = area_m2 * e->flux_s_m * e->most_flow;
    double root =
        2.0 * a * AMBIENT_PA / (by_root + sqrt(by_root * by_root + 4.0 * a * a * AMBIENT_PA));
    if (p > e->choked_ratio * (AMBIENT_PA - root * root)) {
        double whole = AMBIENT_PA - p > 0.0 ? AMBIENT_PA - p : 0.0, most = fmin(root, sqrt(whole));
        double free_kg_s = area_m2 * AMBIENT_PA * e->flux_s_m * flow_function(e, p / AMBIENT_PA);
        if (free_kg_s <= 0.0) return *drop_pa = 0.0;
        root = free_kg_s / sqrt(by_root * by_root + free_kg_s * free_kg_s / whole);
        for (int k = 0; k < 60; k++) {
            double up = AMBIENT_PA - root * root, ratio = p / up, psi, by_up;
            if (ratio <= e->choked_ratio) {
                psi = e->most_flow, by_up = psi;
            } else if (ratio > STRAIGHT_ABOVE) {
                double slope = -e->straight_flow / (1.0 - STRAIGHT_ABOVE);
                psi = flow_function(e, ratio), by_up = psi - ratio * slope;
            } else {
                double to_gamma = pow(ratio, 1.0 / GAMMA), g = 2.0 * GAMMA / (GAMMA - 1.0);
                double work = sqrt(g * (1.0 - ratio / to_gamma));
                psi = to_gamma * work;
                /* d psi / d ratio. */
                double slope = to_gamma / ratio * work / GAMMA - 1.0 / work;
                by_up = psi - ratio * slope;
            }
            double passes = area_m2 * up * e->flux_s_m * psi;
            double slope = area_m2 * e->flux_s_m * by_up;
            double step = (by_root * root - passes) / (by_root + 2.0 * root * slope);
            root = fmin(root - step, most);
            if (fabs(step) <= 1e-7 * root) break;
        }
    }
    *drop_pa = root * root;
    return by_root * root;
}

static double breathed_kg_s(const Engine *e, double p, double w) {
    double left = e->compression - pow(e->exhaust_pa / p, 1.0 / e->polytropic);
    double by_residual = left / (e->compression - 1.0);
    double by_speed = e->filling[0] + w * (e->filling[1] + w * e->filling[2]);
    if (by_residual < 0.0 || by_speed < 0.0) return 0.0;
    return by_residual * by_speed * p / (R_AIR * e->charge_k) * e->volume_m3 * w / (4.0 * PI);
}

static double demand_pa(const Engine *e, double p, double w) {
    double n = w * 60.0 / (2.0 * PI) / 1000.0;
    double rubs = (0.97 + 0.15 * n + 0.05 * n * n) - (0.05 + 0.018 * n * n);
    return e->rubbing * rubs + e->accessories_pa + e->exhaust_pa - p;
}

static double fuel_kg_s(const Engine *e, double z, double jet) {
    double h = fmin((z - e->opening_m) * e->per_plate, e->slit_height_m), total = 0.0;
    if (h <= 0.0 || jet <= 0.0) return 0.0;
    for (int i = 0; i < e->slits; i++) {
        double w = e->width_m[i];
        double reynolds = e->fuel_kg_m3 * jet * (2.0 * w * h / (w + h)) / e->fuel_pa_s;
        total += e->slit_discharge / (1.0 + e->half_reynolds / reynolds) * w * h;
    }
    return total * e->fuel_kg_m3 * jet;
}

static double line(const double ends[2], double along) {
    return ends[0] + (ends[1] - ends[0]) * along;
}

static void rates(const Engine *e, const Segment *s, double t, const double x[], double to[]) {
    double p = x[0] * COUNTED[0], w = x[1] * COUNTED[1], z = x[2] * COUNTED[2];
    double v = x[3] * COUNTED[3], film = x[4] * COUNTED[4], drop_pa;
    double along = (t - s->t0) / (s->t1 - s->t0);
    double air_in = inlet_kg_s(e, line(s->inlet_m2, along), p, z, &drop_pa);
    double air_out = breathed_kg_s(e, p, w);
    double surplus = line(s->imep_pa, along) - demand_pa(e, p, w);
    double torque = surplus * e->volume_m3 / (4.0 * PI) - s->brake_nm;
    double force = drop_pa * PI * e->radius_m * e->radius_m - e->carries_n - e->plate_damping * v;
    double fuel_in = fuel_kg_s(e, z, s->jet_m_s), dries = film / e->dries_s;
    to[0] = e->pa_per_kg * (air_in - air_out) / COUNTED[0];
    to[1] = torque / e->inertia / COUNTED[1];
    to[2] = v / COUNTED[2];
    to[3] = force / e->plate_kg / COUNTED[3];
    to[4] = (e->wets * fuel_in - dries) / COUNTED[4];
    to[5] = air_in / COUNTED[5];
    to[6] = air_out / COUNTED[6];
    to[7] = fuel_in / COUNTED[7];
    to[8] = (fuel_in - e->wets * fuel_in + dries) / COUNTED[8];
}

/* One step of the classical fourth-order method. */
static void step(const Engine *e, const Segment *s, double t, double h, double x[]) {
    double k1[STATES], k2[STATES], k3[STATES], k4[STATES], y[STATES];
    rates(e, s, t, x, k1);
    for (int i = 0; i < FEEDS_BACK; i++) y[i] = x[i] + 0.5 * h * k1[i];
    rates(e, s, t + 0.5 * h, y, k2);
    for (int i = 0; i < FEEDS_BACK; i++) y[i] = x[i] + 0.5 * h * k2[i];
    rates(e, s, t + 0.5 * h, y, k3);
    for (int i = 0; i < FEEDS_BACK; i++) y[i] = x[i] + h * k3[i];
    rates(e, s, t + h, y, k4);
    for (int i = 0; i < STATES; i++) x[i] += h / 6.0 * (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i]);
}

int main(int argc, char **argv) {
    if (argc != 3) return fprintf(stderr, "motion STEPS_PER_S TIMES <numbers\n"), 1;
    double per_s = atof(argv[1]);
    int times = atoi(argv[2]), segments = 0;
    static Segment drive[ROWS];
    static char text[8192];
    double current_ma[ROWS];
    int driving = 0;
    while (fgets(text, sizeof text, stdin)) {
        if (strncmp(text, "drive", 5) == 0) {
            driving = 1;
        } else if (driving && segments < ROWS) {
            Segment *s = &drive[segments];
            double in[2], bar[2];
            if (sscanf(text, "%lf %lf %lf %lf %lf %lf %lf", &s->t1, &in[0], &in[1], &bar[0],
                       &bar[1], &current_ma[segments], &s->brake_nm) != 7)
                return fprintf(stderr, "not a row of a drive: %s", text), 1;
            for (int i = 0; i < 2; i++) s->inlet_m2[i] = in[i] * 1e-6, s->imep_pa[i] = bar[i] * BAR;
            s->t0 = segments ? drive[segments - 1].t1 : 0.0;
            segments++;
        } else if (entry_count < 256) {
            Entry *to = &entries[entry_count++];
            char *rest = text + strcspn(text, " "), *end;
            snprintf(to->name, sizeof to->name, "%.*s", (int)(rest - text), text);
            for (double v = strtod(rest, &end); end != rest && to->count < MOST;
                 v = strtod(rest, &end))
                to->at[to->count++] = v, rest = end;
        }
    }
    Engine e = engine_of_rig();
    for (int k = 0; k < segments; k++) {
        double bar = value("metering.actuator_zero_bar")
            + value("metering.actuator_slope_bar_ma") * current_ma[k] - value("metering.spring_bar");
        drive[k].jet_m_s = bar > 0.0 ? sqrt(2.0 * bar * BAR / e.fuel_kg_m3) : 0.0;
    }
    double x[STATES], least_ns = INFINITY;
    long count = 0;
    for (int pass = 0; pass < times; pass++) {
        struct timespec from, to;
        clock_gettime(CLOCK_MONOTONIC, &from);
        memcpy(x, START, sizeof x);
        count = 0;
        for (int k = 0; k < segments; k++) {
            const Segment *s = &drive[k];
            long steps = lround((s->t1 - s->t0) * per_s);
            double h = (s->t1 - s->t0) / (double)steps;
            for (long i = 0; i < steps; i++) step(&e, s, s->t0 + (double)i * h, h, x);
            count += 4 * steps;
        }
        clock_gettime(CLOCK_MONOTONIC, &to);
        double ns = 1e9 * (double)(to.tv_sec - from.tv_sec) + (double)(to.tv_nsec - from.tv_nsec);
        if (ns < least_ns) least_ns = ns;
    }
    printf("%.17g %ld", least_ns / (double)count, count);
    for (int i = 0; i < STATES; i++) printf(" %.17g", x[i]);
    printf("\n");
    return 0;
}

/* The drying equations of recipe/drying solved by CVODE (variable-order BDF, dense Newton, difference quotients), timed.
 *
 * Standard input: a line "tolerance repeats", then one line for each case: three mass fractions, kept kg, room K, relative
 * humidity, K of the incoming air, film W/K, flow m3/s, until, pressure Pa, critical content, J/K, and 1 when the drying is
 * to be followed once more without water taken up. Standard output: microseconds for one estimate over all cases, then
 * the minutes of each. */
#include <cvode/cvode.h>
#include <math.h>
#include <nvector/nvector_serial.h>
#include <stdio.h>
#include <stdlib.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>
#include <time.h>

enum { WATER, ISOPROPANOL, ETHANOL, N };

static const double GAS = 8.314462618, AIR_MOLE = 0.0289647 * 1006.0;
static const double MOLAR[N] = {0.018015, 0.060095, 0.046068}, LIQUID[N] = {75.3, 156.5, 112.3};
static const double VAPOUR[N] = {33.6, 89.3, 65.6}, LATENT25[N] = {43980, 45390, 42320};
static const double LATENT_BOIL[N] = {40650, 39850, 38560}, BOILS[N] = {373.124, 355.41, 351.44};
static const double CRITICAL[N] = {647.096, 508.3, 513.92}, VOLUMES[N] = {12.7, 70.82, 50.36};
static double watson[N];

typedef struct {
    double w[N], kept, room, humidity, warm, film, flow, until, pressure, critical, solid;
    int twice, no_uptake;
    double moles, ratio, damp_moles, carries, open[N];
} Case;

static double saturation(int c, double t) {
    if (c == ISOPROPANOL) return exp(M_LN10 * (10.24268 - 1580.92 / (t - 53.54)));
    if (c == ETHANOL) return exp(M_LN10 * (10.33675 - 1648.22 / (t - 42.232)));
    double s = t - 0.23855557567849 / (t - 0.65017534844798e3);
    double a = (s + 0.11670521452767e4) * s - 0.72421316703206e6;
    double b = (-0.17073846940092e2 * s + 0.12020824702470e5) * s - 0.32325550322333e7;
    double d = (0.14915108613530e2 * s - 0.48232657361591e4) * s + 0.40511340542057e6;
    double r = 2 * d / (sqrt(b * b - 4 * a * d) - b);
    r *= r;
    return r * r * 1e6;
}

static void activity(const double x[N], double t, double gamma[N]) {
    const double A = 1.0728 * M_LN10, B = 0.4750 * M_LN10;
    double a = x[ISOPROPANOL] + x[ETHANOL], w = x[WATER], r = a > 0 ? x[ISOPROPANOL] / a : 0.5;
    double sum = A * a + B * w, u = B * w / sum, v = A * a / sum;
    double la = A * u * u, lw = B * v * v, le = A * u;
    double aw = exp(-1.176927 - 192.3808 / t), wa = exp(1.176927 - 480.8011 / t);
    double sa = a + aw * w, sw = w + wa * a, pull = aw / sa - wa / sw;
    double wla = -log(sa) + w * pull, wlw = -log(sw) - a * pull;
    double wle = -log(sa) - (a > 1e-12 ? w * log1p(a * (wa - 1)) / a : wa - 1);
    double both = r * la + (1 - r) * wla, apart = le - wle;
    gamma[WATER] = exp(r * lw + (1 - r) * wlw);
    gamma[ISOPROPANOL] = exp(both + (1 - r) * apart);
    gamma[ETHANOL] = exp(both - r * apart);
}

static double stretch(double x) {
    if (fabs(x) < 0.5) {
        double s = x * x;
        return 1 - x / 2 + s * (1.0 / 12 - s * (1.0 / 720 - s * (1.0 / 30240 - s / 1209600)));
    }
    return x > 700 ? 0 : x / expm1(x);
}

static void set(Case *c) {
    double vapour = c->humidity * saturation(WATER, c->room);
    c->moles = c->flow * (c->pressure - vapour) / (GAS * c->room);
    c->ratio = vapour / (c->pressure - vapour);
    double heat = AIR_MOLE + c->ratio * VAPOUR[WATER];
    c->carries = c->moles * heat;
    c->damp_moles = c->moles * (1 + c->ratio);
    double alpha = 0.0263 * pow(c->warm / 300, 0.85) * GAS * c->warm / (c->pressure * AIR_MOLE);
    for (int i = 0; i < N; i++) {
        double reach = cbrt(VOLUMES[i]) + cbrt(20.1);
        double d = 1e-7 * pow(c->warm, 1.75) * sqrt(1e-3 / MOLAR[i] + 1e-3 / 0.02897) / (c->pressure / 101325 * reach * reach);
        double third = cbrt(d / alpha);
        c->open[i] = c->film / (heat / (1 + c->ratio)) * third * third;
    }
}

/* total returns the sum of the fluxes for a supposed sum, and fills them in. */
static double total(const Case *c, const double kappa[N], const double y[N], double sum, double flux[N]) {
    double out = fmax(c->damp_moles + sum, c->moles), got = 0;
    for (int i = 0; i < N; i++) {
        flux[i] = 0;
        if (kappa[i] <= 0) continue;
        double phi = sum / kappa[i], b = stretch(phi), brought = i == WATER ? c->moles * c->ratio : 0;
        flux[i] = kappa[i] * ((b + phi) * y[i] * out - b * brought) / (out + kappa[i] * b);
        got += flux[i];
    }
    return got;
}

static void exchange(const Case *c, const double kappa[N], const double y[N], double flux[N]) {
    double x0 = 0, f0 = total(c, kappa, y, 0, flux), x1 = f0;
    for (int k = 0; k < 12; k++) {
        double f1 = total(c, kappa, y, x1, flux) - x1;
        if (fabs(f1) <= 1e-11 * (fabs(x1) + 1e-12) || f1 == f0) break;
        double x2 = x1 - f1 * (x1 - x0) / (f1 - f0);
        x0 = x1, f0 = f1, x1 = x2;
    }
}

static int slope(realtype t, N_Vector state, N_Vector change, void *user) {
    (void)t;
    const Case *c = user;
    const double *s = NV_DATA_S(state);
    double *d = NV_DATA_S(change), a[N], x[N], gamma[N], over[N] = {0}, kappa[N] = {0}, flux[N] = {0};
    double left = 0, moles = 0, vapour = 0, k = fmin(fmax(c->warm + s[N], 230), 350);
    for (int i = 0; i < N; i++) {
        a[i] = fmax(s[i], 0);
        left += a[i];
        moles += x[i] = a[i] / MOLAR[i];
    }
    if (left > 0) {
        for (int i = 0; i < N; i++) x[i] /= moles;
        activity(x, k, gamma);
        for (int i = 0; i < N; i++) {
            if (x[i] > 0) over[i] = gamma[i] * x[i] * saturation(i, k) / c->pressure;
            vapour += over[i];
        }
        if (vapour > 0.95)
            for (int i = 0; i < N; i++) over[i] *= 0.95 / vapour;
        double share = left >= c->critical ? 1 : left / c->critical;
        for (int i = 0; i < N; i++)
            if (a[i] > 0 || (i == WATER && c->ratio > 0)) kappa[i] = c->open[i] * share;
        exchange(c, kappa, over, flux);
        if (c->no_uptake && flux[WATER] < 0) {
            kappa[WATER] = 0;
            exchange(c, kappa, over, flux);
        }
    }
    double carried = 0, capacity = c->solid;
    for (int i = 0; i < N; i++) carried += flux[i] * VAPOUR[i];
    double film = c->film * stretch(carried / c->film);
    double cell = (c->carries * c->warm + (film + carried) * k) / (c->carries + film + carried);
    double heat = film * (cell - k);
    for (int i = 0; i < N; i++) {
        d[i] = -flux[i] * MOLAR[i] / c->kept;
        heat -= flux[i] * LATENT25[i] * pow((1 - k / CRITICAL[i]) / (1 - 298.15 / CRITICAL[i]), watson[i]);
        capacity += a[i] * c->kept * LIQUID[i] / MOLAR[i];
    }
    d[N] = heat / capacity;
    return 0;
}

static int dry(realtype t, N_Vector state, realtype *out, void *user) {
    (void)t;
    const double *s = NV_DATA_S(state);
    out[0] = s[0] + s[1] + s[2] - ((Case *)user)->until;
    return 0;
}

static void must(int code, const char *what) {
    if (code >= 0) return;
    fprintf(stderr, "%s failed: %d\n", what, code);
    exit(1);
}

/* minutes solves one case from nothing, as an estimate does. */
static double minutes(Case *c, double tolerance, SUNContext context) {
    set(c);
    N_Vector y = N_VNew_Serial(N + 1, context), absolute = N_VNew_Serial(N + 1, context);
    for (int i = 0; i < N; i++) {
        NV_Ith_S(y, i) = c->w[i];
        NV_Ith_S(absolute, i) = tolerance * c->until;
    }
    NV_Ith_S(y, N) = c->room - c->warm;
    NV_Ith_S(absolute, N) = 30 * tolerance;
    void *solver = CVodeCreate(CV_BDF, context);
    SUNMatrix matrix = SUNDenseMatrix(N + 1, N + 1, context);
    SUNLinearSolver linear = SUNLinSol_Dense(y, matrix, context);
    must(CVodeInit(solver, slope, 0, y), "CVodeInit");
    must(CVodeSVtolerances(solver, tolerance, absolute), "CVodeSVtolerances");
    must(CVodeSetUserData(solver, c), "CVodeSetUserData");
    must(CVodeSetLinearSolver(solver, linear, matrix), "CVodeSetLinearSolver");
    must(CVodeRootInit(solver, 1, dry), "CVodeRootInit");
    must(CVodeSetMaxNumSteps(solver, 100000), "CVodeSetMaxNumSteps");
    realtype t = 0;
    int code = CVode(solver, 7 * 24 * 3600.0, y, &t, CV_NORMAL);
    must(code, "CVode");
    CVodeFree(&solver);
    SUNLinSolFree(linear);
    SUNMatDestroy(matrix);
    N_VDestroy(y);
    N_VDestroy(absolute);
    return code == CV_ROOT_RETURN ? t / 60 : NAN;
}

static double now(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return 1e6 * (double)t.tv_sec + 1e-3 * (double)t.tv_nsec;
}

int main(void) {
    enum { MOST = 1000 };
    static Case cases[MOST];
    static double took[MOST];
    double tolerance;
    int repeats, count = 0;
    SUNContext context;
    if (scanf("%lf %d", &tolerance, &repeats) != 2 || SUNContext_Create(NULL, &context) != 0) return 2;
    for (Case *c = cases; count < MOST; c = cases + ++count)
        if (scanf("%lf%lf%lf%lf%lf%lf%lf%lf%lf%lf%lf%lf%lf%d", &c->w[0], &c->w[1], &c->w[2], &c->kept, &c->room, &c->humidity,
                  &c->warm, &c->film, &c->flow, &c->until, &c->pressure, &c->critical, &c->solid, &c->twice) != 14)
            break;
    for (int i = 0; i < N; i++)
        watson[i] = log(LATENT_BOIL[i] / LATENT25[i]) / log((1 - BOILS[i] / CRITICAL[i]) / (1 - 298.15 / CRITICAL[i]));
    double began = now();
    for (int r = 0; r < repeats; r++)
        for (int i = 0; i < count; i++) {
            cases[i].no_uptake = 0;
            took[i] = minutes(&cases[i], tolerance, context);
            cases[i].no_uptake = 1;
            if (cases[i].twice) minutes(&cases[i], tolerance, context);
        }
    printf("%.6g\n", (now() - began) / repeats / count);
    for (int i = 0; i < count; i++) printf("%.12g\n", took[i]);
    SUNContext_Free(&context);
    return 0;
}

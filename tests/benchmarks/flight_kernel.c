/* The yardstick for tests/benchmarks/flight.py: a straightforward kernel, one ball after another.
 *
 * Fixed-step Runge-Kutta of order 4 on place and velocity, drag and lift by Stepanek 1988, the
 * landing by a cubic Hermite over the last step. Built by the benchmark with
 * gcc -O3 -march=native -shared -fPIC.
 */
#include <math.h>

static const double G = 9.80665;

static void rate(const double y[6], const double axis[3], double surface, double per_m,
                 double dy[6])
{
    const double u = y[3], v = y[4], w = y[5];
    const double speed = sqrt(u * u + v * v + w * w);
    double drag = 0.508, lift = 0.0;
    if (surface > 0.0) {
        const double ratio = speed / surface;
        drag += 1.0 / pow(22.503 + 4.196 * pow(ratio, 2.5), 0.4);
        lift = 1.0 / (2.022 + 0.981 * ratio);
    }
    const double d = per_m * speed * drag, l = per_m * speed * lift;
    dy[0] = u;
    dy[1] = v;
    dy[2] = w;
    dy[3] = -d * u + l * (axis[1] * w - axis[2] * v);
    dy[4] = -d * v + l * (axis[2] * u - axis[0] * w);
    dy[5] = -d * w + l * (axis[0] * v - axis[1] * u) - G;
}

static void rk4(double y[6], const double axis[3], double surface, double per_m, double h)
{
    double k1[6], k2[6], k3[6], k4[6], t[6];
    int i;
    rate(y, axis, surface, per_m, k1);
    for (i = 0; i < 6; i++) t[i] = y[i] + 0.5 * h * k1[i];
    rate(t, axis, surface, per_m, k2);
    for (i = 0; i < 6; i++) t[i] = y[i] + 0.5 * h * k2[i];
    rate(t, axis, surface, per_m, k3);
    for (i = 0; i < 6; i++) t[i] = y[i] + h * k3[i];
    rate(t, axis, surface, per_m, k4);
    for (i = 0; i < 6; i++) y[i] += h / 6.0 * (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i]);
}

/* start: n x 6 (place, velocity); spin: n x 4 (unit axis, surface speed); out: n x 3 (x, y, t) */
void land(long n, const double *start, const double *spin, const double *per_m, double radius,
          double h, double *out)
{
    for (long b = 0; b < n; b++) {
        double y[6], before[6], t = 0.0;
        const double *axis = spin + 4 * b;
        for (int i = 0; i < 6; i++) y[i] = start[6 * b + i];
        do {
            for (int i = 0; i < 6; i++) before[i] = y[i];
            rk4(y, axis, axis[3], per_m[b], h);
            t += h;
        } while (y[2] > radius && t < 60.0);
        double low = 0.0, high = 1.0, s = 0.5;
        const double z0 = before[2], z1 = y[2], m0 = h * before[5], m1 = h * y[5];
        for (int k = 0; k < 40; k++) {
            s = 0.5 * (low + high);
            const double z = z0 + s * (m0 + s * (3 * (z1 - z0) - 2 * m0 - m1 +
                             s * (2 * (z0 - z1) + m0 + m1)));
            if (z > radius) low = s; else high = s;
        }
        for (int i = 0; i < 2; i++) {
            const double p0 = before[i], p1 = y[i], d0 = h * before[3 + i], d1 = h * y[3 + i];
            out[3 * b + i] = p0 + s * (d0 + s * (3 * (p1 - p0) - 2 * d0 - d1 +
                             s * (2 * (p0 - p1) + d0 + d1)));
        }
        out[3 * b + 2] = t - h + s * h;
    }
}

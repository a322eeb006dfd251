/* One cubic in powers of its parameter, and what the kernels ask of it. */

#ifndef LIMNER_CUBIC_H
#define LIMNER_CUBIC_H

#include <math.h>
#include <stddef.h>

/* ((a t + b) t + c) t + d, for both coordinates. */
typedef struct {
    double ax, ay, bx, by, cx, cy, dx, dy;
} cubic;

/* From four control points x0 y0 x1 y1 x2 y2 x3 y3. */
static inline cubic cubic_of(const double *p)
{
    cubic curve = {
        p[6] - p[0] + 3.0 * (p[2] - p[4]), p[7] - p[1] + 3.0 * (p[3] - p[5]),
        3.0 * (p[0] - 2.0 * p[2] + p[4]), 3.0 * (p[1] - 2.0 * p[3] + p[5]),
        3.0 * (p[2] - p[0]), 3.0 * (p[3] - p[1]), p[0], p[1],
    };
    return curve;
}

/* Where a cubic is, seen from a point, and where it is going. */
typedef struct {
    double rx, ry, dx, dy;
} view;

static inline view seen_from(const cubic *c, double t, double x, double y)
{
    double qx = c->ax * t + c->bx, qy = c->ay * t + c->by;
    double hx = qx * t + c->cx, hy = qy * t + c->cy;
    view v = {
        hx * t + (c->dx - x), hy * t + (c->dy - y),
        (qx + c->ax * t) * t + hx, (qy + c->ay * t) * t + hy,
    };
    return v;
}

/* In two steps, which compilers turn into instructions without a branch; what is no number stays none. */
static inline double clamped(double value, double low, double high)
{
    value = value < low ? low : value;
    return value > high ? high : value;
}

/* Newton's step towards the foot of the point, held to `most` either way. Where the point lies near the centre of
 * curvature, or beyond, its second derivative is not what leads downhill: a share of the first stands in for it. */
static inline double foot_step(const cubic *c, const view *v, double t, double most)
{
    double ex = 6.0 * c->ax * t + 2.0 * c->bx, ey = 6.0 * c->ay * t + 2.0 * c->by;
    double speed2 = v->dx * v->dx + v->dy * v->dy;
    double bend = speed2 + v->rx * ex + v->ry * ey, least = 0.3 * speed2;
    bend = bend > least ? bend : least;
    return clamped((v->rx * v->dx + v->ry * v->dy) / (bend + 1e-300), -most, most);
}

#endif

/* Feet of points on cubics, followed by Newton steps from near ones.
 *
 * Limits: a foot is found from a near one only; a nearer place elsewhere is missed. */

#include "cubic.h"
#include "kernels.h"

/* Longest step of a foot, in parameters: Newton's may lead anywhere where the curve bends strongly. */
#define LONGEST_STEP 0.3

void follow_foot(const double *curves, const whole *before, const whole *after, const double *point, int steps,
                 whole *segment, double *t)
{
    cubic c = cubic_of(curves + 8 * *segment);
    for (int step = 0; step < steps; step++) {
        view v = seen_from(&c, *t, point[0], point[1]);
        *t -= foot_step(&c, &v, *t, LONGEST_STEP);
        int low = *t < 0.0;
        if (!low && !(*t > 1.0))
            continue;
        whole onward = low ? before[*segment] : after[*segment];
        *t = (onward >= 0) == low ? 1.0 : 0.0;
        if (onward >= 0) {
            *segment = onward;
            c = cubic_of(curves + 8 * onward);
        }
    }
}

void distance_at(const double *curve, const double *point, double t, double *normal, double *distance)
{
    cubic c = cubic_of(curve);
    view v = seen_from(&c, t, point[0], point[1]);
    double speed = 1.0 / (sqrt(v.dx * v.dx + v.dy * v.dy) + 1e-300);
    normal[0] = -v.dy * speed;
    normal[1] = v.dx * speed;
    if (t <= 0.0 || t >= 1.0) {
        /* At a segment's end the foot is no foot: the distance is that to the point itself. */
        double size = sqrt(v.rx * v.rx + v.ry * v.ry);
        if (size > 1e-300) {
            normal[0] = v.rx / size;
            normal[1] = v.ry / size;
        }
    }
    *distance = v.rx * normal[0] + v.ry * normal[1];
}

void nearest_on_path(const double *curves, whole count, int closed, const double *point, int steps, double *u,
                     double *squared)
{
    for (int step = 0; step < steps; step++) {
        if (!(*u >= 0.0)) /* not a number is no place, either */
            *u = 0.0;
        whole which = *u < (double)count ? (whole)*u : count - 1;
        if (which > count - 1)
            which = count - 1;
        double t = *u - (double)which;
        if (t > 1.0)
            t = 1.0;
        cubic c = cubic_of(curves + 8 * which);
        view v = seen_from(&c, t, point[0], point[1]);
        double here = v.rx * v.rx + v.ry * v.ry;
        if (here < *squared)
            *squared = here;
        *u -= foot_step(&c, &v, t, LONGEST_STEP);
        /* Once around a closed path, to the end of an open one; a step is shorter than any path. */
        if (*u < 0.0)
            *u = closed ? *u + (double)count : 0.0;
        if (*u >= (double)count)
            *u = closed ? *u - (double)count : (double)count;
    }
}

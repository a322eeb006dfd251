/* Corners of a polyline's samples: see curves/data/corners.py, whose steps these are, for the method. */

#include <stdlib.h>

#include "cubic.h"
#include "kernels.h"

#define DEGREES (180.0 / 3.14159265358979323846)

/* Arms are made shorter by so many tries at most, as what is rounded off grows. */
#define TRIES 3
/* A turn of less is none; an arm of fewer samples has no direction; fewer than the last have no bend either. */
#define LEAST_TURN 5.0
#define LEAST_ARM 3
#define LEAST_BENT 6

typedef struct {
    double x, y;
} point;

typedef struct {
    double turn, limit;
    whole index, skip, length;
} candidate;

static whole wrapped(const corner_task *task, whole i)
{
    if (!task->closed)
        return i;
    /* Rarely more than once around: quicker than a division. */
    while (i < 0)
        i += task->count;
    while (i >= task->count)
        i -= task->count;
    return i;
}

static point sample(const corner_task *task, whole i)
{
    const double *at = task->points + 2 * wrapped(task, i);
    point p = {at[0], at[1]};
    return p;
}

static double turn_between(point a, point b)
{
    return fabs(atan2(a.x * b.y - a.y * b.x, a.x * b.x + a.y * b.y)) * DEGREES;
}

/* Weights on samples skip .. skip + length - 1 for value and slope at zero of the least-squares line, or of the
 * quadratic. */
static void set_weights(whole skip, whole length, int bent, double *value, double *slope)
{
    double middle = (double)skip + 0.5 * (double)(length - 1), s0 = (double)length, s2 = 0.0, s4 = 0.0;
    for (whole k = 0; k < length; k++) {
        double b = (double)(skip + k) - middle, bb = b * b;
        s2 += bb;
        s4 += bb * bb;
    }
    double whole_ = s0 * s4 - s2 * s2;
    for (whole k = 0; k < length; k++) {
        double b = (double)(skip + k) - middle;
        double level = bent ? (s4 - s2 * b * b) / whole_ : 1.0 / s0;
        double tilt = b / s2, bend = bent ? (s0 * b * b - s2) / whole_ : 0.0;
        value[k] = level - middle * tilt + middle * middle * bend;
        slope[k] = tilt - 2.0 * middle * bend;
    }
}

/* The forward direction from an arm on one side of sample i, and the place that it gives for the sample. */
static point along_arm(const corner_task *task, whole i, int side, whole skip, whole length, const double *value,
                       const double *slope, point *place)
{
    point v = {0, 0}, s = {0, 0};
    for (whole k = 0; k < length; k++) {
        point p = sample(task, i + side * (skip + k));
        v.x += value[k] * p.x, v.y += value[k] * p.y;
        s.x += slope[k] * p.x, s.y += slope[k] * p.y;
    }
    *place = v;
    point forward = {side * s.x, side * s.y};
    return forward;
}

/* Samples to the nearest corner behind and ahead, given the indices of all. */
static void set_room(const corner_task *task, const whole *taken, whole many, whole i, whole room[2])
{
    whole n = task->count;
    room[0] = task->closed ? n : i;
    room[1] = task->closed ? n : n - 1 - i;
    for (whole k = 0; k < many; k++) {
        whole ahead = taken[k] - i, behind = -ahead;
        if (task->closed) {
            ahead += ahead < 0 ? n : 0;
            behind += behind < 0 ? n : 0;
        }
        if (ahead >= 0 && ahead < room[1])
            room[1] = ahead;
        if (behind >= 0 && behind < room[0])
            room[0] = behind;
    }
}

/* Whether an arm is straight to within the limit; then a place on it, and its direction from the sample on. */
static int straight_arm(const corner_task *task, whole i, int side, whole skip, whole length, double limit,
                        point *place, point *along)
{
    double x = 0.0, y = 0.0, xx = 0.0, xy = 0.0, yy = 0.0, share = 1.0 / (double)length, off = 0.0;
    point origin = sample(task, i + side * skip);
    for (whole k = 0; k < length; k++) {
        point p = sample(task, i + side * (skip + k));
        p.x -= origin.x, p.y -= origin.y;
        x += p.x, y += p.y, xx += p.x * p.x, xy += p.x * p.y, yy += p.y * p.y;
    }
    x *= share, y *= share;
    xx = xx * share - x * x, xy = xy * share - x * y, yy = yy * share - y * y;
    /* The root mean square distance is no more than the largest. */
    if (!(0.5 * (xx + yy - hypot(xx - yy, 2.0 * xy)) <= limit * limit))
        return 0;
    double angle = 0.5 * atan2(2.0 * xy, xx - yy), c = cos(angle), s = sin(angle);
    for (whole k = 0; k < length; k++) {
        point p = sample(task, i + side * (skip + k));
        double away = fabs(c * (p.y - origin.y - y) - s * (p.x - origin.x - x));
        if (away > off)
            off = away;
    }
    if (!(off <= limit))
        return 0;
    point last = sample(task, i + side * (skip + length - 1));
    double onward = (last.x - origin.x) * c + (last.y - origin.y) * s;
    double sign = onward > 0.0 ? side : onward < 0.0 ? -side : 0.0;
    place->x = origin.x + x, place->y = origin.y + y;
    along->x = sign * c, along->y = sign * s;
    return 1;
}

/* Place and forward direction at sample i, from the arm on one side: straight, and as long as it can be, where the
 * curve is; else a short quadratic. */
static point seen_along(const corner_task *task, whole i, int side, whole skip, whole length, whole room,
                        double *weights, point *place)
{
    const corner_rules *rules = task->rules;
    double limit = rules->long_arm_straight * task->tolerance[i];
    for (int k = 0; k < LONG_ARMS; k++) {
        whole longer = (whole)nearbyint(rules->long_arms[k] * (double)length);
        if (longer > room - skip)
            longer = room - skip;
        point along;
        if (longer < 2 * (whole)rules->fewest_in_arm || longer <= length)
            continue;
        if (straight_arm(task, i, side, skip, longer, limit, place, &along))
            return along;
    }
    set_weights(skip, length, length >= LEAST_BENT, weights, weights + length);
    return along_arm(task, i, side, skip, length, weights, weights + length, place);
}

/* The corner at the sample nearest to its tip, the tip not too far from the data. */
static void placed(const corner_task *task, whole i, point tip, double turn, whole skip, corner *made)
{
    whole best = i;
    double nearest = INFINITY;
    /* Sides that run back on themselves meet nowhere. */
    if (!isfinite(tip.x) || !isfinite(tip.y))
        tip = sample(task, i);
    for (whole k = i - 2 * skip; k <= i + 2 * skip; k++) {
        if (!task->closed && (k < 0 || k >= task->count))
            continue;
        point p = sample(task, k);
        double distance = hypot(tip.x - p.x, tip.y - p.y);
        if (distance < nearest) {
            nearest = distance;
            best = wrapped(task, k);
        }
    }
    point p = sample(task, best);
    double share = task->rules->farthest_tip * task->tolerance[best] / (nearest > 1e-300 ? nearest : 1e-300);
    if (share > 1.0)
        share = 1.0;
    made->index = (double)best;
    made->x = p.x + share * (tip.x - p.x);
    made->y = p.y + share * (tip.y - p.y);
    made->turn = turn;
    made->rounded = (double)skip;
}

/* The corner at sample i, seen along arms within the room; what is rounded grows with its turn. */
static int measured(const corner_task *task, whole i, whole skip, whole length, const whole room[2],
                    double *weights, corner *made)
{
    const corner_rules *rules = task->rules;
    double round_for = fmax(rules->rounded_tolerances * task->tolerance[i], rules->rounded_spacings * task->spacing)
        / task->step;
    whole least = room[0] < room[1] ? room[0] : room[1];
    point tip = {0, 0};
    double turn = 0.0;
    for (int k = 0; k < TRIES; k++) {
        point place[2], along[2];
        if ((length < least - skip ? length : least - skip) < LEAST_ARM)
            return 0;
        for (int side = 0; side < 2; side++) {
            whole size = length < room[side] - skip ? length : room[side] - skip;
            along[side] = seen_along(task, i, side ? 1 : -1, skip, size, room[side], weights, place + side);
        }
        turn = turn_between(along[0], along[1]);
        if (turn < LEAST_TURN)
            return 0;
        double cross = along[0].x * along[1].y - along[0].y * along[1].x;
        double gap_x = place[1].x - place[0].x, gap_y = place[1].y - place[0].y;
        double share = (gap_x * along[1].y - gap_y * along[1].x) / cross;
        tip.x = place[0].x + along[0].x * share;
        tip.y = place[0].y + along[0].y * share;
        /* A sharper corner is blurred farther along its arms. */
        double inner = fmax(sin((180.0 - turn) / DEGREES / 2.0), 0.25);
        whole wider = (whole)nearbyint(round_for * fmax(0.707 / inner, 1.0));
        if (wider > least - 4)
            wider = least - 4;
        if (wider <= skip)
            break;
        skip = wider;
    }
    placed(task, i, tip, turn, skip, made);
    return 1;
}

static int stronger_first(const void *a, const void *b)
{
    const candidate *one = a, *other = b;
    if (one->turn != other->turn)
        return one->turn > other->turn ? -1 : 1;
    if (one->index != other->index)
        return one->index < other->index ? -1 : 1;
    return one->length > other->length ? -1 : one->length < other->length;
}

/* Whether no turn within the window is larger than that of sample i. */
static int is_peak(const corner_task *task, const double *turn, whole i, whole window)
{
    for (whole k = i - window; k <= i + window; k++) {
        if (!task->closed && (k < 0 || k >= task->count))
            continue;
        if (turn[wrapped(task, k)] > turn[i])
            return 0;
    }
    return 1;
}

/* Local maxima of the turn as seen with arms of one length. */
static whole find_peaks(const corner_task *task, int arm, double *turn, double *weights, candidate *found)
{
    const corner_rules *rules = task->rules;
    double tolerance = task->typical, step = task->step, spacing = task->spacing;
    whole n = task->count, many = 0;
    whole skip = (whole)nearbyint(fmax(rules->arms[3 * arm] * tolerance, rules->blur_spacings * spacing) / step);
    whole length =
        (whole)nearbyint(fmax(rules->arms[3 * arm + 1] * tolerance, rules->spacings_per_arm * spacing) / step);
    if (skip < 1)
        skip = 1;
    if (length < 4)
        length = 4;
    whole reach = skip + length;
    if (reach * 3 > n)
        return 0;
    set_weights(skip, length, 1, weights, weights + length);
    double spread = 0.0;
    for (whole k = 0; k < length; k++)
        spread += weights[length + k] * weights[length + k];
    spread = sqrt(spread) * sqrt(fmax(spacing / step, 1.0) * 2.0);
    double limit = fmax(rules->arms[3 * arm + 2], rules->sure_sigmas * DEGREES * spread * task->noise / step);
    for (whole i = 0; i < n; i++) {
        turn[i] = 0.0;
        if (!task->closed && (i < reach || i >= n - reach))
            continue;
        point place;
        point before = along_arm(task, i, -1, skip, length, weights, weights + length, &place);
        point after = along_arm(task, i, 1, skip, length, weights, weights + length, &place);
        turn[i] = turn_between(before, after);
    }
    whole window = reach / 2 > 1 ? reach / 2 : 1;
    for (whole i = 0; i < n; i++)
        if (turn[i] > limit && is_peak(task, turn, i, window)) {
            candidate c = {turn[i], limit, i, skip, length};
            found[many++] = c;
        }
    return many;
}

whole find_corners(const corner_task *task, corner *made)
{
    size_t n = (size_t)task->count;
    double *turn = malloc(sizeof(double) * 5 * n + (sizeof(candidate) + sizeof(whole)) * ARMS * n);
    if (!turn)
        return -1;
    double *weights = turn + n;
    candidate *found = (candidate *)(weights + 4 * n);
    whole *taken = (whole *)(found + ARMS * n);
    whole candidates = 0, many = 0;
    for (int arm = 0; arm < ARMS; arm++)
        candidates += find_peaks(task, arm, turn, weights, found + candidates);
    qsort(found, (size_t)candidates, sizeof *found, stronger_first);
    /* The strongest first; the others must hold with arms that end where one taken before lies. */
    for (whole k = 0; k < candidates; k++) {
        const candidate *c = found + k;
        whole room[2];
        set_room(task, taken, many, c->index, room);
        if (room[0] <= task->apart || room[1] <= task->apart)
            continue;
        if (!measured(task, c->index, c->skip, c->length, room, weights, made + many))
            continue;
        if (made[many].turn < c->limit)
            continue;
        whole index = (whole)made[many].index;
        set_room(task, taken, many, index, room);
        if (room[0] > task->apart && room[1] > task->apart)
            taken[many++] = index;
    }
    free(turn);
    return many;
}

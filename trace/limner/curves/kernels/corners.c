/* Corners of a polyline's samples: see curves/data/corners.py for the method. */

#include <stdlib.h>

#include "cubic.h"
#include "kernels.h"

#define DEGREES (180.0 / 3.14159265358979323846)

/* Arms as what is left out and length, in tolerances, with the turn in degrees that counts. A right angle rounded by
 * a radius of 2.4 tolerances lies one tolerance inside the sharp one; what is left out covers most of it. */
#define ARMS 2
static const struct {
    double skip, length, turn;
} arms[ARMS] = {{1.5, 6.0, 26.0}, {1.2, 3.0, 40.0}};
/* Blur rounds corners off over about this many data spacings, however small the tolerance. */
#define BLUR_SPACINGS 1.5
/* Fewest samples in an arm, in data spacings: a quadratic through fewer follows the noise. */
#define SPACINGS_PER_ARM 5.0
/* ... and in samples: fewer hold no arm that leaves noise out, however coarse they are. */
#define SHORTEST_ARM 4
/* A tip is found from arms that begin this many tolerances, or data spacings, away: a right angle rounded to lie one
 * tolerance inside the sharp one is round for 2.4 tolerances, one blurred by a pixel for 2.4. */
#define ROUNDED_TOLERANCES 2.2
#define ROUNDED_SPACINGS 2.6
/* Straight arms may be longer by these factors, longest first; straight to within this share of the tolerance. */
#define LONG_ARMS 3
static const double long_arms[LONG_ARMS] = {12.0, 5.0, 2.0};
#define LONG_ARM_STRAIGHT 0.3
#define FEWEST_IN_LONG_ARM 8
/* Noise moves an arm's direction; a turn must exceed this many of its standard deviations. */
#define SURE_SIGMAS 4.0
/* A tip is drawn out no farther than this share of the tolerance from the data. */
#define FARTHEST_TIP 0.85
/* Corners closer than this many tolerances, data spacings or samples are one. */
#define APART_TOLERANCES 2.0
#define APART_SPACINGS 3.0
#define APART_SAMPLES 2
/* Arms are made shorter by so many tries at most, as what is rounded off grows. */
#define TRIES 3
/* A turn of less is none, degrees; an arm of fewer samples has no direction; fewer than the last have no bend
 * either. */
#define LEAST_TURN 5.0
#define LEAST_ARM 3
#define LEAST_BENT 6

typedef struct {
    double x, y;
} point;

/* A row of what is given back. */
typedef struct {
    double index, x, y, turn, rounded;
} corner;

typedef struct {
    double turn, limit;
    whole index, skip, length;
} candidate;

static whole wrapped(const find_corners_arguments *task, whole i)
{
    if (!task->closed)
        return i;
    /* Rarely more than once around: quicker than a division. */
    while (i < 0)
        i += task->rows[SAMPLES];
    while (i >= task->rows[SAMPLES])
        i -= task->rows[SAMPLES];
    return i;
}

static point sample(const find_corners_arguments *task, whole i)
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
static point along_arm(const find_corners_arguments *task, whole i, int side, whole skip, whole length, const double *value,
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
static void set_room(const find_corners_arguments *task, const whole *taken, whole many, whole i, whole room[2])
{
    whole n = task->rows[SAMPLES];
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
static int straight_arm(const find_corners_arguments *task, whole i, int side, whole skip, whole length, double limit,
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
static point seen_along(const find_corners_arguments *task, whole i, int side, whole skip, whole length, whole room,
                        double *weights, point *place)
{
    double limit = LONG_ARM_STRAIGHT * task->tolerance[i];
    for (int k = 0; k < LONG_ARMS; k++) {
        whole longer = (whole)nearbyint(long_arms[k] * (double)length);
        if (longer > room - skip)
            longer = room - skip;
        point along;
        if (longer < FEWEST_IN_LONG_ARM || longer <= length)
            continue;
        if (straight_arm(task, i, side, skip, longer, limit, place, &along))
            return along;
    }
    set_weights(skip, length, length >= LEAST_BENT, weights, weights + length);
    return along_arm(task, i, side, skip, length, weights, weights + length, place);
}

/* The corner at the sample nearest to its tip, the tip not too far from the data. */
static void placed(const find_corners_arguments *task, whole i, point tip, double turn, whole skip, corner *made)
{
    whole best = i;
    double nearest = INFINITY;
    /* Sides that run back on themselves meet nowhere. */
    if (!isfinite(tip.x) || !isfinite(tip.y))
        tip = sample(task, i);
    for (whole k = i - 2 * skip; k <= i + 2 * skip; k++) {
        if (!task->closed && (k < 0 || k >= task->rows[SAMPLES]))
            continue;
        point p = sample(task, k);
        double distance = hypot(tip.x - p.x, tip.y - p.y);
        if (distance < nearest) {
            nearest = distance;
            best = wrapped(task, k);
        }
    }
    point p = sample(task, best);
    double share = FARTHEST_TIP * task->tolerance[best] / (nearest > 1e-300 ? nearest : 1e-300);
    if (share > 1.0)
        share = 1.0;
    made->index = (double)best;
    made->x = p.x + share * (tip.x - p.x);
    made->y = p.y + share * (tip.y - p.y);
    made->turn = turn;
    made->rounded = (double)skip;
}

/* The corner at sample i, seen along arms within the room; what is rounded grows with its turn. */
static int measured(const find_corners_arguments *task, whole i, whole skip, whole length, const whole room[2],
                    double *weights, corner *made)
{
    double round_for =
        fmax(ROUNDED_TOLERANCES * task->tolerance[i], ROUNDED_SPACINGS * task->spacing) / task->step;
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
static int is_peak(const find_corners_arguments *task, const double *turn, whole i, whole window)
{
    for (whole k = i - window; k <= i + window; k++) {
        if (!task->closed && (k < 0 || k >= task->rows[SAMPLES]))
            continue;
        if (turn[wrapped(task, k)] > turn[i])
            return 0;
    }
    return 1;
}

/* Local maxima of the turn as seen with arms of one length. */
static whole find_peaks(const find_corners_arguments *task, int arm, double *turn, double *weights, candidate *found)
{
    double tolerance = task->typical, step = task->step, spacing = task->spacing;
    whole n = task->rows[SAMPLES], many = 0;
    whole skip = (whole)nearbyint(fmax(arms[arm].skip * tolerance, BLUR_SPACINGS * spacing) / step);
    whole length = (whole)nearbyint(fmax(arms[arm].length * tolerance, SPACINGS_PER_ARM * spacing) / step);
    if (skip < 1)
        skip = 1;
    if (length < SHORTEST_ARM)
        length = SHORTEST_ARM;
    whole reach = skip + length;
    if (reach * 3 > n)
        return 0;
    set_weights(skip, length, 1, weights, weights + length);
    double spread = 0.0;
    for (whole k = 0; k < length; k++)
        spread += weights[length + k] * weights[length + k];
    spread = sqrt(spread) * sqrt(fmax(spacing / step, 1.0) * 2.0);
    double limit = fmax(arms[arm].turn, SURE_SIGMAS * DEGREES * spread * task->noise / step);
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

whole corners_of(const find_corners_arguments *task)
{
    /* As accepted ones are apart, the rows of all samples have room for them and for one more. */
    corner *made = (corner *)task->corners;
    double between = fmax(APART_TOLERANCES * task->typical, APART_SPACINGS * task->spacing);
    whole apart = (whole)nearbyint(between / task->step);
    if (apart < APART_SAMPLES)
        apart = APART_SAMPLES;
    size_t n = (size_t)task->rows[SAMPLES];
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
        if (room[0] <= apart || room[1] <= apart)
            continue;
        if (!measured(task, c->index, c->skip, c->length, room, weights, made + many))
            continue;
        if (made[many].turn < c->limit)
            continue;
        whole index = (whole)made[many].index;
        set_room(task, taken, many, index, room);
        if (room[0] > apart && room[1] > apart)
            taken[many++] = index;
    }
    free(turn);
    return many;
}
